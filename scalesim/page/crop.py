"""A close look cut out of a picture, all of one size."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

CROP = (300, 400)
"""Dots of a close look: lines, samples."""


def cut(picture: NDArray, line: float, sample: float, size: tuple[int, int] = CROP) -> NDArray:
    """Return a window about a place, moved inside the picture."""
    top = int(np.clip(line - size[0] / 2, 0, max(0, picture.shape[0] - size[0])))
    left = int(np.clip(sample - size[1] / 2, 0, max(0, picture.shape[1] - size[1])))
    return picture[top : top + size[0], left : left + size[1]]
