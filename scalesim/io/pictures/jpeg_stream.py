"""Whether the packed picture of a JPEG is whole, which decoders do not tell: they fill up what is missing.

A sequential Huffman stream is walked through code by code without making a picture of it: every code must
be one, every block end within its 64 places, and the blocks must end where the data do. The formats of
several scans are left to FFmpeg's decoder, which is strict when asked to be.
Source: ITU-T T.81, B.1.1 (markers), B.2 (segments), F.2.2 (codes of a block), F.1.2.3 (padding).

What cannot be told: a damage after which the blocks still end with the data, such as one bit of an
amplitude, or a cut within a few blocks. JPEG has no check sum.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import BinaryIO

import numpy as np

from scalesim.core.limits import JPEG_WALKED_MEGABYTES
from scalesim.errors import ReadError
from scalesim.io.clips.ffmpeg import load_av
from scalesim.io.pictures.header import jpeg_segments

_SEQUENTIAL = (0xC0, 0xC1)
_BROKEN = 255
"""Length of a code that is none."""
_END = 128
"""Places that an end of block goes ahead: more than any run of zeros, so that the two are told apart."""
_MARKER = re.compile(rb"\xff+[^\x00\xff]")


@dataclass(frozen=True)
class _Scan:
    """tables: (DC, AC) of every block of a unit, in order. units: their number; interval: of restarts."""

    tables: tuple[tuple[list[int], list[int]], ...]
    units: int
    interval: int


def check_jpeg(path: str, name: str) -> None:
    """Raise `ReadError` when the packed data of a JPEG end early, late, or hold codes that are none."""
    with open(path, "rb") as file:
        scan = _scan_of(file, name)
        packed = file.read(JPEG_WALKED_MEGABYTES * 10**6 + 1) if scan else b""
    if scan is None or len(packed) > JPEG_WALKED_MEGABYTES * 10**6:
        _check_by_decoder(path, name)
        return
    done = _walk(scan, packed)
    if done < scan.units:
        share = max(1, 100 * (1 - done / scan.units))
        raise ReadError(
            f"{name}: the JPEG is damaged or cut short, up to {share:.0f} % of the picture is wrong: copy or "
            "export it again"
        )


def _scan_of(file: BinaryIO, name: str) -> _Scan | None:
    """Return the one scan of a sequential JPEG, the file left behind its header; None for other kinds."""
    tables: dict[int, list[int]] = {}
    frame = b""
    interval, kind, mark, body = 0, 0, 0, b""
    for mark, body in jpeg_segments(file, name):
        if mark == 0xC4:
            _add_tables(tables, body)
        elif mark == 0xDD:
            interval = int.from_bytes(body[:2], "big")
        elif 0xC0 <= mark <= 0xCF and mark not in (0xC8, 0xCC):
            kind, frame = mark, body
    parts = body[0]
    if kind not in _SEQUENTIAL or frame[0] != 8 or parts != frame[5] or len(frame) < 6 + 3 * parts:
        return None
    lines, samples = (int.from_bytes(frame[k : k + 2], "big") for k in (1, 3))
    sizes = [(frame[7 + 3 * k] >> 4, frame[7 + 3 * k] & 15) for k in range(parts)]
    across, down = (max(size[axis] for size in sizes) for axis in (0, 1))
    chosen: list[tuple[list[int], list[int]]] = []
    pairs = [(body[2 + 2 * k] >> 4, 16 + (body[2 + 2 * k] & 15)) for k in range(parts)]
    if not all(one in tables for pair in pairs for one in pair):
        return None  # left out, as in clips of such pictures: the usual ones stand for them
    for k, (wide, tall) in enumerate(sizes):
        blocks = 1 if parts == 1 else wide * tall
        chosen += [(tables[pairs[k][0]], tables[pairs[k][1]])] * blocks
    unit = (8, 8) if parts == 1 else (8 * down, 8 * across)
    return _Scan(tuple(chosen), -(-lines // unit[0]) * -(-samples // unit[1]), interval)


def _add_tables(tables: dict[int, list[int]], body: bytes) -> None:
    """Add Huffman tables: the next 16 bits -> bits of the code and its amplitude, and 256 x places ahead."""
    at = 0
    while at + 17 <= len(body):
        head, counts = body[at], body[at + 1 : at + 17]
        values = body[at + 17 : at + 17 + sum(counts)]
        steps = np.full(1 << 16, _BROKEN, np.int64)
        code, place = 0, 0
        for length, count in enumerate(counts, start=1):
            for value in values[place : place + count]:
                first = code << (16 - length)
                steps[first : first + (1 << (16 - length))] = _step(value, length, alternating=head >= 16)
                code += 1
            place += count
            code <<= 1
        tables[head] = steps.tolist()
        at += 17 + sum(counts)


def _step(value: int, length: int, *, alternating: bool) -> int:
    size, run = value & 15, value >> 4
    if not alternating:
        return length + value if value <= 16 else _BROKEN
    if size:
        return (run + 1) << 8 | length + size
    ahead = 16 if run == 15 else _END  # sixteen zeros, or the end of the block
    return ahead << 8 | length


def _walk(scan: _Scan, packed: bytes) -> int:
    """Return after how many units the first damage shows; all of them for a whole stream."""
    done, at = 0, 0
    every = scan.interval or scan.units
    restarts = 0
    while done < scan.units:
        found = _MARKER.search(packed, at)
        end = found.start() if found else len(packed)
        wanted = min(every, scan.units - done)
        if not _run_is_whole(scan, packed[at:end].replace(b"\xff\x00", b"\xff"), wanted):
            return done
        done += wanted
        if found is None:
            return done - 1  # the picture is there, its end is not
        mark = packed[found.end() - 1]
        if done < scan.units and mark != 0xD0 + restarts % 8:
            return done
        restarts += 1
        at = found.end()
    return done


def _run_is_whole(scan: _Scan, data: bytes, units: int) -> bool:
    """Tell whether so many units fill these bytes exactly, up to the padding of the last one."""
    room = 8 * len(data)
    octets = np.frombuffer(data + b"\xff\xff\xff", np.uint8).astype(np.uint32)
    joined = octets[:-2] << 16 | octets[1:-1] << 8 | octets[2:]
    ahead = np.empty((len(joined), 8), np.uint16)
    for bit in range(8):
        ahead[:, bit] = joined >> (8 - bit) & 0xFFFF
    peek = memoryview(ahead.tobytes()).cast("H")
    at = 0
    for _ in range(units):
        for first, rest in scan.tables:
            if at >= room:
                return False
            step = first[peek[at]]
            if step == _BROKEN:
                return False
            at += step
            place = 1
            while place < 64:
                if at >= room:
                    return False
                step = rest[peek[at]]
                if step == _BROKEN:
                    return False
                at += step & 255
                place += step >> 8
            if 64 < place < _END:
                return False
    return 0 <= room - at < 8


def _check_by_decoder(path: str, name: str) -> None:
    av = load_av()
    context = av.CodecContext.create("mjpeg", "r")
    context.options = {"err_detect": "crccheck+bitstream+buffer+explode"}
    try:
        with open(path, "rb") as file:
            context.decode(av.Packet(file.read()))
            context.decode(None)
    except av.error.InvalidDataError:
        raise ReadError(f"{name}: the JPEG is damaged or cut short: copy or export it again") from None
    except av.error.FFmpegError:
        return  # a kind that this decoder does not know; the one that is used does
