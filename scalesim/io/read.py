"""From a picture file to a clip."""

from __future__ import annotations

from pathlib import Path

from scalesim.core.clip import Clip, still_clip
from scalesim.io.pictures import read_picture


def read(path: str | Path, *, mode: str | None = None, limited: bool = False) -> Clip:
    """Return the endless still clip of a picture file.

    Parameters:
        path : PNG, JPEG, WebP, BMP or TIFF, 8 or 16 bit; a woven frame when `mode` is interlaced
        mode : a mode's name such as "1080i60"; None guesses it from the size
        limited : the file holds limited-range video codes (black 16, white 235 of 8 bits)
    Raises: ReadError for a file that cannot be read; ParameterError for a mode that does not fit
    """
    picture = read_picture(path, limited=limited)
    return still_clip(picture.values, mode=mode, name=Path(path).name, notes=picture.notes)
