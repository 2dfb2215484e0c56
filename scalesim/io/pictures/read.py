"""Read a picture file into code values, and say what had to be done to it.

The steps: know the kind and size from the header, decode to stored codes, turn upright, scale to
0..1 (full or limited range), put transparent parts on black, and look for traces of rescaling.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import check_file, shown
from scalesim.errors import LibraryError, ReadError, ScalesimError
from scalesim.io.pictures.decode import Decoded, decode_simple
from scalesim.io.pictures.header import check_size, name_note, recognise, size_of
from scalesim.io.pictures.tiff_decode import decode_tiff
from scalesim.io.pictures.turning import turn
from scalesim.signal.rescaled import rescaling_note

_GREY = "Grey was repeated into R, G and B."
_ALPHA = "Transparent parts were composited on black, in code values."
_TURNED = "The EXIF orientation was applied."
_LOSSY = "The file is lossy: compression has changed edges and fine detail; prefer PNG."
_LIMITED = (
    "Limited range was expanded: code {low} became 0 and code {high} became 1; values below black and "
    "above white are kept."
)
# Lines scaled at once: the float picture is the only full-size copy made.
_BAND = 64


@dataclass(frozen=True)
class ReadPicture:
    """A picture file as code values.

    values: float32 (lines, samples, 3), R'G'B' code values; 0..1, except that `limited` leaves
        values below black and above white as they are (8-bit: -16/219 to 239/219).
    bits: 8 or 16, significant bits per channel as stored (fewer than 8 count as 8).
    notes: sentences for the user on what was done and what to beware of.
    path: the file. lossy: whether its compression loses detail.
    """

    values: NDArray[np.float32]
    bits: int
    notes: tuple[str, ...]
    path: Path
    lossy: bool


def read_picture(path: str | os.PathLike[str], *, limited: bool = False) -> ReadPicture:
    """Read a PNG, JPEG, WebP, BMP or TIFF file of at most 36 megapixels and 512 MB.

    Full range: value = code / (2**n - 1) for n = 8 or 16 bits. `limited`: value =
    (code - 16 k) / (219 k) with k = 2**(n - 8), so 16 bits span 4096..60160 (ITU-R BT.709,
    quantisation of R'G'B': codes are (219 V + 16) 2**(n - 8)); not clipped, because such video may go
    below black and above white. Transparent parts are put on black: value times alpha.

    Raises `ReadError`, one line with file, problem and remedy, for a file that is missing, a
    folder, unreadable, empty, cut short, damaged, too large, of another kind, or stored in a way
    that cannot be read exactly.
    """
    name = shown(path)
    check_file(path, too_large="save it as compressed PNG")
    decoded, kind = _decode(os.fspath(path), name)
    codes = turn(decoded.codes, decoded.orientation)
    values, transparent = _to_values(codes, limited, decoded.premultiplied)
    bits = 8 * codes.dtype.itemsize
    notes = [name_note(path, kind), *decoded.notes]
    notes.append(_GREY if codes.shape[2] < 3 else None)
    notes.append(_TURNED if decoded.orientation != 1 else None)
    notes.append(_limited_note(bits) if limited else None)
    notes.append(_ALPHA if transparent else None)
    notes.append(_LOSSY if decoded.lossy else None)
    notes.append(rescaling_note(values))
    return ReadPicture(values, bits, tuple(n for n in notes if n), Path(path), decoded.lossy)


def _decode(path: str, name: str) -> tuple[Decoded, str]:
    """Recognise, check the size before decoding, decode; any failure becomes a `ReadError`."""
    kind = "picture"
    try:
        with open(path, "rb") as file:
            kind = recognise(file.read(64), name)
            if kind == "TIFF":
                return decode_tiff(path, name), kind
            file.seek(0)
            samples, lines = size_of(file, kind, name)
        check_size(samples, lines, name)
        return decode_simple(path, kind, name), kind
    except ScalesimError:
        raise
    except PermissionError as error:
        raise ReadError(f"{name}: no permission to read it: change the permissions or copy it") from error
    except Exception as error:
        # Decoders raise almost anything on damaged data; the user needs one line, not their kind.
        reason = " ".join(str(error).split())[:120] or type(error).__name__
        if _is_misuse(error):
            raise LibraryError(
                f"Pillow or tifffile does not answer as it should ({reason}); no file is at fault: install "
                "this program again, which brings versions that fit"
            ) from error
        raise ReadError(
            f"{name}: the {kind} is damaged or cut short ({reason}): copy or export it again"
        ) from error


def _is_misuse(error: Exception) -> bool:
    """Tell whether a library was asked for a keyword, or a module or class for a name, it does not have."""
    if isinstance(error, AttributeError):
        return isinstance(error.obj, (ModuleType, type))
    return isinstance(error, TypeError) and "keyword argument" in str(error)


def _range(bits: int, limited: bool) -> tuple[int, int]:
    """Return (code of black, codes from black to white)."""
    if not limited:
        return 0, 2**bits - 1
    return 16 << (bits - 8), 219 << (bits - 8)


def _limited_note(bits: int) -> str:
    low, span = _range(bits, True)
    return _LIMITED.format(low=low, high=low + span)


def _to_values(codes: NDArray[Any], limited: bool, premultiplied: bool) -> tuple[NDArray[np.float32], bool]:
    """Scale codes to values on black, a band of lines at a time; tell whether anything was transparent.

    With straight alpha a the value is a (c - low) / span; with colours already multiplied by a it is
    (c - a low) / span, the same thing.
    """
    bits = 8 * codes.dtype.itemsize
    low, span = _range(bits, limited)
    lines, samples, channels = codes.shape
    values = np.empty((lines, samples, 3), dtype=np.float32)
    transparent = False
    for top in range(0, lines, _BAND):
        band = codes[top : top + _BAND]
        out = values[top : top + _BAND]
        out[...] = band[..., : 3 if channels > 2 else 1]
        alpha = band[..., -1:]
        opaque = channels in (1, 3) or bool((alpha == 2**bits - 1).all())
        transparent |= not opaque
        if opaque or not premultiplied:
            out -= np.float32(low)
        if not opaque:
            share = alpha.astype(np.float32) / np.float32(2**bits - 1)
            if premultiplied:
                out -= share * np.float32(low)
            else:
                out *= share
        out /= np.float32(span)
    return values, transparent
