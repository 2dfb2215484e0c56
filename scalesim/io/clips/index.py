"""Where every picture of a clip lies, found without decoding it; damage is told and does not stop it.

A study goes on where a single frame would be refused: what cannot be decoded is listed, the rest is scored.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import check_file, shown
from scalesim.core.limits import CLIP_GIGABYTES, CLIP_MEGAPIXELS, CLIP_PICTURES
from scalesim.core.raster import Raster
from scalesim.errors import ReadError, ScalesimError
from scalesim.io.clips.checksums import UNFIT, slice_check
from scalesim.io.clips.colour import Colour, colour_of
from scalesim.io.clips.facts import field_order
from scalesim.io.clips.ffmpeg import misfit, opened, reason_of, whole_packets
from scalesim.io.clips.mode import clip_mode
from scalesim.io.clips.scan import check_end
from scalesim.io.clips.timing import timing_of
from scalesim.io.pictures.header import check_size

_AHEAD = 8
"""Pictures decoded for size, colour and fields."""


@dataclass(frozen=True, eq=False)
class ClipIndex:
    """Where the pictures of a clip lie.

    Parameters:
        stamps : (frames,) int64 presentation times in ticks, rising; (0,) where the file has none that tell
            its pictures apart, and then they are counted as they come out
        keys : (key pictures,) int64, the times at which decoding can begin, rising
        frames : how many stored frames there are
        rate : of stored frames; tick : seconds; colour, raster, mode : of every picture
        notes : what was assumed; damage : what is missing or broken as far as the file itself tells
    """

    name: str
    stamps: NDArray[np.int64]
    keys: NDArray[np.int64]
    frames: int
    rate: Fraction
    size: tuple[int, int]
    colour: Colour
    raster: Raster
    mode: str
    notes: tuple[str, ...]
    damage: tuple[str, ...]

    def key_before(self, frame: int) -> int:
        """Return the number of the key picture from which a frame is decoded."""
        if not self.stamps.size:
            return 0
        key = self.keys[max(0, int(np.searchsorted(self.keys, self.stamps[frame], "right")) - 1)]
        return int(np.searchsorted(self.stamps, key))


def index_clip(path: str | os.PathLike[str], *, mode: str | None = None, limited: bool = False) -> ClipIndex:
    """Return where the pictures of a clip lie.

    Parameters:  as of `scalesim.io.clips.read.read_clip`
    Raises: ReadError when it is no clip or holds no picture that decodes; ParameterError for a mode that
        does not fit
    """
    name = shown(path)
    check_file(path, "clip", 1000 * CLIP_GIGABYTES, too_large="cut it into parts")
    with opened(path, name) as (container, stream):
        context = stream.codec_context
        if context.width and context.height:
            check_size(context.width, context.height, name, CLIP_MEGAPIXELS)
        first = list(_first(container, stream))
        if not first:
            raise ReadError(f"{name}: holds no picture that decodes: record or export it again")
        check_size(first[0].width, first[0].height, name, CLIP_MEGAPIXELS)
        colour, notes = colour_of(first[0], name, limited=limited)
        order, order_notes = field_order(first, stream)
        aspect, counted = stream.sample_aspect_ratio or None, context.name != "vp8"
        size = first[0].height, first[0].width
    with opened(path, name) as (container, stream):
        stamps, keys, count, damage = _walk(container, stream, name)
        damage = (*damage, *_end(container, stream, stamps, name))
        tick, declared = Fraction(stream.time_base), stream.average_rate or stream.guessed_rate
    timing = timing_of(stamps, tick, declared if declared and declared <= 1000 else None)
    source = clip_mode(*size, timing.rate, order, mode, aspect)
    stamps = np.sort(stamps)
    placed = counted and stamps.size == count and bool((np.diff(stamps) > 0).all()) and keys.size > 0
    if not counted:
        count = _counted(path, name)
    return ClipIndex(
        shown(Path(path).name),
        stamps if placed else stamps[:0],
        np.unique(keys) if placed else keys[:0],
        count,
        timing.rate,
        size,
        colour,
        source.raster,
        source.name,
        (*notes, *order_notes, *timing.notes, *source.notes),
        damage,
    )


def _first(container: Any, stream: Any) -> Iterator[Any]:
    """Yield the first pictures that decode."""
    found = 0
    for decoded in tolerant(container, stream):
        for frame in decoded.frames:
            yield frame
            found += 1
            if found == _AHEAD:
                return


@dataclass(frozen=True)
class Decoded:
    """What a packet gave: pictures, what is broken and its time, the time of a sound key picture."""

    frames: tuple[Any, ...]
    broken: str = ""
    at: int | None = None
    key: int | None = None


def tolerant(container: Any, stream: Any, begin: int | None = None) -> Iterator[Decoded]:
    """Yield what every packet gives, damage told instead of raised.

    Parameters:  begin : time of the key picture to begin at, packets before it are passed by; None for the
        first of all
    Raises: LibraryError when PyAV does not fit
    """
    stream.thread_type = "SLICE"  # pictures decoded side by side tell of damage when it is too late
    packets, unfit = whole_packets(container, stream), slice_check(stream)
    begun = begin is None
    while True:
        try:
            packet, _ = next(packets)
        except StopIteration:
            return
        except Exception as error:  # what lies behind cannot be reached
            _check_fit(error)
            yield Decoded((), reason_of(error))
            return
        if not begun:
            begun = bool(packet.size) and packet.is_keyframe and packet.pts == begin
            if not begun:
                continue
        key = packet.pts if packet.size and packet.is_keyframe else None
        if unfit(packet):
            yield Decoded((), UNFIT, packet.pts)
            continue
        try:
            frames = tuple(packet.decode())
        except Exception as error:  # decoders raise almost anything on damaged data
            _check_fit(error)
            yield Decoded((), reason_of(error), packet.pts)
            continue
        corrupt = [f.pts for f in frames if f.is_corrupt and f.pts is not None]
        corrupt += [packet.pts] if packet.is_corrupt and packet.pts is not None else []
        sound_key = None if packet.is_corrupt or packet.pts in corrupt else key
        broken = "marked as corrupt" if corrupt or packet.is_corrupt else ""
        yield Decoded(frames, broken, min(corrupt, default=None), sound_key)


def _check_fit(error: Exception) -> None:
    unfit = misfit(error)
    if unfit is not None:
        raise unfit from None


def _walk(
    container: Any, stream: Any, name: str
) -> tuple[NDArray[np.int64], NDArray[np.int64], int, tuple[str, ...]]:
    """Return the times of the pictures and of the key pictures, how many there are, and what is damaged."""
    stamps: list[int] = []
    keys: list[int] = []
    count = left_out = corrupt = 0
    damage = []
    try:
        for packet, left_out in whole_packets(container, stream):  # noqa: B007  # the last is told
            if not packet.size or packet.is_discard:
                continue
            count += 1
            corrupt += bool(packet.is_corrupt)
            if count > CLIP_PICTURES:
                raise ReadError(f"{name}: holds over {CLIP_PICTURES} pictures: cut it into parts")
            if packet.pts is not None:
                stamps.append(packet.pts)
                if packet.is_keyframe:
                    keys.append(packet.pts)
    except ScalesimError:
        raise
    except Exception as error:
        _check_fit(error)
        damage.append(f"the file cannot be read on after {count} pictures ({reason_of(error)})")
    if corrupt:
        damage.append(f"{corrupt} packets are marked as corrupt")
    if left_out:
        damage.append(f"{left_out} pictures at its begin need earlier ones that are not there")
    missing = max(0, stream.frames - count - left_out)
    if missing:
        damage.append(f"{missing} of the {stream.frames} pictures that it states are not there")
    return np.array(stamps, np.int64), np.array(keys, np.int64), count, tuple(damage)


def _end(container: Any, stream: Any, stamps: NDArray[np.int64], name: str) -> Iterator[str]:
    """Yield what is missing at the end, by the duration that the file states."""
    if not stamps.size:
        return
    tick = Fraction(stream.time_base)
    try:
        check_end(container, stream, (int(stamps.max()) + 1 - (stream.start_time or 0)) * tick, name)
    except ReadError as error:
        yield str(error).removeprefix(f"{name}: ").partition(": copy")[0]


def _counted(path: str | os.PathLike[str], name: str) -> int:
    """Return how many pictures come out: some codecs store pictures that are never shown."""
    with opened(path, name) as (container, stream):
        return sum(len(decoded.frames) for decoded in tolerant(container, stream))
