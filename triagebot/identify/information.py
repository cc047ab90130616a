"""Measures of doubt and the worth of asking, for any finite set of hypotheses.

Masses are joint probabilities, one row a hypothesis and one column a possible answer, not normalised: a column sums
to the probability of its answer. Working on masses saves a division and makes an expected loss a plain sum.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]


def surprise(masses: Array) -> Array:
    """Entropy in bits of each column of `masses` (hypotheses x answers), times the column's sum: shape (answers,).

    Shannon 1948, H = -sum p log2 p; for a column that sums to 1 this is the entropy itself.
    """
    total = masses.sum(axis=0)
    inner = np.zeros_like(masses)
    np.log2(masses, out=inner, where=masses > 0)
    outer = np.zeros_like(total)
    np.log2(total, out=outer, where=total > 0)
    result: Array = total * outer - np.einsum("ij,ij->j", masses, inner)
    return np.maximum(result, 0.0)


def information_gain(belief: Array, rows: Array) -> float:
    """Mutual information in bits of hypotheses (`belief`, shape (h,)) and answers (`rows`, P(answer | h), (h, a))."""
    masses = belief[:, None] * rows
    return float(surprise(belief[:, None])[0] - surprise(masses).sum())


def separating_power(rows: Array, belief: Array | None = None) -> float:
    """The best-character criterion: information gain of a question when all hypotheses are alike likely."""
    share = np.full(len(rows), 1.0 / len(rows)) if belief is None else belief
    return information_gain(share, rows)


def risk_of(losses: Array) -> Callable[[Array], Array]:
    """The risk of the best action, as a function of masses, for a loss matrix (actions x hypotheses)."""

    def risk(masses: Array) -> Array:
        best: Array = (losses @ masses).min(axis=0)
        return best

    return risk


def expected_risk(belief: Array, rows: Array, risk: Callable[[Array], Array]) -> float:
    """Expected risk of the best action once the answer is known (preposterior analysis; Raiffa and Schlaifer 1961)."""
    return float(risk(belief[:, None] * rows).sum())


def value_of_asking(belief: Array, rows: Array, risk: Callable[[Array], Array]) -> float:
    """How far the expected risk falls by asking; never below 0 for a risk that is a minimum over linear losses."""
    return float(risk(belief[:, None])[0]) - expected_risk(belief, rows, risk)
