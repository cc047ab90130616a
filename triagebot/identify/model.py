"""A topic as numbers: everything that belief, decision and planning need, without any wording.

Fastenings are held sorted by remedy and remedies by remover, so that sums over either are sums over a slice. A remedy
is a remover turned one way. The last remedy is "none": a person must look at what is not listed or has no remover.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from triagebot.identify.information import Array, Places
from triagebot.identify.readings import Reading
from triagebot.identify.remembered import remembered
from triagebot.identify.tables import Table


@dataclass(frozen=True, slots=True)
class Remedy:
    """A remover and the way it turns; `remover` is None where a person must look."""

    remover: str | None
    direction: str = "none"


@dataclass(frozen=True, slots=True)
class Losses:
    """What each way out costs, in easy questions, and what settling one bit of doubt costs on the way there."""

    wrong: float
    person: float
    look_alike: float
    again: float
    bit: float


@dataclass(frozen=True, eq=False)
class Model:
    """`prior` and every table row follow `fastenings`; `starts` holds where each of `remedies` begins.

    `by_hand_pairs`: of which remedies (places) a try of the first by hand rules out the second without harm, which may
    then keep up to `by_hand` where the first is named.
    """

    fastenings: tuple[str, ...]
    remedies: tuple[Remedy, ...]
    starts: Places
    prior: Array
    tables: Mapping[str, Table]
    prices: Mapping[str, float]
    losses: Losses
    plausible: float
    by_hand: float = 1.0
    by_hand_pairs: tuple[tuple[int, int], ...] = ()

    @cached_property
    def remover_of(self) -> Places:
        """Which remover each remedy but the last turns, numbered in order of first appearance."""
        removers = list(dict.fromkeys(remedy.remover for remedy in self.remedies[:-1]))
        return np.array([removers.index(remedy.remover) for remedy in self.remedies[:-1]], dtype=np.intp)

    @cached_property
    def remover_starts(self) -> Places:
        """Where each remover begins among the remedies; those of one remover stand together."""
        return np.searchsorted(self.remover_of, np.arange(int(self.remover_of.max()) + 1))

    def by_remedy(self, masses: Array) -> Array:
        """Sum `masses` (f, …) over the fastenings of each remedy: shape (r, …)."""
        summed: Array = np.add.reduceat(masses, self.starts, axis=0)
        return summed

    def remedy_of(self, fastening: str) -> int:
        """Which of `remedies` a fastening needs."""
        place = self.fastenings.index(fastening)
        return int(np.searchsorted(self.starts, place, side="right")) - 1


@remembered
def belief(model: Model, readings: Sequence[Reading]) -> Array:
    """P(fastening | readings), shape (f,): a product of likelihoods over questions, in logs (naive Bayes).

    Readings of questions that the model has no table for say nothing. Never raises on readings; sums to 1.
    """
    logs = np.log(model.prior)
    grouped: dict[str, list[Reading]] = {}
    for reading in readings:
        grouped.setdefault(reading.question, []).append(reading)
    for question, group in grouped.items():
        if question in model.tables:
            logs = logs + _weight(model, group)
    shifted = np.exp(logs - logs.max())
    result: Array = shifted / shifted.sum()
    result.flags.writeable = False
    return result


@remembered
def _weight(model: Model, group: Sequence[Reading]) -> Array:
    """log P(readings of one question | fastening), shape (f,): the same in all the beliefs that one turn asks for."""
    result: Array = np.log(model.tables[group[0].question].likelihood(group))
    result.flags.writeable = False
    return result
