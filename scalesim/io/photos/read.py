"""From a camera's file to a `Photo` or `Film`."""

from __future__ import annotations

import os
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import check_file, shown
from scalesim.core.limits import CLIP_GIGABYTES, PHOTO_MEGAPIXELS
from scalesim.core.photo import Film, Photo, Shot
from scalesim.errors import ReadError, ScalesimError
from scalesim.io.photos.film import read_film
from scalesim.io.pictures.decode import decode_words
from scalesim.io.pictures.header import recognise
from scalesim.io.pictures.tiff_decode import decode_tiff
from scalesim.io.pictures.turning import turn
from scalesim.io.read import is_moving

_HEIC = (b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"avif")
_MERGED = {2, 3, 4, 8}
"""Values of the tag CustomRendered that phones write for pictures merged of several exposures (in use, not in
the standard, which knows 0 and 1 only)."""


def read_photo(path: str | os.PathLike[str]) -> Photo | Film:
    """Return a photo (JPEG, PNG, TIFF, WebP, BMP; 8 or 16 bit), or a film that FFmpeg decodes.

    The photo is turned upright by its EXIF orientation; exposure time, ISO and focal length are taken
    from EXIF (CIPA DC-008, tags 33434, 34855, 37386, 41989). Raises ReadError for what cannot be read.
    """
    name = shown(path)
    check_file(path, "photo or film", 1000 * CLIP_GIGABYTES, too_large="cut it into parts")
    with open(path, "rb") as file:
        head = file.read(200)
    if head[4:8] == b"ftyp" and head[8:12] in _HEIC:
        raise ReadError(
            f"{name}: this is a HEIC or AVIF photo, which is not read: save it as JPEG or PNG with the "
            "phone's or the computer's picture viewer (phones have a setting for JPEG)"
        )
    if is_moving(os.fspath(path)):
        return read_film(path)
    return _still(path, name, recognise(head[:64], name))


def _still(path: str | os.PathLike[str], name: str, kind: str) -> Photo:
    try:
        if kind == "TIFF":
            decoded = decode_tiff(os.fspath(path), name)
            return Photo(
                _three(turn(decoded.codes, decoded.orientation)), os.path.basename(name), notes=decoded.notes
            )
        return _simple(path, name, kind)
    except ScalesimError:
        raise
    except PermissionError as error:
        raise ReadError(f"{name}: no permission to read it: change the permissions or copy it") from error
    except Exception as error:  # decoders raise almost anything on damaged data
        reason = " ".join(str(error).split())[:100] or type(error).__name__
        raise ReadError(f"{name}: the {kind} is damaged or cut short ({reason}): copy it again") from error


def _simple(path: str | os.PathLike[str], name: str, kind: str) -> Photo:
    import warnings

    from PIL import Image

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # sizes are checked against our own limit
        with Image.open(path, formats=[kind]) as picture:
            columns, rows = picture.size
            if rows * columns > PHOTO_MEGAPIXELS * 10**6:
                raise ReadError(
                    f"{name}: {columns}x{rows} is {rows * columns / 1e6:.0f} megapixels; the limit is "
                    f"{PHOTO_MEGAPIXELS}: reduce it first, or crop it to the tube"
                )
            exif = picture.getexif()
            pictures = int(getattr(picture, "n_frames", 1))
            deep = picture.mode.startswith("I;16") or picture.info.get("bits") == 16
            codes = (
                None
                if deep or (kind == "PNG" and _png_depth(path) == 16)
                else np.asarray(picture.convert("RGB"))
            )
    if codes is None:
        with open(path, "rb") as file:
            codes = decode_words(file.read(), "png", name)
    turned = int(exif.get(0x0112, 1) or 1)
    notes: tuple[str, ...] = ("The EXIF orientation was applied.",) if turned in range(2, 9) else ()
    if pictures > 1:
        notes += (f"The file holds {pictures} pictures; the first was read.",)
    return Photo(
        _three(turn(codes, turned if turned in range(1, 9) else 1)),
        os.path.basename(name),
        _shot(exif),
        notes,
    )


def _png_depth(path: str | os.PathLike[str]) -> int:
    with open(path, "rb") as file:
        return file.read(25)[24]


def _three(codes: NDArray) -> NDArray:
    codes = codes.reshape(*codes.shape[:2], -1)
    three = codes[..., :3] if codes.shape[2] >= 3 else np.repeat(codes[..., :1], 3, axis=2)
    return np.ascontiguousarray(three, dtype=three.dtype.newbyteorder("="))


def _shot(exif: Any) -> Shot:
    own = exif.get_ifd(0x8769)
    values = {key: _number(own.get(tag)) for key, tag in _TAGS.items()}
    return Shot(**values, merged=own.get(0xA401) in _MERGED)


_TAGS = {"exposure_s": 0x829A, "iso": 0x8827, "focal_mm": 0x920A, "focal_35_mm": 0xA405}


def _number(value: Any) -> float | None:
    try:
        found = float(value[0] if isinstance(value, tuple) else value)
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    return found if np.isfinite(found) and found > 0 else None
