"""TIFF: the one accepted kind with many ways to store a picture, so each is chosen or refused by name.

`tifffile` reads plain and deflated grey and R'G'B' of 8 and 16 bits exactly, PyAV 16-bit LZW and
PackBits, Pillow the remaining 8-bit ones. What none reads exactly is refused with a remedy.
Tag values: TIFF Revision 6.0, sections 3 to 10 and 18.
"""

from __future__ import annotations

import logging
import os
import re
import zlib
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.limits import TIFF_STRIPS
from scalesim.errors import ReadError
from scalesim.io.pictures.decode import PROFILE, SEVERAL, Decoded, decode_pillow, decode_words
from scalesim.io.pictures.header import check_size
from scalesim.io.pictures.remarks import library_remarks
from scalesim.io.pictures.tiff_lengths import lzw_length, packbits_length
from scalesim.texts import echoed

_REMEDY = "save it as PNG, 8 or 16 bits per channel, RGB"
_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB, _PALETTE, _YCBCR = 0, 1, 2, 3, 6
_UNSIGNED = 1
_DEFLATE = (8, 32946)
_PLAIN = (1, *_DEFLATE)
_LZW, _PACKBITS = 5, 32773
_LZW_PACKBITS = (_LZW, _PACKBITS)
_JPEG = (6, 7, 34892)
_DAMAGE = re.compile(r"Decode:|JPEGLib|not yet in table|orrupt|Premature|Bad code")
"""What libtiff says of damaged strips, which it fills up."""
_ICC_TAG, _ORIENTATION_TAG = 34675, 274


def decode_tiff(path: str, name: str) -> Decoded:
    """Decode the first page of a TIFF file to its stored codes, black at 0.

    Raises `ReadError` for pictures over the size limit and for layouts that cannot be read exactly,
    and whatever the decoders raise for damaged data.
    """
    import tifffile

    # Without a handler of its own the library's remarks would be printed beside ours.
    logging.getLogger("tifffile").addHandler(logging.NullHandler())
    with tifffile.TiffFile(path) as tiff:
        page: Any = tiff.pages[0]
        check_size(int(page.imagewidth), int(page.imagelength), name)
        _check_layout(page, name)
        _check_length(page, os.path.getsize(path), name)
        notes = [SEVERAL] if _has_another(tiff) else []
        notes += [PROFILE] if _ICC_TAG in page.tags else []
        direct = page.photometric in (_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB) and page.bitspersample in (8, 16)
        if direct and page.compression in _PLAIN:
            _check_strips(page, path, name)
            codes = _as_channels_last(page.asarray(), page)
        elif page.bitspersample == 16:
            codes = _words(path, page, name)
        else:
            return _with_pillow(path, page, notes, name)
    return _finish(codes, page, notes)


def _has_another(tiff: Any) -> bool:
    """Tell whether there is a second page, without walking through a chain of them that may have no end."""
    try:
        tiff.pages[1]
    except IndexError:
        return False
    return True


def _finish(codes: NDArray[Any], page: Any, notes: list[str]) -> Decoded:
    """Put black at 0, drop channels that are not alpha, and attach the facts."""
    colours = 3 if page.photometric == _RGB else 1
    alpha = bool(page.extrasamples) and int(page.extrasamples[0]) in (1, 2)
    codes = codes[..., : colours + alpha]
    if page.photometric == _WHITE_IS_ZERO:
        codes = codes.copy()
        codes[..., 0] = np.iinfo(codes.dtype).max - codes[..., 0]
    premultiplied = alpha and int(page.extrasamples[0]) == 1
    return Decoded(codes, tuple(notes), premultiplied=premultiplied, orientation=_orientation(page))


def _orientation(page: Any) -> int:
    tag = page.tags.get(_ORIENTATION_TAG)
    value = int(tag.value) if tag else 1
    return value if value in range(1, 9) else 1


def _check_layout(page: Any, name: str) -> None:
    """Refuse, by name, what is not grey, palette or R'G'B' of 1, 2, 4, 8 or 16 unsigned bits."""
    photometric = int(page.photometric)
    colours = {_WHITE_IS_ZERO: 1, _BLACK_IS_ZERO: 1, _RGB: 3, _PALETTE: 1}
    jpeg = page.compression in _JPEG
    if photometric not in colours and not (photometric == _YCBCR and jpeg):
        raise ReadError(f"{name}: its colours are stored as {_word(page.photometric)}: {_REMEDY}")
    if page.sampleformat != _UNSIGNED:
        raise ReadError(
            f"{name}: its samples are {_word(page.sampleformat)}, not unsigned integers: {_REMEDY}"
        )
    bits = page.bitspersample
    if bits not in (1, 2, 4, 8, 16) or (bits == 16 and photometric == _PALETTE):
        raise ReadError(f"{name}: {bits} bits per channel; 1, 2, 4, 8 and 16 are read: {_REMEDY}")
    if page.samplesperpixel < colours.get(photometric, 3) or getattr(page, "imagedepth", 1) != 1:
        raise ReadError(f"{name}: {page.samplesperpixel} channels in an unknown order: {_REMEDY}")
    if photometric == _WHITE_IS_ZERO and page.samplesperpixel > 1:
        raise ReadError(f"{name}: white stored as 0 together with alpha: {_REMEDY}")


def _word(value: Any) -> str:
    return str(getattr(value, "name", value))


def _check_length(page: Any, size: int, name: str) -> None:
    """Refuse a file that ends before its last strip or tile does; no decoder is trusted with that."""
    strips = len(page.dataoffsets)
    if strips > TIFF_STRIPS:
        raise ReadError(f"{name}: has {strips} strips; the limit is {TIFF_STRIPS}: export it again")
    ends = [start + count for start, count in zip(page.dataoffsets, page.databytecounts, strict=False)]
    if not ends or max(ends) > size:
        raise ReadError(f"{name}: the TIFF file is cut short: copy or export it again")


def _check_strips(page: Any, path: str, name: str) -> None:
    """Refuse strips or tiles with more or less than their share; what is short would be filled with 0."""
    room = -(-int(np.prod(page.chunks)) * page.bitspersample // 8)
    strips = -(-int(page.imagelength) // int(page.rowsperstrip)) if not page.is_tiled else 0
    segments = zip(page.dataoffsets, page.databytecounts, strict=False)
    with open(path, "rb") as file:
        for number, (start, count) in enumerate(segments, start=1):
            file.seek(start)
            held = _held(file.read(count), int(page.compression), room)
            if held > room and page.compression in _DEFLATE:
                raise ReadError(f"{name}: its compressed data hold more than the picture: export it again")
            least = room if page.is_tiled or number % strips else _last_strip(page, room)
            if held < least:
                raise ReadError(f"{name}: the TIFF is damaged in strip or tile {number}: export it again")


def _held(packed: bytes, compression: int, room: int) -> int:
    """Return how many bytes of picture a strip holds; deflated ones are unpacked to `room` + 1 at most."""
    if compression == 1:
        return len(packed)
    if compression == _LZW:
        return lzw_length(packed)
    if compression == _PACKBITS:
        return packbits_length(packed)
    inflate = zlib.decompressobj()
    return len(inflate.decompress(packed, room + 1))


def _last_strip(page: Any, room: int) -> int:
    """Return the bytes of a last strip, which holds the lines that are left."""
    rows = int(page.rowsperstrip)
    left = (int(page.imagelength) - 1) % rows + 1
    return room // min(rows, int(page.imagelength)) * left


def _as_channels_last(codes: NDArray[Any], page: Any) -> NDArray[Any]:
    if page.planarconfig == 2 and page.samplesperpixel > 1:
        codes = np.moveaxis(codes, 0, -1)
    return codes.reshape(int(page.imagelength), int(page.imagewidth), -1)


def _words(path: str, page: Any, name: str) -> NDArray[Any]:
    """Decode 16-bit LZW or PackBits strips exactly."""
    contiguous = page.planarconfig == 1 or page.samplesperpixel == 1
    if page.compression not in _LZW_PACKBITS or page.is_tiled or not contiguous:
        how = _word(page.compression)
        raise ReadError(f"{name}: 16-bit TIFF stored with {how} cannot be read exactly: {_REMEDY}")
    _check_strips(page, path, name)
    with open(path, "rb") as file:
        return decode_words(file.read(), "tiff", name)


def _with_pillow(path: str, page: Any, notes: list[str], name: str) -> Decoded:
    """Decode what has 8 bits or fewer and needs Pillow; it turns TIFF pictures by itself."""
    if page.extrasamples and int(page.extrasamples[0]) == 1:
        raise ReadError(
            f"{name}: alpha already multiplied in, stored with {_word(page.compression)}, cannot be read "
            f"exactly: {_REMEDY}"
        )
    contiguous = page.planarconfig == 1 or page.samplesperpixel == 1
    if page.compression in _LZW_PACKBITS and page.bitspersample == 8 and contiguous:
        _check_strips(page, path, name)
    with library_remarks() as remarks:
        decoded = decode_pillow(path, "TIFF", name)
    if _DAMAGE.search(remarks.text):
        said = echoed(remarks.text.strip().splitlines()[0])
        raise ReadError(f"{name}: the TIFF is damaged or cut short ({said}): copy or export it again")
    kept = (*notes, *(n for n in decoded.notes if n not in (SEVERAL, PROFILE)))
    turned = _orientation(page)
    codes = decoded.codes if turned == 1 else _turned_back(decoded.codes, turned)
    return replace(decoded, codes=codes, notes=kept, lossy=page.compression in _JPEG, orientation=turned)


def _turned_back(codes: NDArray[Any], orientation: int) -> NDArray[Any]:
    """Undo Pillow's own turning, so that all kinds are turned, and said to be, in one place."""
    from scalesim.io.pictures.turning import turn

    back = {6: 8, 8: 6}.get(orientation, orientation)
    return turn(codes, back)
