"""A clip file looked through without decoding: its time stamps, its pictures counted, its end checked.

A file cut short often decodes without any complaint up to the cut; what it states of itself tells.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.limits import CLIP_PICTURES
from scalesim.errors import ReadError, ScalesimError
from scalesim.io.clips.ffmpeg import damaged, opened, whole_packets

_LOOSE_END, _CLOSE_END = Fraction(1), Fraction(1, 10)
"""Seconds by which a stated duration may outlast the pictures: the file's (with sound), the video's own."""
_ENDLESS = frozenset({"mpegts", "mpeg", "yuv4mpegpipe", "h264", "hevc", "mpegvideo", "m4v", "dv"})
"""Formats of FFmpeg that state no length."""
_FASTEST = 1000


@dataclass(frozen=True)
class Scan:
    """What a file's packets tell.

    stamps: (pictures,) presentation times in ticks, as stored. tick: seconds. count: of pictures.
    declared: rate the file states. notes: sentences.
    """

    stamps: NDArray[np.int64]
    tick: Fraction
    count: int
    declared: Fraction | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Walk:
    """What a walk over the packets gives: `count` are there to decode, `shown` of them to be shown."""

    stamps: list[int]
    count: int
    shown: int
    left_out: int
    end: int | None


def scan_clip(path: str | os.PathLike[str], name: str) -> Scan:
    """Look through a clip file. Raises: ReadError when it is damaged or holds less than it states."""
    with opened(path, name) as (container, stream):
        walk = _walk(container, stream, name)
        tick = Fraction(stream.time_base)
        if walk.end is not None:
            check_end(container, stream, (walk.end - (stream.start_time or 0)) * tick, name)
        if walk.count + walk.left_out < stream.frames:
            raise damaged(name, walk.count, None)
        endless = not _ENDLESS.isdisjoint(container.format.name.split(","))
        declared = stream.average_rate or stream.guessed_rate or None
        if declared is not None and declared > _FASTEST:
            declared = None  # a tick taken for a period
    notes = []
    if endless:
        notes.append("This kind of file states no length, so whether its end is missing cannot be told.")
    if walk.left_out:
        notes.append(
            f"The recording begins between key pictures: {walk.left_out} that need earlier ones were left "
            "out, and damage in it may be hidden by the decoder."
        )
    return Scan(np.array(walk.stamps, np.int64), tick, walk.shown, declared, tuple(notes))


def _walk(container: Any, stream: Any, name: str) -> _Walk:
    stamps: list[int] = []
    count = shown = before = 0
    end = None
    try:
        for packet, left_out in whole_packets(container, stream):
            before = left_out
            if packet.is_corrupt:
                raise damaged(name, count, None)
            count += bool(packet.size)
            # An edit list of the file discards some; decoders need them and do not show them.
            if not packet.size or packet.is_discard:
                continue
            shown += 1
            if shown > CLIP_PICTURES:
                raise ReadError(
                    f"{name}: holds over {CLIP_PICTURES} pictures, the most of a clip (a day at 60 Hz): "
                    "cut it into parts"
                )
            if packet.pts is not None:
                stamps.append(packet.pts)
                end = max(end or packet.pts, packet.pts + (packet.duration or 0))
    except ScalesimError:
        raise
    except Exception as error:  # decoders raise almost anything on damaged data
        raise damaged(name, count, error) from None
    return _Walk(stamps, count, shown, before, end)


def check_end(container: Any, stream: Any, seconds: Fraction, name: str) -> None:
    stated, loose = None, _LOOSE_END
    own = re.fullmatch(r"(\d+):(\d+):(\d+\.?\d*)", stream.metadata.get("DURATION", ""))
    if own:
        # FFmpeg writes this for every stream of a Matroska file, so it is the video's own.
        stated = 3600 * int(own[1]) + 60 * int(own[2]) + Fraction(own[3])
        loose = _CLOSE_END
    elif container.duration:
        stated = Fraction(container.duration, 1_000_000)
    if stated is not None and seconds < stated - loose:
        raise ReadError(
            f"{name}: cut short: {float(seconds):.2f} of {float(stated):.2f} seconds of pictures are there: "
            "copy or record it again, or save the part that is there as a clip of its own"
        )
