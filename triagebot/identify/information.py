"""Doubt, in bits.

Masses are joint probabilities, one row a hypothesis and one column a possible answer, not normalised: a column sums
to the probability of its answer. Working on masses saves a division and makes an expected loss a plain sum.
"""

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
