"""Picture files for the tests of reading: packed by hand or saved by general libraries.

Hand-packed PNG files follow the W3C PNG specification (chunk layout section 5, passes section 8).
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import tifffile
from PIL import Image

from scalesim.core.codes import to_codes
from scalesim.errors import ReadError
from scalesim.io.pictures.read import ReadPicture, read_picture

RANDOM = np.random.RandomState(7)
RGB8 = RANDOM.randint(0, 256, (21, 34, 3)).astype(np.uint8)
RGBA8 = RANDOM.randint(0, 256, (21, 34, 4)).astype(np.uint8)
RGB16 = RANDOM.randint(0, 65536, (21, 34, 3)).astype(np.uint16)
RGBA16 = RANDOM.randint(0, 65536, (21, 34, 4)).astype(np.uint16)
PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


def chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def packed_lines(codes: np.ndarray, depth: int) -> bytes:
    """Lines of (lines, samples, channels) codes with filter byte 0, `depth` bits a channel."""
    flat = codes.reshape(codes.shape[0], -1)
    if depth == 16:
        return b"".join(b"\0" + line.astype(">u2").tobytes() for line in flat)
    bits = np.unpackbits(flat.astype(np.uint8)[..., None], axis=2)[..., 8 - depth :]
    return b"".join(b"\0" + np.packbits(line.reshape(-1)).tobytes() for line in bits)


def packed_png(
    codes: np.ndarray, depth: int, colour: int, extra: bytes = b"", passes: bool = False, stream: bytes = b""
) -> bytes:
    if not stream:
        parts = [codes[t::dl, s::ds] for s, t, ds, dl in PASSES] if passes else [codes]
        stream = b"".join(packed_lines(p, depth) for p in parts if p.size)
    header = struct.pack(">IIBBBBB", codes.shape[1], codes.shape[0], depth, colour, 0, 0, passes)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + extra
        + chunk(b"IDAT", zlib.compress(stream))
        + chunk(b"IEND", b"")
    )


def read_bytes(folder: Path, data: bytes, name: str = "a.png", **keys: Any) -> ReadPicture:
    (folder / name).write_bytes(data)
    return read_picture(folder / name, **keys)


def said(picture: ReadPicture, *words: str) -> bool:
    """Whether the notes hold exactly one sentence for each of these words, and no other sentence."""
    notes = list(picture.notes)
    for word in words:
        found = [n for n in notes if word in n]
        if len(found) != 1:
            return False
        notes.remove(found[0])
    return not notes


def codes_equal(picture: ReadPicture, codes: np.ndarray) -> None:
    """The values are exactly code / full, in float32, and give the codes back."""
    full = {8: 255, 16: 65535}[picture.bits]
    wanted = codes.astype(np.float32) / np.float32(full)
    assert picture.values.dtype == np.float32
    np.testing.assert_array_equal(picture.values, np.broadcast_to(wanted, picture.values.shape))
    assert picture.values.shape == (*codes.shape[:2], 3)
    np.testing.assert_array_equal(to_codes(picture.values, picture.bits)[..., : codes.shape[2]], codes)


def refused(path: Path | str, *words: str) -> str:
    """The reader refuses with one line that names the file and holds these words."""
    with pytest.raises(ReadError) as caught:
        read_picture(path)
    text = str(caught.value)
    assert "\n" not in text and str(path) in text and isinstance(caught.value, OSError)
    for word in words:
        assert word in text, text
    assert text.rstrip().rpartition(": ")[2], text
    return text


def save_each_kind(folder: Path) -> list[Path]:
    exif = Image.Exif()
    exif[0x010E] = "words " * 20
    source = Image.fromarray(cv2.GaussianBlur(RGB8, (0, 0), 2))
    source.save(folder / "a.png")
    source.quantize(7).save(folder / "p.png")
    (folder / "w.png").write_bytes(packed_png(RGB16, 16, 2, passes=True))
    source.save(folder / "a.jpg", exif=exif)
    source.save(folder / "b.jpg", progressive=True, quality=95)
    source.save(folder / "a.webp")
    source.save(folder / "l.webp", lossless=True)
    source.save(folder / "m.webp", lossless=True, save_all=True, append_images=[Image.fromarray(RGB8)])
    source.save(folder / "a.bmp")
    source.save(folder / "a.tif")
    source.save(folder / "z.tif", compression="tiff_lzw")
    cv2.imwrite(str(folder / "w.tif"), RGB16)
    tifffile.imwrite(folder / "t.tif", RGB16, photometric="rgb", compression="zlib", metadata=None)
    return sorted(folder.iterdir())
