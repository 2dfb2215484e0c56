"""A curve that repeats: a picture moved by a whole number of scan lines is split alike again."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

_ALIKE = 0.1
"""Share of a curve's range by which repeats may differ: other lines of the frame are cut off."""
_APART = 0.5
"""Share of its range by which a curve must have changed before it can come back."""


def repeat_of(costs: Sequence[float], tie: float) -> int | None:
    """Return after how many steps a curve repeats; None when it does not within half of it.

    Parameters:
        costs : at evenly spaced values, NaN for none
        tie : a difference that says nothing
    """
    curve = np.asarray(costs, float)
    known = np.isfinite(curve)
    if known.sum() < 4:
        return None
    span = float(curve[known].max() - curve[known].min())
    if span <= 2 * tie:
        return None
    limit, best, left = max(2 * tie, _ALIKE * span), None, False
    for steps in range(1, len(curve) // 2 + 1):
        apart = _apart(curve, steps)
        if not len(apart):
            return None
        left = left or bool(apart.max() > _APART * span)
        if left and apart.max() <= limit:
            if best is None or apart.mean() < best[1]:
                best = (steps, float(apart.mean()))
        elif best is not None:
            break
    return None if best is None else best[0]


def _apart(curve: NDArray, steps: int) -> NDArray:
    apart = np.abs(curve[steps:] - curve[:-steps])
    return apart[np.isfinite(apart)]
