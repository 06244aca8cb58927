"""Sums by code, in the order of the rows."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitoring.estimators.table import Floats, Ints

DENSE = 30_000_000  # key ranges up to here are indexed by marking, beyond by sorting


def summed(codes: Ints, values: ArrayLike, length: int) -> Floats:
    """Sum of `values` for every code from 0 to `length` − 1."""
    total = np.bincount(codes, weights=np.asarray(values, dtype=float), minlength=length)
    return total.astype(float, copy=False)


def distinct(keys: Ints) -> tuple[Ints, NDArray[np.intp]]:
    """Distinct keys in ascending order, and the position of each key among them.

    >>> found, where = distinct(np.array([7, 2, 7]))
    >>> found.tolist(), where.tolist()
    ([2, 7], [1, 0, 1])
    """
    size = int(keys.max(initial=-1)) + 1
    if size > DENSE:
        return np.unique(keys, return_inverse=True)
    present = np.zeros(size, bool)
    present[keys] = True
    return np.flatnonzero(present), (np.cumsum(present) - 1)[keys]
