"""Profiles across an edge: 10-90 % widths and where the middle is crossed, straight between the points."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

_LEAST_RISE = 0.03
"""Of white: what rises less from its first to its last point is no edge."""


def profile_widths(profiles: NDArray, middles: NDArray) -> NDArray:
    """Return the 10-90 % width of each row of `profiles`, in points; NaN where a crossing is missing.

    Parameters:
        profiles : (edges, points) values at equal distances
        middles : (edges,) where the edge is expected, in points; of several 50 % crossings the nearest counts
    """
    points = np.arange(profiles.shape[1])
    low, high = profiles[:, :1], profiles[:, -1:]
    size = high - low
    size = np.where(np.abs(size) < _LEAST_RISE, np.nan, size)
    level = (profiles - low) / size
    crossing = (level[:, :-1] < 0.5) & (level[:, 1:] >= 0.5)
    distance = np.where(crossing, np.abs(points[:-1] + 0.5 - middles[:, None]), np.inf)
    at = np.argmin(distance, axis=1)
    begin = _last_at_or_before(level <= 0.1, at)
    end = _first_after(level >= 0.9, at)
    found = np.isfinite(np.min(distance, axis=1)) & (begin >= 0) & (end < profiles.shape[1])
    widths = np.full(len(profiles), np.nan)
    rows = np.nonzero(found)[0]
    left = _between(level, rows, begin[rows], 0.1)
    right = _between(level, rows, end[rows] - 1, 0.9)
    widths[rows] = right - left
    return widths


def half_crossings(profiles: NDArray, middles: NDArray) -> NDArray:
    """Return where each row of `profiles`, from 0 to 1, crosses 1/2 upwards, in points; NaN where it does
    not.

    Parameters:  as `profile_widths`
    """
    crossing = (profiles[:, :-1] < 0.5) & (profiles[:, 1:] >= 0.5)
    rise = np.where(crossing, profiles[:, 1:] - profiles[:, :-1], 1.0)
    places = np.where(crossing, np.arange(profiles.shape[1] - 1) + (0.5 - profiles[:, :-1]) / rise, np.inf)
    at = np.argmin(np.abs(places - middles[:, None]), axis=1)
    found: NDArray = places[np.arange(len(places)), at]
    return np.where(np.isfinite(found), found, np.nan)


def _last_at_or_before(mask: NDArray, at: NDArray) -> NDArray:
    points = np.arange(mask.shape[1])
    return np.where(mask & (points <= at[:, None]), points, -1).max(axis=1)


def _first_after(mask: NDArray, at: NDArray) -> NDArray:
    points = np.arange(mask.shape[1])
    return np.where(mask & (points > at[:, None]), points, mask.shape[1]).min(axis=1)


def _between(level: NDArray, rows: NDArray, left: NDArray, share: float) -> NDArray:
    a, b = level[rows, left], level[rows, left + 1]
    return left + (share - a) / np.where(b == a, 1.0, b - a)
