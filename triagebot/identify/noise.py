"""How people err when they choose, count and measure: the likelihood of an answer given the truth.

This file holds the shape of every likelihood; its rates are data (the topic's flow file).
"""

from dataclasses import dataclass
from functools import lru_cache
from math import erf, sqrt

import numpy as np

from triagebot.identify.information import Array

#: Slips of unit or of dimension: the number given, as a multiple of the true diameter (mm): read in cm, in mm of a cm
#: scale, in inches, as inches that were mm, and a radius for a diameter.
UNIT_SLIPS = (0.1, 10.0, 1 / 25.4, 25.4, 0.5)
#: Up to so many things are seen at a glance; what remains of the slips at the ends of their circle (a judgement).
FEW, FEW_SHARE = 4, 0.15
#: No reading is impossible: the floor of a size's density, a mm.
DENSITY_FLOOR = 1e-7


@dataclass(frozen=True, slots=True)
class SizeNoise:
    """How lengths go wrong. `bias`: share of the standard deviation that repeats by the same means; `gross`: chance of
    a length that has nothing to do with the fitting, uniform on `span` mm; `unit`: chance of a slip of unit or radius.
    """

    gross: float
    span: tuple[float, float]
    unit: float
    bias: float
    means: dict[str, float]

    def spread(self, means: str) -> tuple[float, float]:
        """(bias, scatter) in mm of one reading by these means: they add in squares to its standard deviation."""
        deviation = self.means.get(means) or max(self.means.values())
        return self.bias * deviation, sqrt(1 - self.bias**2) * deviation


def choice_rows(truth: Array, slip: float) -> Array:
    """P(answer | fastening) for a choice: `truth` (f, c) mixed with a slip to any other choice alike. Shape (f, c)."""
    choices = truth.shape[1]
    confusion = np.full((choices, choices), slip / (choices - 1))
    np.fill_diagonal(confusion, 1 - slip)
    rows: Array = truth @ confusion
    return rows


@lru_cache(maxsize=512)
def count_row(n: int, least: int, most: int, miss: float, ends: float, arbitrary: float) -> tuple[float, ...]:
    """P(counted = least..most | n there are).

    Each item is missed or doubled with probability `miss` each, so that a run without such a slip has probability
    (1 - 2 miss)^n; the start and end of the circle add ±1 with probability `ends`; with probability `arbitrary` any
    number comes out. Model of facts on counting rings: an assumption, never zero. Up to `FEW` things are counted
    almost without error (Exp Brain Res doi 10.1007/s00221-010-2319-y), so their ends are met `FEW_SHARE` as badly.
    """
    ends *= FEW_SHARE if n <= FEW else 1.0
    sums = np.array([1.0])
    for _ in range(n):
        sums = np.convolve(sums, (miss, 1 - 2 * miss, miss))
    sums = np.convolve(sums, (ends / 2, 1 - ends, ends / 2))  # sums[k] is P(counted = k - 1)
    counted = np.zeros(most + 1)
    top = min(len(sums) - 1, most + 1)
    counted[:top] = sums[1 : top + 1]
    kept = counted[least:]
    kept = kept / kept.sum()
    return tuple((1 - arbitrary) * kept + arbitrary / len(kept))


def count_rows(truth: Array, least: int, miss: float, ends: float, arbitrary: float) -> Array:
    """P(counted | fastening), shape (f, n): `truth` (f, n) is the distribution of the true number, least..least+n-1."""
    most = least + truth.shape[1] - 1
    confusion = np.array([count_row(n, least, most, miss, ends, arbitrary) for n in range(least, most + 1)])
    rows: Array = truth @ confusion
    return rows


def normal_density(x: Array, spread: Array | float) -> Array:
    """Density (1/mm) at x mm of a normal distribution about 0 with standard deviation `spread` mm, elementwise."""
    result: Array = np.exp(-0.5 * (x / spread) ** 2) / (np.sqrt(2 * np.pi) * spread)
    return result


_erf = np.frompyfunc(erf, 1, 1)


def normal_tail(z: Array) -> Array:
    """Φ(z), elementwise."""
    result: Array = 0.5 * (1 + np.asarray(_erf(z / sqrt(2)), dtype=float))
    return result


def size_density(x: float, y: Array, scatter: Array | float, noise: SizeNoise) -> Array:
    """Density (1/mm) of reading x mm where truth and bias together are y mm; `scatter` mm is what does not repeat."""
    low, high = noise.span
    gross = noise.gross / (high - low) if x >= low else 0.0  # too large says no more than gross
    density = (1 - noise.gross - noise.unit) * normal_density(x - y, scatter) + gross + DENSITY_FLOOR
    for factor in UNIT_SLIPS:
        density += noise.unit / len(UNIT_SLIPS) * normal_density(x - factor * y, factor * scatter)
    return density


def bound_probability(
    low: float | None, high: float | None, y: Array, scatter: Array | float, noise: SizeNoise
) -> Array:
    """P(the person says "at least low" / "at most high" mm | y mm): a normal tail mixed with a gross error."""
    bottom, top = noise.span
    probability = np.ones_like(y)
    if low is not None:
        share = min(max((top - low) / (top - bottom), 0.0), 1.0)
        probability = probability * ((1 - noise.gross) * normal_tail((y - low) / scatter) + noise.gross * share)
    if high is not None:
        share = min(max((high - bottom) / (top - bottom), 0.0), 1.0)
        probability = probability * ((1 - noise.gross) * normal_tail((high - y) / scatter) + noise.gross * share)
    return np.maximum(probability, DENSITY_FLOOR)
