"""A table for each question: the likelihood of the readings so far, and of every answer that may come next.

Every table has the same two methods. `likelihood(readings)` has shape (f,): what the readings of this question say
of each fastening. `answers(readings)` has shape (f, a): P(next answer | fastening, readings so far), each row summing
to 1; "unsure" is left out, it is the same for every fastening.
A repeated question is not new evidence alone: with probability `repeat` the person says again what they said before.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import prod

import numpy as np

from triagebot.identify.information import Array, Flags
from triagebot.identify.noise import SizeNoise, bound_probability, normal_tail, size_density
from triagebot.identify.readings import BoundReading, ChoiceReading, CountReading, Reading, SizeReading

# Gauss-Hermite quadrature with nine nodes (Abramowitz and Stegun 1964, table 25.10, for a standard normal), spelt out:
# the library's polynomials, which compute it, cost every start 9 ms and a megabyte.
_HALF = (
    (1.0232556637891326, 0.24409750289493953), (2.07684797867783, 0.04991640676521782),
    (3.20542900285647, 0.0027891413212317692), (4.512745863399783, 2.2345844007746607e-05),
)  # fmt: skip
_NODES = np.array([*(-node for node, _ in reversed(_HALF)), 0.0, *(node for node, _ in _HALF)])
_WEIGHTS = np.array([*(part for _, part in reversed(_HALF)), 0.40634920634920635, *(part for _, part in _HALF)])
_RANGE_NODES = 31
_BIN = 1.0


@dataclass(frozen=True)
class ListTable:
    """Choices and counts: `labels` are the possible answers, `rows` (f, a) their probabilities given the fastening.

    `truth` (f, t) is how often each answer is the true one, `confusion` (t, a) what people then say. Answers to a
    question asked again are about the same wheel: independent given its true answer, not given its fastening.
    """

    question: str
    labels: tuple[str, ...] | tuple[int, ...]
    rows: Array
    repeat: float
    truth: Array
    confusion: Array

    def _columns(self, reading: Reading) -> tuple[list[int], bool] | None:
        if isinstance(reading, ChoiceReading) and reading.choice in self.labels:
            return [self.labels.index(reading.choice)], reading.denied
        if isinstance(reading, CountReading):
            inside = (isinstance(n, int) and reading.low <= n <= reading.high for n in self.labels)
            return [i for i, within in enumerate(inside) if within], False
        return None

    def _given_truth(self, readings: Sequence[Reading]) -> Array:
        """P(readings | true answer), shape (t,)."""
        result: Array = np.ones(len(self.confusion))
        before: list[Reading] = []
        for reading in readings:
            found = self._columns(reading)
            if found is None or not found[0]:
                continue
            columns, denied = found
            fresh = self.confusion[:, columns].sum(axis=1)
            if denied:
                fresh = 1 - fresh
            if before:
                said_again = 1.0 if reading == before[-1] else 0.0
                fresh = self.repeat * said_again + (1 - self.repeat) * fresh
            result = result * np.maximum(fresh, 1e-12)
            before.append(reading)
        return result

    def likelihood(self, readings: Sequence[Reading]) -> Array:
        result: Array = self.truth @ self._given_truth(readings)
        return result

    def answers(self, readings: Sequence[Reading]) -> Array:
        if not readings:
            return self.rows
        given = self._given_truth(readings)
        fresh: Array = self.truth @ (given[:, None] * self.confusion)
        again = self._said_again(readings)
        fresh *= ((1.0 if again is None else 1 - self.repeat) / (self.truth @ given))[:, None]
        if again is not None:
            fresh += self.repeat * again
        return fresh

    def _said_again(self, readings: Sequence[Reading]) -> Array | None:
        """Where the answer falls of who says the same again; None where nothing that was said names an answer."""
        for reading in reversed(readings):
            found = self._columns(reading)
            if found is not None and found[0] and not found[1]:
                again = np.zeros(self.rows.shape[1])
                again[found[0]] = 1 / len(found[0])
                return again
        return None


@dataclass(frozen=True)
class SizeTable:
    """Lengths: true sizes `low`..`high` mm uniform, or `low` = `high` with standard uncertainty `tolerance` mm.

    A fastening whose size says nothing (`open_size`) gets the gross density throughout. Readings by the same means
    share their bias and the fitting's own deviation, integrated by Gauss-Hermite; different means are independent.
    """

    question: str
    low: Array
    high: Array
    tolerance: Array
    open_size: Flags
    noise: SizeNoise
    repeat: float
    rows: Array

    def bin_of(self, mm: float) -> int:
        """The place in `rows` of a length in mm; the first or last where it lies outside the span."""
        place = int((mm - self.noise.span[0]) / _BIN)
        return min(max(place, 0), len(self.rows[0]) - 1)

    def likelihood(self, readings: Sequence[Reading]) -> Array:
        result = np.ones(len(self.low))
        lengths = [r for r in readings if isinstance(r, SizeReading | BoundReading)]
        for means in dict.fromkeys(r.means for r in lengths):
            result = result * self._group([r for r in lengths if r.means == means])
        return result

    def _group(self, readings: Sequence[SizeReading | BoundReading]) -> Array:
        readings = tuple(dict.fromkeys(readings))  # the same words again tell nothing new
        bias, scatter = self.noise.spread(readings[0].means)
        shared = np.sqrt(self.tolerance**2 + bias**2)
        y = self.low[:, None] + shared[:, None] * _NODES
        product = np.ones_like(y) * _WEIGHTS
        product = self._times(product, y, np.full((len(y), 1), scatter), readings)
        result: Array = product.sum(axis=1)
        ranged = self.high > self.low
        if ranged.any():
            low, high = self.low[ranged, None], self.high[ranged, None]
            step = (high - low) / _RANGE_NODES
            y = low + step * (np.arange(_RANGE_NODES) + 0.5)
            smooth = np.sqrt(scatter**2 + bias**2 + step**2 / 12)
            product = self._times(np.full_like(y, 1 / _RANGE_NODES), y, smooth, readings)
            result[ranged] = product.sum(axis=1)
        if self.open_size.any():
            result[self.open_size] = prod(_flat(reading, self.noise.span) for reading in readings)
        return result

    def _times(self, product: Array, y: Array, scatter: Array, readings: Sequence[SizeReading | BoundReading]) -> Array:
        for reading in readings:
            if isinstance(reading, SizeReading):
                spread = np.sqrt(scatter**2 + reading.half_width**2 / 3)
                product = product * size_density(reading.mm, y, spread, self.noise)
            else:
                product = product * bound_probability(reading.low, reading.high, y, scatter, self.noise)
        return product

    def answers(self, readings: Sequence[Reading]) -> Array:
        """P(next length falls in each whole-mm bin of the span), measured by "unknown" means."""
        for reading in reversed(readings):
            if isinstance(reading, SizeReading):
                again = np.zeros(self.rows.shape[1])
                again[self.bin_of(reading.mm)] = 1
                return self.repeat * again + (1 - self.repeat) * self.rows
        return self.rows


def _flat(reading: SizeReading | BoundReading, span: tuple[float, float]) -> float:
    """Density (1/mm) of a length, or chance of a bound, where the true size may be anything on `span` mm."""
    bottom, top = span
    if isinstance(reading, SizeReading):
        return 1 / (top - bottom)
    low = bottom if reading.low is None else max(reading.low, bottom)
    high = top if reading.high is None else min(reading.high, top)
    return max((high - low) / (top - bottom), 0.01)


def size_table(
    question: str, low: Array, high: Array, tolerance: Array, open_size: Flags, noise: SizeNoise, repeat: float
) -> SizeTable:
    """Build a size table; its `rows` are computed once. Shapes (f,), mm."""
    edges = np.arange(noise.span[0], noise.span[1] + _BIN / 2, _BIN)
    deviation = noise.means.get("unknown", max(noise.means.values()))
    spread = np.sqrt(tolerance**2 + deviation**2)[:, None]
    ranged = (high > low)[:, None]
    below = np.where(
        ranged,
        np.clip((edges - low[:, None]) / np.maximum(high - low, 1e-9)[:, None], 0, 1),
        normal_tail((edges - low[:, None]) / spread),
    )
    below[:, 0], below[:, -1] = 0, 1  # lengths outside the span count at its ends
    rows = np.diff(below)
    rows[open_size] = 1.0
    rows = rows / rows.sum(axis=1, keepdims=True)
    rows = (1 - noise.gross) * rows + noise.gross / rows.shape[1]
    return SizeTable(question, low, high, tolerance, open_size, noise, repeat, rows)


Table = ListTable | SizeTable
