"""Which question next: the one whose answer is worth most for its price, or none.

A question is asked only if it pays: the loss of stopping falls by more than its price, or the loss to come, with that
price added, falls below the loss of stopping now. So a question that cannot change the outcome is never asked.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from triagebot.identify.decision import Decision, prospect
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
class Worth:
    """What asking `question` is expected to save: `at_once` of the loss of stopping, `in_time` of the loss to come, and
    the larger of the two for each effort of its price."""

    question: str
    at_once: float
    in_time: float
    an_effort: float


@dataclass(frozen=True, slots=True)
class Plan:
    """What to do next: ask `question`, or stop with `decision`. `ahead` is the loss to come."""

    question: str | None
    decision: Decision
    shares: Array
    ahead: float
    worth: tuple[Worth, ...]


@remembered
def plan(model: Model, readings: Sequence[Reading], candidates: Sequence[Candidate]) -> Plan:
    """Plan one step ahead on the loss to come (`Prospect.ahead`); ties go to the earlier candidate."""
    shares = belief(model, readings)
    able = [candidate for candidate in candidates if candidate.question in model.tables]
    weights = shares[:, None]
    blocks = [model.by_remedy(weights)]  # nothing asked
    for candidate in able:
        told = [r for r in readings if r.question == candidate.question]
        blocks.append(model.by_remedy(weights * model.tables[candidate.question].answers(told)))
    starts = np.cumsum([0, *(block.shape[1] for block in blocks[:-1])])
    *losses, decision = prospect(model, np.concatenate(blocks, axis=1))
    (_, *stopping), (now, *ahead) = (np.add.reduceat(loss, starts).tolist() for loss in losses)
    best: Worth | None = None
    worth: list[Worth] = []
    for candidate, stop, go in zip(able, stopping, ahead, strict=True):
        sure, price = 1 - candidate.unsure, candidate.price
        at_once, in_time = sure * (decision.loss - stop), sure * (now - go)
        asking = Worth(candidate.question, at_once, in_time, max(at_once, in_time) / price)
        worth.append(asking)
        pays = at_once >= price or (in_time >= _WORTH * price and now - in_time + price < decision.loss)
        if pays and (best is None or asking.an_effort > best.an_effort):
            best = asking
    return Plan(best.question if best else None, decision, shares, now, tuple(worth))
