"""The step of an instrument, from the readings it gave: what lies within one step it cannot tell.

A stop watch or a logger steps by a round number of milliseconds; a camera by the time between two of its
pictures, 4.167 ms at 240 a second.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FINEST_MS = 0.001
WIDEST_MS = 5.0
"""Values that stand further apart than this may be levels: they are steps only where they are whole multiples
of their distance, as pictures of a camera are."""
_MOST = 20_000
_DIGITS = (5.0, 4.0, 2.5, 2.0, 1.0)
_EVEN = 0.02
"""Of a step: how far from whole steps readings of an uneven one may lie, which were rounded when written."""
_MOSTLY = 0.95
_REPEATED = 3.0
"""Readings for each value at least: so seldom do readings fall on few values by themselves."""


def step_of(lags: NDArray) -> float:
    """Return the step in which lag was read, ms: the largest that fits, round or even; 0.001 for none.

    Parameters:  lags : (n,) ms
    """
    some = np.round(lags[:_MOST], 6)
    values = np.unique(some)
    gaps = np.diff(values)
    gaps = gaps[gaps > 1e-6]
    if not len(gaps):
        return FINEST_MS
    return max(_round_step(gaps), _even_step(values, len(some)))


def on_two_steps(lags: NDArray, step: float) -> bool:
    """Tell whether all but a few readings lie on one step, or on two that are neighbours."""
    _, many = np.unique(np.round(lags / step), return_counts=True)
    places = np.unique(np.round(lags / step))
    beside = np.append(np.diff(places) == 1, False)
    pairs = many + np.where(beside, np.append(many[1:], 0), 0)
    return bool(pairs.max() >= _MOSTLY * len(lags))


def _round_step(gaps: NDArray) -> float:
    """Return the largest of 1, 2, 2.5, 4, 5 x 10^k that fits all gaps between values."""
    for power in range(2, -5, -1):
        for digit in _DIGITS:
            step = digit * 10.0**power
            whole = np.abs(gaps / step - np.round(gaps / step)) < 0.01
            if step <= 1.001 * float(gaps.min()) and whole.mean() > 0.99:
                return float(step)
    return FINEST_MS


def _even_step(values: NDArray, count: int) -> float:
    """Return the step of values that stand evenly apart, whatever it is; 0 for none."""
    if count < _REPEATED * len(values):
        return 0.0
    since = values - values[0]
    step = float(np.diff(values).min())
    for _ in range(3):  # refined over all values, as written ones are rounded
        whole = np.round(since / step)
        step = float(whole @ since) / float(whole @ whole)
    off = np.abs(since - whole * step)
    if float(off.max()) > _EVEN * step:
        return 0.0
    first = float(values[0]) / step
    return step if step <= WIDEST_MS or abs(first - round(first)) <= _EVEN else 0.0
