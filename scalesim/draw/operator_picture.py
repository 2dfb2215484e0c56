"""A line operator as a picture: output lines down, source lines across, every weight a square."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.draw import diverging

LINES = 12
_DOTS = 10


def operator_picture(rows: NDArray) -> tuple[NDArray, tuple[int, int]]:
    """Return the middle of an operator, (dot rows, dots, 3) uint8, and its first output and source line.

    On the scale of every signed difference: white is no weight, orange adds, blue takes away.

    Parameters:  rows : (output lines, source lines) weights
    """
    first = max(0, len(rows) // 2 - LINES // 2)
    part = rows[first : first + LINES]
    columns = np.flatnonzero(np.abs(part).max(axis=0) > 1e-4)
    left, right = (int(columns[0]), int(columns[-1]) + 1) if len(columns) else (0, 1)
    part = part[:, left:right]
    scale = max(float(np.abs(part).max()), 1e-9)
    squares = diverging.palette()[diverging.steps_of(part, scale)]
    large = np.repeat(np.repeat(squares, _DOTS, axis=0), _DOTS, axis=1)
    large[::_DOTS] = large[:, ::_DOTS] = 205
    return large, (first, left)
