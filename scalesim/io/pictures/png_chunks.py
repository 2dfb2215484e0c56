"""What a PNG file says of itself, chunk by chunk, without decoding the picture.

Every chunk's check sum is verified up to the end chunk, so a file that was cut short or damaged
is known before any decoder fills the rest with grey. For 16-bit files the compressed stream is
measured too, because the decoder they need does not report a short one.
Source of layout, lengths and check sums: W3C Portable Network Graphics (PNG) Specification,
sections 5, 7, 10 and 11.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass
from typing import BinaryIO

from scalesim.errors import ReadError

SIGNATURE = b"\x89PNG\r\n\x1a\n"
CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
_DEPTHS = {0: (1, 2, 4, 8, 16), 2: (8, 16), 3: (1, 2, 4, 8), 4: (8, 16), 6: (8, 16)}
_BLOCK = 1 << 20
# First sample, first line, step in samples, step in lines of the seven interlace passes.
_ADAM7 = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))


@dataclass(frozen=True)
class PngFacts:
    """Facts from the chunks: sizes in lines and samples, `depth` in bits per channel as stored.

    `colour` is the PNG colour type (0 grey, 2 RGB, 3 palette, 4 grey and alpha, 6 RGB and alpha);
    `transparency` and `exif` are the raw bytes of the tRNS and eXIf chunks, empty when absent.
    """

    lines: int
    samples: int
    depth: int
    colour: int
    interlaced: bool
    animated: bool = False
    profile: bool = False
    transparency: bytes = b""
    exif: bytes = b""


def png_header(head: bytes, name: str) -> PngFacts:
    """Read the header chunk from the first 33 bytes; `ReadError` when it is cut or not legal."""
    if len(head) < 33 or head[12:16] != b"IHDR":
        raise ReadError(f"{name}: the PNG header is cut short or damaged: copy or export the file again")
    samples, lines, depth, colour, packing, filters, interlace = struct.unpack(">IIBBBBB", head[16:29])
    if depth not in _DEPTHS.get(colour, ()) or packing or filters or interlace > 1:
        raise ReadError(f"{name}: the PNG header has unknown values: export the file again as PNG")
    return PngFacts(lines, samples, depth, colour, bool(interlace))


def read_png_facts(file: BinaryIO, name: str) -> PngFacts:
    """Walk all chunks of a PNG opened at byte 0 and return its facts.

    Raises `ReadError` when a chunk is cut, fails its check sum, or a 16-bit stream is too short.
    """
    header = png_header(file.read(33), name)
    file.seek(len(SIGNATURE))
    stream = _Stream(header) if header.depth == 16 else None
    kept: dict[bytes, bytes] = {}
    kind = b""
    while kind != b"IEND":
        kind, body = _next_chunk(file, name, stream)
        kept.setdefault(kind, body)
    if b"IDAT" not in kept or (stream and stream.missing):
        raise ReadError(f"{name}: the PNG picture data is incomplete: copy or export the file again")
    return PngFacts(
        **{key: getattr(header, key) for key in ("lines", "samples", "depth", "colour", "interlaced")},
        animated=b"acTL" in kept,
        profile=b"iCCP" in kept or b"cICP" in kept,
        transparency=kept.get(b"tRNS", b""),
        exif=kept.get(b"eXIf", b""),
    )


def _next_chunk(file: BinaryIO, name: str, stream: _Stream | None) -> tuple[bytes, bytes]:
    """Return a chunk's kind and, for the small kinds kept, its body; checks length and check sum."""
    start = file.read(8)
    if len(start) < 8:
        raise ReadError(f"{name}: the PNG file is cut short: copy or export the file again")
    left, kind = struct.unpack(">I4s", start)
    total, body = zlib.crc32(kind), bytearray()
    while left:
        block = file.read(min(left, _BLOCK))
        if not block:
            raise ReadError(f"{name}: the PNG file is cut short: copy or export the file again")
        left -= len(block)
        total = zlib.crc32(block, total)
        if kind in (b"tRNS", b"eXIf"):
            body += block
        elif kind == b"IDAT" and stream:
            stream.feed(block, name)
    if file.read(4) != struct.pack(">I", total):
        raise ReadError(f"{name}: the PNG file is cut short or damaged: copy or export the file again")
    return kind, bytes(body)


class _Stream:
    """Counts the inflated bytes of a picture stream, never holding or inflating more than it needs."""

    def __init__(self, facts: PngFacts) -> None:
        self._inflate = zlib.decompressobj()
        self.missing = _stream_length(facts)

    def feed(self, block: bytes, name: str) -> None:
        while block and self.missing and not self._inflate.eof:
            try:
                out = self._inflate.decompress(block, _BLOCK)
            except zlib.error as error:
                raise ReadError(f"{name}: the PNG picture data is damaged: export the file again") from error
            self.missing -= min(len(out), self.missing)
            block = self._inflate.unconsumed_tail


def _stream_length(facts: PngFacts) -> int:
    """Bytes of the filtered picture: one filter byte and the packed samples for each line of each pass."""
    bits = CHANNELS[facts.colour] * facts.depth
    total = 0
    for first, top, step, drop in _ADAM7 if facts.interlaced else ((0, 0, 1, 1),):
        samples = max(0, -(-(facts.samples - first) // step))
        lines = max(0, -(-(facts.lines - top) // drop))
        total += lines * (1 + -(-samples * bits // 8)) if samples else 0
    return total
