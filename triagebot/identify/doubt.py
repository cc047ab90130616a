"""When readings contradict each other: which of them is the odd one out."""

from collections.abc import Sequence

import numpy as np

from triagebot.identify.model import Model, belief
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading

#: A reading is doubted when, given all the others, fewer than this share of answers would be as rare as it is.
SUSPICIOUS = 0.12


def rarity(model: Model, readings: Sequence[Reading], question: str) -> float:
    """P(an answer as improbable as the one given, or more so | all readings of other questions), 0..1.

    A tail probability over the answers of the question's table, so that choices, counts and sizes compare.
    1.0 where the question has no table or no reading that says anything.
    """
    table = model.tables.get(question)
    own = [r for r in readings if r.question == question and not isinstance(r, UnsureReading)]
    if table is None or not own:
        return 1.0
    shares = belief(model, [r for r in readings if r.question != question])
    chances = shares @ table.answers([])
    given = shares @ _answer_columns(model, own[-1], chances)
    return float(chances[chances <= given * (1 + 1e-9)].sum())


def _answer_columns(model: Model, reading: Reading, chances: np.ndarray) -> np.ndarray:  # type: ignore[type-arg]
    table = model.tables[reading.question]
    fresh = table.answers([])
    labels = getattr(table, "labels", None)
    if isinstance(reading, ChoiceReading) and labels is not None:
        column: np.ndarray = fresh[:, list(labels).index(reading.choice)]  # type: ignore[type-arg]
        return column
    if isinstance(reading, CountReading) and labels is not None:
        inside = [i for i, n in enumerate(labels) if reading.low <= int(n) <= reading.high]
        return fresh[:, inside].max(axis=1) if inside else np.zeros(len(fresh))
    if isinstance(reading, SizeReading) and labels is None:
        low = table.noise.span[0]  # type: ignore[union-attr]
        place = min(max(int(reading.mm - low), 0), fresh.shape[1] - 1)
        return fresh[:, place]
    return np.full(len(fresh), float(chances.max()))


def odd_one_out(model: Model, readings: Sequence[Reading]) -> str | None:
    """The question whose reading fits the others worst, if it is suspicious; None where all fit together."""
    asked = dict.fromkeys(r.question for r in readings if not isinstance(r, UnsureReading | BoundReading))
    ranked = sorted((rarity(model, readings, question), question) for question in asked)
    if len(ranked) > 1 and ranked[0][0] < SUSPICIOUS:
        return ranked[0][1]
    return None
