"""The luma of a decoded frame, without its colours: for Y'CbCr of 8 bits the decoder's own memory."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

_STORED = ("yuv", "gray", "nv")
"""How FFmpeg's names of formats begin whose first plane is luma and nothing else."""
_PACKED = ("yuyv422", "yvyu422", "uyvy422", "uyyvyy411")


def luma_of(frame: Any) -> NDArray[np.uint8]:
    """Return the luma of an `av.VideoFrame`: (lines, samples) uint8, 8 bits of what is stored.

    Formats that hold no plane of luma are converted by FFmpeg, to its full-range grey.
    """
    name, bits = frame.format.name, int(frame.format.components[0].bits)
    if not name.startswith(_STORED) or name in _PACKED or (bits > 8 and not name.endswith("le")):
        frame, bits = frame.reformat(format="gray"), 8
    plane = frame.planes[0]
    if bits == 8:
        return np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)[: frame.height, : frame.width]
    deep = np.frombuffer(plane, np.uint16).reshape(-1, plane.line_size // 2)[: frame.height, : frame.width]
    return np.right_shift(deep, bits - 8).astype(np.uint8)
