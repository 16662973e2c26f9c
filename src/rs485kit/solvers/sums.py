"""Sums by index: what many small contributions add up to, by sorting once."""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Values: TypeAlias = NDArray[Any]
Indices: TypeAlias = NDArray[np.intp]


def summed(index: Indices, values: Values, size: int) -> Values:
    """Return values added up by index along the first axis.

    Parameters
    ----------
    index : array of int, shape (m,)
        Where each value goes [-].
    values : array, shape (m, ...)
        The values [any].
    size : int
        Length of the result [-].

    Returns
    -------
    array, shape (size, ...)
        The sums [any].
    """
    result = np.zeros((size, *values.shape[1:]), dtype=np.result_type(values, np.float64))
    if len(index):
        order = np.argsort(index, kind="stable")
        ordered = index[order]
        starts = np.flatnonzero(np.r_[True, ordered[1:] != ordered[:-1]])
        result[ordered[starts]] = np.add.reduceat(values[order], starts, axis=0)
    return result
