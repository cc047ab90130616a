"""When to stop and with what: the losses of every way out, and the one that is least.

Decided here and nowhere else:
- a remover is given only if that loses least AND nothing else keeps `plausible` or more: no other remover, turned
  whichever way, not the same remover turned the other way, and no person's case;
- two removers may be named together, with the check that separates them, under the same rule for all the rest;
- otherwise a person looks.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from triagebot.identify.information import Array, Flags, surprise
from triagebot.identify.model import Model

Kind = Literal["answer", "look-alike", "person"]


@dataclass(frozen=True, slots=True)
class Decision:
    """A way out and the remedies that it names (places in `Model.remedies`), with its expected loss."""

    kind: Kind
    remedies: tuple[int, ...]
    loss: float


@dataclass(frozen=True)
class _Ways:
    """Losses of the three ways out for each column of masses, and the two best remedies there."""

    answer: Array
    look_alike: Array
    person: Array
    first: Array
    second: Array


def _ways(model: Model, masses: Array) -> _Ways:
    """`masses` (f, a), not normalised: each column's losses are scaled by its sum."""
    losses = model.losses
    sums = model.by_remedy(masses)
    total = sums.sum(axis=0)
    none, real = sums[-1], sums[:-1].copy()
    columns = np.arange(sums.shape[1])
    first = real.argmax(axis=0)
    best = real[first, columns]
    real[first, columns] = -1.0
    second = real.argmax(axis=0)
    runner = np.maximum(real[second, columns], 0.0)
    real[second, columns] = -1.0
    third = np.maximum(real.max(axis=0), 0.0)
    removers = np.add.reduceat(sums[:-1], model.remover_starts, axis=0)
    removers[model.remover_of[first], columns] = 0.0
    rival = removers.max(axis=0)
    removers[model.remover_of[second], columns] = 0.0
    third_rival = removers.max(axis=0)
    limit = model.plausible * total

    def allowed(loss: Array, others: Array) -> Array:
        clear: Flags = others < limit
        result: Array = np.where(clear, loss, np.inf)
        return result

    return _Ways(
        answer=allowed(losses.wrong * (total - best), np.maximum.reduce([runner, rival, none])),
        look_alike=allowed(
            losses.look_alike * (best + runner) + losses.wrong * (total - best - runner),
            np.maximum.reduce([third, third_rival, none]),
        ),
        person=losses.person * (total - none),
        first=first,
        second=second,
    )


def stopping_risk(model: Model, masses: Array) -> Array:
    """The loss of the best way out for each column of masses (f, a), times the column's sum: shape (a,)."""
    ways = _ways(model, masses)
    result: Array = np.minimum(np.minimum(ways.answer, ways.look_alike), ways.person)
    return result


def prospect(model: Model, masses: Array) -> Array:
    """The loss to come if the conversation goes on well: the best way out now, or settling the doubt at its price.

    A stand-in for the value of playing on (Bellman): each bit of doubt about the remedy costs `losses.bit`.
    """
    going_on: Array = model.losses.bit * surprise(model.by_remedy(masses))
    result: Array = np.minimum(stopping_risk(model, masses), going_on)
    return result


def decide(model: Model, shares: Array) -> Decision:
    """The best way out for a belief `shares`, shape (f,)."""
    ways = _ways(model, shares[:, None])
    first, second = int(ways.first[0]), int(ways.second[0])
    options: list[Decision] = [
        Decision("answer", (first,), float(ways.answer[0])),
        Decision("look-alike", (first, second), float(ways.look_alike[0])),
        Decision("person", (), float(ways.person[0])),
    ]
    return min(options, key=lambda option: option.loss)
