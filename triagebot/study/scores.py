"""How well stated probabilities match what was true."""

import numpy as np
from numpy.typing import ArrayLike


def brier(probability: ArrayLike, outcome: ArrayLike) -> float:
    """Mean squared difference between probabilities and outcomes 0 or 1, same shapes (Brier 1950); nan when empty."""
    p, y = np.asarray(probability, float), np.asarray(outcome, float)
    return float(np.mean((p - y) ** 2)) if p.size else float("nan")


def expected_calibration_error(probability: ArrayLike, outcome: ArrayLike, bins: int = 10) -> float:
    """Mean over equal-width bins, by weight, of |mean probability - share that came true| (L1 form, Naeini 2015)."""
    p, y = np.asarray(probability, float), np.asarray(outcome, float)
    place = np.clip(np.ceil(p * bins).astype(int) - 1, 0, bins - 1)
    return float(np.abs(np.bincount(place, p - y)).sum() / max(p.size, 1))
