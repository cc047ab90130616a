"""Which reading is the odd one out when readings contradict each other."""

from collections.abc import Sequence

from triagebot.identify.information import Array
from triagebot.identify.model import Model, belief
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading, UnsureReading
from triagebot.identify.remembered import remembered
from triagebot.identify.tables import ListTable, Table

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
    given = _chance(table, own[-1], chances)
    if given is None:
        return 1.0
    if isinstance(own[-1], ChoiceReading) and own[-1].denied:  # two answers only: this one, or any other
        return 1 - given if given > 0.5 else 1.0
    return float(chances[chances <= given * (1 + 1e-9)].sum())


def _chance(table: Table, reading: Reading, chances: Array) -> float | None:
    """Of `chances`, shape (a,), the one of the answer named; None where a reading names none of the table's answers."""
    if isinstance(table, ListTable):
        if isinstance(reading, ChoiceReading) and reading.choice in table.labels:
            return float(chances[table.labels.index(reading.choice)])
        if isinstance(reading, CountReading):
            inside = [isinstance(n, int) and reading.low <= n <= reading.high for n in table.labels]
            return float(chances[inside].max()) if any(inside) else 0.0
    elif isinstance(reading, SizeReading):
        return float(chances[table.bin_of(reading.mm)])
    return None


@remembered
def odd_one_out(model: Model, readings: Sequence[Reading]) -> str | None:
    """The question whose reading fits the others worst, if it is suspicious; None where all fit together."""
    asked = dict.fromkeys(r.question for r in readings if not isinstance(r, UnsureReading | BoundReading))
    ranked = sorted((rarity(model, readings, question), question) for question in asked)
    if len(ranked) > 1 and ranked[0][0] < SUSPICIOUS:
        return ranked[0][1]
    return None
