"""Jobs on files: for who calls a job from Python with the names of files."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.photo import Film, Photo
from scalesim.errors import ParameterError
from scalesim.io.photos import read_photo
from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.asked import Asked
from scalesim.jobs.glass.reading import read_set

Given = str | Path | Photo | Film | NDArray


def read_glass(photos: Given | Sequence[Given], **keys: Any) -> GlassRead:
    """Return what photos or a film of a tube show; the same as `scalesim glass PHOTO...`.

    Parameters:
        photos : one or several of one set-up: names of files, what `read_photo` gave, or (rows, columns, 3)
            arrays, uint8 or uint16 codes or floats 0..1
        keys : corners, lines, field_rate, shutter, bezel, tripod, whole; see `scalesim glass --help`.
            Corners may be four (x, y), the shutter a number of seconds
    Raises: ReadError, ParameterError
    """
    given = [photos] if isinstance(photos, str | Path | Photo | Film | np.ndarray) else list(photos)
    if not given:
        raise ParameterError("read_glass: no photo was given")
    known = Asked.__dataclass_fields__
    for name in keys:
        if name not in known:
            raise ParameterError(f"read_glass: unknown key {name!r}; valid: {', '.join(known)}")
    if keys.get("corners") is not None and not isinstance(keys["corners"], str):
        keys["corners"] = " ".join(str(float(v)) for v in np.asarray(keys["corners"], dtype=float).ravel())
    for name in ("shutter", "bezel"):
        if keys.get(name) is not None and not isinstance(keys[name], str):
            keys[name] = ",".join(map(str, np.atleast_1d(keys[name]).tolist()))
    return read_set([_photo(each) for each in given], Asked(**keys))


def _photo(given: Given) -> Photo | Film:
    if isinstance(given, str | Path):
        return read_photo(given)
    if not isinstance(given, np.ndarray):
        return given
    if given.ndim != 3 or given.shape[2] != 3 or 0 in given.shape:
        raise ParameterError(f"read_glass: shape is {given.shape}; a photo is (rows, columns, 3)")
    if given.dtype in (np.uint8, np.uint16):
        return Photo(given)
    values = np.asarray(given, dtype=np.float64)
    if not np.isfinite(values).all():
        raise ParameterError("read_glass: the photo holds values that are not finite")
    return Photo((np.clip(values, 0, 1) * 65535 + 0.5).astype(np.uint16))
