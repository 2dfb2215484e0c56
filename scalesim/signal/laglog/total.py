"""The lag of boxes in series: sums of lags that know nothing of each other, and lags that beat together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

CELL_MS = 0.05
_MOST_CELLS = 400_000


def independent(logs: list[NDArray]) -> tuple[NDArray, NDArray]:
    """Return the distribution of the sum of lags that know nothing of each other: (ms, cumulative share).

    Parameters:  logs : (n,) ms of each box
    The distributions are convolved on a grid of `CELL_MS`; each reading is shared between its two cells, so
    that the mean is exact.
    """
    cell = CELL_MS
    span = sum(float(lags.max() - lags.min()) for lags in logs)
    cell = max(cell, span / _MOST_CELLS)
    from scipy.signal import fftconvolve

    whole, begin = np.ones(1), 0.0
    for lags in logs:
        low = float(lags.min())
        place = (lags - low) / cell
        first = np.floor(place).astype(np.int64)
        part = place - first
        count = int(first.max()) + 2
        shares = np.bincount(first, 1 - part, count) + np.bincount(first + 1, part, count)
        whole = np.clip(fftconvolve(whole, shares / len(lags)), 0, None)
        begin += low
    cumulative = np.cumsum(whole)
    return begin + cell * np.arange(len(whole)), cumulative / cumulative[-1]


def quantiles(places: NDArray, cumulative: NDArray, shares: tuple[float, ...]) -> list[float]:
    """Return where a distribution reaches each share, ms."""
    index = np.searchsorted(cumulative, np.asarray(shares) - 1e-12)
    return [float(places[min(int(k), len(places) - 1)]) for k in index]


def beat_locked(first: float, second: float, error: float, together: float) -> bool:
    """Tell whether two drifts are equal and opposite, within twice their error or 2 %: one beat.

    Parameters:  first, second : drifts; error : of their sum; together : the larger of both
    """
    return abs(first + second) <= max(2 * error, 0.02 * together)
