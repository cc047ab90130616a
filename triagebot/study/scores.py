"""How well stated probabilities match what was true."""

import numpy as np
from numpy.typing import ArrayLike

from triagebot.identify.information import Array


def brier(probability: ArrayLike, outcome: ArrayLike) -> float:
    """Mean squared difference between probabilities and outcomes 0 or 1, same shapes (Brier 1950); nan when empty."""
    p, y = np.asarray(probability, float), np.asarray(outcome, float)
    return float(np.mean((p - y) ** 2)) if p.size else float("nan")


def _gaps(probability: ArrayLike, outcome: ArrayLike, bins: int) -> tuple[Array, Array]:
    p, y = np.asarray(probability, float), np.asarray(outcome, float)
    place = np.clip(np.ceil(p * bins).astype(int) - 1, 0, bins - 1)
    weight = np.bincount(place, minlength=bins) / max(p.size, 1)
    filled = np.maximum(np.bincount(place, minlength=bins), 1)
    gap = np.abs(np.bincount(place, p, bins) - np.bincount(place, y, bins)) / filled
    return weight, gap


def expected_calibration_error(probability: ArrayLike, outcome: ArrayLike, bins: int = 10) -> float:
    """Mean over equal-width bins, by weight, of |mean probability - share that came true| (L1 form, Naeini 2015)."""
    weight, gap = _gaps(probability, outcome, bins)
    return float(weight @ gap)


def largest_calibration_error(probability: ArrayLike, outcome: ArrayLike, bins: int = 10) -> float:
    """The largest gap over bins that hold anything."""
    weight, gap = _gaps(probability, outcome, bins)
    return float(gap[weight > 0].max(initial=0.0))
