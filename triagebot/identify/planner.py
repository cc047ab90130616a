"""Which question next: the one whose answer is worth most for its price, or none.

Decided here: a question is asked only if the loss to come, its price included, falls below the loss of stopping now;
and only if it teaches something, so that a question that cannot change the outcome is never asked.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triagebot.identify.decision import Decision, decide, prospect, stopping_risk
from triagebot.identify.information import Array
from triagebot.identify.model import Model, belief
from triagebot.identify.readings import Reading
from triagebot.identify.remembered import remembered

#: A question must be worth at least this share of its price in doubt settled.
_WORTH = 0.1


@dataclass(frozen=True, slots=True)
class Candidate:
    """A question that could be asked now. `price`: its effort, with that of any question that must come first;
    `unsure`: how likely it is that this person will not know."""

    question: str
    price: float
    unsure: float = 0.0


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do next: ask `question`, or stop with `decision`. `worth`: loss saved an effort, a candidate."""

    question: str | None
    decision: Decision
    shares: Array
    worth: tuple[tuple[str, float], ...]


@remembered
def plan(model: Model, readings: Sequence[Reading], candidates: Sequence[Candidate]) -> Plan:
    """Plan one step ahead on the loss to come (`prospect`); ties go to the earlier candidate."""
    shares = belief(model, readings)
    decision = decide(model, shares)
    able = [candidate for candidate in candidates if candidate.question in model.tables]
    if not able:
        return Plan(None, decision, shares, ())
    blocks = [
        model.tables[candidate.question].answers([r for r in readings if r.question == candidate.question])
        for candidate in able
    ]
    widths = [block.shape[1] for block in blocks]
    after = shares[:, None] * np.concatenate(blocks, axis=1)
    starts = np.cumsum([0, *widths[:-1]])
    stopping, going = stopping_risk(model, after), prospect(model, after)
    expected_stop, expected_going = np.add.reduceat(stopping, starts), np.add.reduceat(going, starts)
    now = float(prospect(model, shares[:, None])[0])
    best: tuple[float, str] | None = None
    worth: list[tuple[str, float]] = []
    for candidate, stop, go in zip(able, expected_stop, expected_going, strict=True):
        sure = 1 - candidate.unsure
        at_once, in_time = sure * (decision.loss - float(stop)), sure * (now - float(go))
        fall = max(at_once, in_time)
        worth.append((candidate.question, fall / candidate.price))
        pays_at_once = at_once >= candidate.price
        pays_in_time = in_time >= _WORTH * candidate.price and now - in_time + candidate.price < decision.loss
        if (pays_at_once or pays_in_time) and (best is None or fall / candidate.price > best[0]):
            best = (fall / candidate.price, candidate.question)
    return Plan(best[1] if best else None, decision, shares, tuple(worth))
