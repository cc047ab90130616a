"""Doubt, in bits.

Masses are joint probabilities, one row a hypothesis and one column a possible answer, not normalised: a column sums
to the probability of its answer. Working on masses saves a division and makes an expected loss a plain sum.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Places = NDArray[np.intp]


#: In place of zero, whose logarithm is not needed: it is multiplied by zero.
_TINY = 1e-300


def surprise(masses: Array) -> Array:
    """Entropy in bits of each column of `masses` (hypotheses x answers), times the column's sum: shape (answers,).

    Shannon 1948, H = -sum p log2 p; for a column that sums to 1 this is the entropy itself.
    """
    total = masses.sum(axis=0)
    inner = np.log2(np.maximum(masses, _TINY))
    outer = np.log2(np.maximum(total, _TINY))
    result: Array = total * outer - np.einsum("ij,ij->j", masses, inner)
    return np.maximum(result, 0.0)
