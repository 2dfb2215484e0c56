"""Outlines in the source: thin horizontal detail, found once and the same for every chain.

The picture is averaged along the line in strips of 1/240 of its width, which beats noise and keeps
slanted detail out. Within a strip, a *step* is a difference between adjacent lines above
``max(16/255, 6 sigma)``, sigma being the noise of the strips. An *outline* is a pair of consecutive
steps of opposite sign, thin enough, that goes on for at least two strips; it may be dark or light.
Steps of the same sign right beside it belong to its soft edge (antialiased art): the rows there
count by their share of the outline's contrast.

Definition of this project. Axes are (lines, strips); luma is in code values 0..1.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from scalesim.core.compiled import compiled
from scalesim.metrics.outlines import loops
from scalesim.metrics.outlines.found import SourceOutlines
from scalesim.metrics.outlines.loops import SOFT_ROWS
from scalesim.metrics.outlines.pairs import pieces_by_loops, pieces_of
from scalesim.metrics.outlines.strips import Array

LEAST_CONTRAST = 16 / 255
"""Fainter steps are texture; this is a fourteenth of the way from 8-bit video black to white."""


def strip_noise(strips: Array) -> float:
    """Return the standard deviation of the noise of strips.

    Median absolute deviation of the second difference along both axes, whose taps' squares sum to 36:
    detail along either axis alone cancels. Every other line is enough.
    """
    return _noise(np.diff(strips, axis=0))


def _noise(steps: Array) -> float:
    """Return that noise, from the steps between the lines."""
    if min(steps.shape[0] - 1, steps.shape[1] - 2) < 1:
        return 0.0
    return float(1.4826 / 6 * np.median(_unevenness(steps)))


def _unevenness(steps: Array) -> Array:
    """Return the magnitude of the second difference along both axes, of every other line."""
    down = steps[1::2] - steps[: len(steps) // 2 * 2 : 2]
    along = np.diff(down, n=2, axis=1)
    return np.abs(along, out=along)


def _least_step(strips: Array, steps: Array) -> float:
    """Return what a step exceeds: max(16/255, 6 sigma).

    In most pictures so many places are even that 6 sigma must be the smaller: no median is looked for.
    """
    if min(steps.shape[0] - 1, steps.shape[1] - 2) < 1:
        return LEAST_CONTRAST
    limit, quick = 0.99 * LEAST_CONTRAST / 1.4826, _compiled_for(strips)
    even = quick.count_even(strips, limit) if quick else np.count_nonzero(_unevenness(steps) < limit)
    if even > len(steps) // 2 * (steps.shape[1] - 2) // 2 + 1:
        return LEAST_CONTRAST
    return max(LEAST_CONTRAST, 6 * _noise(steps))


def _compiled_for(strips: Array) -> Any:
    """Return compiled loops where there are any for such numbers."""
    return compiled(loops) if strips.dtype == np.float32 else None


def find_outlines(strips: Array, thickest: float) -> SourceOutlines:
    """Return the outlines of a (lines, strips) picture that are at most `thickest` source lines thick."""
    strips = np.ascontiguousarray(strips)
    steps = np.diff(strips, axis=0)
    limit = _least_step(strips, steps)
    signs, quick = _signs(steps, limit), _compiled_for(strips)
    if quick:
        found = pieces_by_loops(quick, strips, signs, limit, thickest)
    else:
        found = pieces_of(strips, signs, limit, thickest)
    top, profile = _profiles(found.rows, found.soft)
    return SourceOutlines(found.strip, found.contrast, found.starts, found.first + top, profile)


def _signs(steps: Array, limit: float) -> Array:
    """Return (SOFT_ROWS + lines - 1 + SOFT_ROWS, strips) int8, of the step below every line.

    0 where there is none, and in rows above and below the picture.
    """
    signs = np.zeros((len(steps) + 2 * SOFT_ROWS, steps.shape[1]), np.int8)
    inner = signs[SOFT_ROWS : SOFT_ROWS + len(steps)]
    np.subtract((steps > limit).view(np.int8), (steps < -limit).view(np.int8), out=inner)
    return signs


def _profiles(rows: Array, soft: list[Array]) -> tuple[int, Array]:
    """Return where profiles begin, in lines below the first of the core, and the profiles, (outlines, rows).

    The rows of the core count whole.

    Parameters:  rows : (outlines,) of the core; soft : (outlines,) shares of the rows beside, see `_measured`
    """
    outlines = np.arange(len(rows))
    most = int(rows.max(initial=1))
    profile = np.zeros((most + 2 * SOFT_ROWS, len(rows)))  # outlines along the memory
    for row in range(most):
        profile[SOFT_ROWS + row] = rows > row
    for further in range(SOFT_ROWS):
        profile[SOFT_ROWS - 1 - further] = soft[further]
        profile[SOFT_ROWS + rows + further, outlines] = soft[SOFT_ROWS + further]
    used = np.flatnonzero(profile.any(axis=1))
    top, bottom = (used[0], used[-1] + 1) if len(used) else (0, 1)
    return int(top) - SOFT_ROWS, profile[top:bottom].T
