"""A line operator as a picture: output lines down, source lines across, every weight a square."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LINES = 12
_DOTS = 10


def operator_picture(rows: NDArray) -> tuple[NDArray, tuple[int, int]]:
    """Return the middle of an operator, (dot rows, dots, 3) uint8, and its first output and source line.

    White is no weight, violet adds (the darkest is the largest weight), orange takes away.

    Parameters:  rows : (output lines, source lines) weights
    """
    from matplotlib import colormaps

    first = max(0, len(rows) // 2 - LINES // 2)
    part = rows[first : first + LINES]
    columns = np.flatnonzero(np.abs(part).max(axis=0) > 1e-4)
    left, right = (int(columns[0]), int(columns[-1]) + 1) if len(columns) else (0, 1)
    part = part[:, left:right]
    scale = max(float(np.abs(part).max()), 1e-9)
    colours = colormaps["PuOr"](0.5 + 0.5 * part / scale)[..., :3]
    squares = (colours * 255 + 0.5).astype(np.uint8)
    large = np.repeat(np.repeat(squares, _DOTS, axis=0), _DOTS, axis=1)
    large[::_DOTS] = large[:, ::_DOTS] = 205
    return large, (first, left)
