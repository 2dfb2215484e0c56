"""Sums over rows or columns of a picture, a few at a time."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_PLAIN = 8
"""Rows up to which `reduceat` adds the first to the sum of the others, singly: beyond, it sums in pairs."""


def rows_summed(values: NDArray, count: int) -> NDArray:
    """Return the sums of `count` rows each, (rows / count, columns), of the same dtype.

    As `np.add.reduceat` has them to the last bit, and many times as quick: it goes down the columns.
    """
    if count > _PLAIN:
        return np.asarray(np.add.reduceat(values, np.arange(0, values.shape[0], count), axis=0))
    parts = values.reshape(-1, count, values.shape[1])
    if count == 1:
        return parts[:, 0].copy()
    total: NDArray = parts[:, 1].copy()
    for k in range(2, count):
        total += parts[:, k]
    total += parts[:, 0]
    return total


def columns_summed(values: NDArray, count: int) -> NDArray:
    """Return the sums of `count` columns each, (rows, columns / count), as NumPy's `sum` has them of few."""
    if count >= _PLAIN:
        return np.asarray(values.reshape(len(values), -1, count).sum(axis=2))
    total: NDArray = values[:, ::count].copy()
    for k in range(1, count):
        total += values[:, k::count]
    return total
