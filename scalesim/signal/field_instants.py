"""Whether the two fields of a frame show one instant or two, from what moves."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.field_offset import MOVED

ONE_INSTANT, TWO_INSTANTS = 0.42, 1.2
"""Ratio of misfits below which whole pictures were sent, and above which fields of two instants were."""
_LEAST_MOVED = 0.005
"""Share of the picture that must move before its fields' instants can be told."""


def instants(gray: Sequence[NDArray]) -> tuple[float, float] | None:
    """Return how much better the lines between follow from their own frame than from two frames, in motion.

    Squares, where the top fields change: the bottom field of a frame against what lies between the lines of
    its own top field, over the same against the mean of that and the next frame's; and over the bottom field
    against the mean of both top fields line by line, which is one picture a field on the same lines. Both
    are well below 1 for whole pictures, above 1 for fields of two instants; motion up or down by a line or
    two a frame makes them alike. None where too little moves.

    Parameters:  gray : (lines, samples) luma of the fields, upper and lower in turn
    """
    one = two = lines = moved = 0.0
    for upper, lower, after in zip(gray[0::2], gray[1::2], gray[2::2], strict=False):
        own, later = _between(upper), _between(after)
        change = np.abs(later - own) > 3 * MOVED
        moved += float(change.mean())
        one += float(np.sum((lower - own)[change] ** 2))
        two += float(np.sum((lower - (own + later) / 2)[change] ** 2))
        lines += float(np.sum((lower - (upper + after) / 2)[change] ** 2))
    count = len(gray[2::2])
    if not count or moved / count <= _LEAST_MOVED or min(two, lines) <= 0:
        return None
    return one / two, one / lines


def _between(field: NDArray) -> NDArray:
    """Return what lies half a line below each line."""
    return np.asarray((field + np.concatenate([field[1:], field[-1:]])) / 2)
