"""Write pictures as PNG."""

from __future__ import annotations

import io
import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.codes import to_codes
from scalesim.core.files import shown
from scalesim.errors import ShapeError, WriteError

# Measured on drawn frames of 1920x1080: level 3 is up to a third larger, level 6 takes half again as long
# for 5 percent.
_COMPRESS_LEVEL = 4


def png_bytes(values: NDArray[Any], palette: Sequence[tuple[int, int, int]] = ()) -> bytes:
    """Return an 8-bit PNG without time, profile or text; equal values give equal bytes.

    Parameters:
        values : (lines, samples, 3) code values, or uint8 codes; with a palette (lines, samples) uint8
            numbers of its colours
    Raises: ShapeError for another shape or a NaN
    """
    from PIL import Image

    wanted = 2 if palette else 3
    if values.ndim != wanted or 0 in values.shape or (values.ndim == 3 and values.shape[2] != 3):
        raise ShapeError(
            f"values have the shape {values.shape}; a picture is (lines, samples, 3), none of them 0"
        )
    codes = values if values.dtype == np.uint8 else to_codes(values)
    picture = Image.fromarray(np.ascontiguousarray(codes))
    if palette:
        picture.putpalette([part for colour in palette for part in colour])
    packed = io.BytesIO()
    picture.save(packed, format="PNG", compress_level=_COMPRESS_LEVEL)
    return packed.getvalue()


def write_png(
    path: str | os.PathLike[str], values: NDArray[Any], palette: Sequence[tuple[int, int, int]] = ()
) -> int:
    """Write what `png_bytes` gives; return the number of bytes.

    An existing file is replaced. Raises `WriteError` when the file cannot be written.
    """
    packed = png_bytes(values, palette)  # first, so that a failure here leaves no half file behind
    try:
        return Path(path).write_bytes(packed)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise WriteError(
            f"{shown(path)}: cannot be written ({reason}): choose another folder or name"
        ) from error
