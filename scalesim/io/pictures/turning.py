"""EXIF orientation as array views."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray


def turn(codes: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Return a view of `codes` (lines, samples, channels) turned upright.

    `orientation` is the EXIF value 1 to 8 (CIPA DC-008, tag 0x0112): which side of the stored
    picture its line 0 and its sample 0 are on. Values 1 to 8 other than 6 and 8 undo themselves.
    """
    if orientation in (5, 6, 7, 8):
        codes = np.swapaxes(codes, 0, 1)
    if orientation in (3, 4, 7, 8):
        codes = codes[::-1]
    if orientation in (2, 3, 6, 7):
        codes = codes[:, ::-1]
    return codes
