"""When to stop and with what: the losses of every way out, and the one that loses least.

Decided here and nowhere else:
- a remover is given only if that loses least AND nothing else keeps `plausible` or more: no other remover, turned
  either way, not the same remover turned the other way, and no person's case; a look-alike that a try by hand rules out
  without harm may keep `by_hand`;
- two removers may be named together, with the check that separates them, under the same rule for all the rest;
- otherwise a person looks.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from triagebot.identify.information import Array, Flags, Places, surprise
from triagebot.identify.model import Model

Kind = Literal["answer", "look-alike", "person"]


@dataclass(frozen=True, slots=True)
class Decision:
    """A way out, the remedies that it names (places in `Model.remedies`), and its expected loss."""

    kind: Kind
    remedies: tuple[int, ...]
    loss: float


@dataclass(frozen=True)
class _Ways:
    """Losses of the three ways out for each column of masses, and the two likeliest remedies there."""

    answer: Array
    look_alike: Array
    person: Array
    first: Places
    second: Places


def _ways(model: Model, sums: Array) -> _Ways:
    """`sums` (r, a): masses by remedy, not normalised; each column's losses are scaled by its sum. Spoilt by this."""
    losses = model.losses
    total = sums.sum(axis=0)
    none, real = sums[-1], sums[:-1]
    columns = np.arange(sums.shape[1])
    first, best = _largest(real)
    removers = np.add.reduceat(real, model.remover_starts, axis=0)
    real[first, columns] = -1.0
    second, runner = _largest(real)
    runner = np.maximum(runner, 0.0)
    real[second, columns] = -1.0
    third = np.maximum(real.max(axis=0), 0.0)
    removers[model.remover_of[first], columns] = 0.0
    real[second, columns] = runner
    for one, other in model.by_hand_pairs:
        where = columns[first == one]
        real[other, where] *= model.plausible / model.by_hand
        removers[model.remover_of[other], where] *= model.plausible / model.by_hand
    rival = np.maximum(removers.max(axis=0), real.max(axis=0))
    removers[model.remover_of[second], columns] = 0.0
    third_rival = removers.max(axis=0)
    limit = model.plausible * total

    def allowed(loss: Array, others: Array) -> Array:
        clear: Flags = others < limit
        result: Array = np.where(clear, loss, np.inf)
        return result

    return _Ways(
        answer=allowed(losses.wrong * (total - best), np.maximum(rival, none)),
        look_alike=allowed(
            losses.look_alike * (best + runner) + losses.wrong * (total - best - runner),
            np.maximum.reduce([third, third_rival, none]),
        ),
        person=losses.person * (total - none),
        first=first,
        second=second,
    )


def _largest(masses: Array) -> tuple[Places, Array]:
    """Where each column of `masses` is largest, the first of equals, and how large; twice as fast as `argmax` alone."""
    most = masses.max(axis=0)
    return (masses == most).argmax(axis=0), most


class Prospect(NamedTuple):
    """Two losses for each column of masses, times the column's sum, both of shape (a,).

    `stopping`: of the best way out now. `ahead`: of going on well, which is the best way out now or settling the doubt
    at `losses.bit` for each bit of entropy over remedies, a stand-in for the value of playing on (Bellman).
    `decision`: the best way out of the first column.
    """

    stopping: Array
    ahead: Array
    decision: Decision


def prospect(model: Model, sums: Array) -> Prospect:
    """What each column of `sums` (r, a), masses by remedy, will cost. Spoilt by this."""
    doubt = model.losses.bit * surprise(sums)
    ways = _ways(model, sums)
    stopping = np.minimum(np.minimum(ways.answer, ways.look_alike), ways.person)
    return Prospect(stopping, np.minimum(stopping, doubt), _first_decision(ways))


def decide(model: Model, shares: Array) -> Decision:
    """The best way out for a belief `shares`, shape (f,)."""
    return _first_decision(_ways(model, model.by_remedy(shares[:, None])))


def _first_decision(ways: _Ways) -> Decision:
    first, second = int(ways.first[0]), int(ways.second[0])
    options: list[Decision] = [
        Decision("answer", (first,), float(ways.answer[0])),
        Decision("look-alike", (first, second), float(ways.look_alike[0])),
        Decision("person", (), float(ways.person[0])),
    ]
    return min(options, key=lambda option: option.loss)
