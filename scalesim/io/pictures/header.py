"""Which kind of picture a file is, and how large, from its first bytes: nothing is decoded here.

Kinds are recognised by content; the file's name only earns a note when it says something else.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Iterator
from pathlib import PurePath
from typing import BinaryIO

from scalesim.core.limits import JPEG_FILL_BYTES, PICTURE_MEGAPIXELS
from scalesim.errors import ReadError
from scalesim.io.pictures.png_chunks import SIGNATURE, png_header

KINDS = {
    "PNG": (".png", ".apng"),
    "JPEG": (".jpg", ".jpeg", ".jpe", ".jfif", ".mpo"),
    "WebP": (".webp",),
    "BMP": (".bmp", ".dib"),
    "TIFF": (".tif", ".tiff"),
}
ACCEPTED = "PNG, JPEG, WebP, BMP and TIFF are read"
_TIFF_STARTS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_OTHERS = (
    (b"GIF8", "a GIF picture"),
    (b"8BPS", "a layered PSD picture"),
    (b"v/1\x01", "an OpenEXR picture"),
    (b"\0\0\0\x0cjP  ", "a JPEG 2000 picture"),
    (b"\xff\x4f\xff\x51", "a JPEG 2000 picture"),
    (b"\0\0\0\x0cJXL ", "a JPEG XL picture"),
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"\0\0\x01\0", "an icon file"),
    (b"DDS ", "a DDS texture"),
    (b"qoif", "a QOI picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"\x1aE\xdf\xa3", "a Matroska or WebM clip"),
)


def recognise(head: bytes, name: str) -> str:
    """Return the key of `KINDS` for a file that starts with `head` (64 bytes are enough).

    Raises `ReadError` that says what the file is instead, and which kinds are read.
    """
    if head.startswith(SIGNATURE):
        return "PNG"
    if head.startswith(b"\xff\xd8\xff"):
        return "JPEG"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "WebP"
    if (
        head[:2] == b"BM"
        and len(head) >= 18
        and struct.unpack("<I", head[14:18])[0] in (12, 40, 52, 56, 64, 108, 124)
    ):
        return "BMP"
    if head[:4] in _TIFF_STARTS:
        return "TIFF"
    raise ReadError(f"{name}: this is {_other(head)}; {ACCEPTED}: save the frame as PNG")


def _other(head: bytes) -> str:
    """Say in words what a file that is none of `KINDS` seems to be."""
    for start, words in _OTHERS:
        if head.startswith(start):
            return words
    if head[4:8] == b"ftyp":
        pictures = {b"avif": "an AVIF picture", b"heic": "an HEIF picture", b"mif1": "an HEIF picture"}
        return pictures.get(head[8:12], "an MP4 or QuickTime clip")
    if head[:4] == b"RIFF":
        return "an AVI clip or a sound file"
    if head[:1] == b"P" and head[1:2] in b"1234567" and head[2:3].isspace():
        return "a Netpbm picture"
    if SIGNATURE.startswith(head) or b"\xff\xd8\xff".startswith(head):
        return f"the first {len(head)} bytes of a picture, the rest is missing"
    if b"\0" not in head and all(byte >= 32 or byte in b"\t\r\n\f" for byte in head):
        return "text, not a picture" if head.isascii() else "not a picture"
    return "not a picture of any known kind"


def name_note(path: str | os.PathLike[str], kind: str) -> str | None:
    """Return a sentence when the file's name says another kind than its content."""
    suffix = PurePath(os.fspath(path)).suffix.lower()
    if not suffix or suffix in KINDS[kind]:
        return None
    return f"The name ends in {suffix} but the content is {kind}; it was read as {kind}."


def check_size(samples: int, lines: int, name: str, megapixels: float = PICTURE_MEGAPIXELS) -> None:
    """Raise `ReadError` when a picture has no samples or more than its kind can have."""
    if samples < 1 or lines < 1:
        raise ReadError(f"{name}: {samples}x{lines} holds no picture: export the file again")
    if samples * lines > megapixels * 10**6:
        largest = "7680x4320 is 33.2" if megapixels == PICTURE_MEGAPIXELS else "of a clip; 4096x2304 is 9.4"
        raise ReadError(
            f"{name}: {samples}x{lines} is {samples * lines / 1e6:.1f} megapixels; the limit is "
            f"{megapixels:g} ({largest}): crop or reduce it first"
        )


def size_of(file: BinaryIO, kind: str, name: str) -> tuple[int, int]:
    """Return (samples, lines) from the header of a PNG, JPEG, WebP or BMP opened at byte 0.

    TIFF keeps its sizes in tags: `scalesim.io.pictures.tiff_decode` reads them. Raises `ReadError` when the
    header is cut short.
    """
    try:
        if kind == "PNG":
            facts = png_header(file.read(33), name)
            return facts.samples, facts.lines
        if kind == "JPEG":
            return _jpeg_size(file, name)
        return {"WebP": _webp_size, "BMP": _bmp_size}[kind](file)
    except struct.error as error:
        raise ReadError(f"{name}: the {kind} header is cut short: copy or export the file again") from error


def _jpeg_size(file: BinaryIO, name: str) -> tuple[int, int]:
    """Sizes from the start-of-frame segment (ITU-T T.81, B.2.2)."""
    for mark, body in jpeg_segments(file, name):
        if 0xC0 <= mark <= 0xCF and mark not in (0xC4, 0xC8, 0xCC):
            _, lines, samples = struct.unpack(">BHH", body[:5])
            return samples, lines
    raise ReadError(f"{name}: the JPEG header is cut short: copy or export the file again")


def jpeg_segments(file: BinaryIO, name: str) -> Iterator[tuple[int, bytes]]:
    """Yield (marker, body) of a JPEG's segments up to its first scan, the file left behind that header.

    What lies between segments is counted: decoders take it byte by byte. Raises ReadError for too much.
    """
    between, mark = 0, 0
    file.seek(2)
    while mark != 0xDA:
        previous, (mark,) = mark, struct.unpack(">B", file.read(1))
        between += 1
        if between > JPEG_FILL_BYTES:
            raise ReadError(
                f"{name}: over {JPEG_FILL_BYTES} bytes between its segments belong to none: export it again"
            )
        if previous != 0xFF or mark in (0x00, 0x01, 0xFF) or 0xD0 <= mark <= 0xD8:
            continue
        (length,) = struct.unpack(">H", file.read(2))
        yield mark, file.read(max(length - 2, 0))


def _webp_size(file: BinaryIO) -> tuple[int, int]:
    """Sizes from the first chunk (RFC 9649, sections 2.5 to 2.7; RFC 6386, section 9.1 for VP8)."""
    head = file.read(30)
    _, _, _, kind, _, body = struct.unpack("<4sI4s4sI10s", head)
    if kind == b"VP8X":
        return 1 + int.from_bytes(body[4:7], "little"), 1 + int.from_bytes(body[7:10], "little")
    if kind == b"VP8L":
        packed = int.from_bytes(body[1:5], "little")
        return 1 + (packed & 0x3FFF), 1 + (packed >> 14 & 0x3FFF)
    samples, lines = struct.unpack("<HH", body[6:10])
    return samples & 0x3FFF, lines & 0x3FFF


def _bmp_size(file: BinaryIO) -> tuple[int, int]:
    """Sizes from the information header; a negative line count means the first line is on top."""
    head = file.read(26)
    if struct.unpack("<I", head[14:18])[0] == 12:
        samples, lines = struct.unpack("<HH", head[18:22])
        return samples, lines
    samples, lines = struct.unpack("<ii", head[18:26])
    return samples, abs(lines)
