"""What a clip file holds, found out before its pictures are asked for.

The first pictures are decoded for size, colour tags and fields; the rest is looked through without
decoding (see `scalesim.io.clips.scan`).
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from typing import Any

from scalesim.core.limits import CLIP_MEGAPIXELS
from scalesim.errors import ReadError
from scalesim.io.clips.colour import Colour, colour_of
from scalesim.io.clips.ffmpeg import damaged, frames_of, load_av, opened
from scalesim.io.clips.scan import scan_clip
from scalesim.io.clips.timing import Timing, timing_of
from scalesim.io.pictures.header import check_size

_AHEAD = 8
"""Pictures decoded to see whether a stream has fields: one alone may be an exception."""
# FFmpeg's field orders of a stream. 4 and 5, "coded top (bottom) first", are what woven storage is written
# as, and there the field coded first is the one shown first (RFC 9559, FieldOrder 9 and 14).
_ORDERS = {2: "top", 4: "top", 3: "bottom", 5: "bottom"}


@dataclass(frozen=True)
class ClipFacts:
    """What was found out about a stream.

    lines, samples: of a stored frame. order: "top" or "bottom", the field shown first, None progressive.
    timing: stored frames per second. frames: their number, None when it cannot be told. notes: sentences.
    """

    lines: int
    samples: int
    colour: Colour
    order: str | None
    timing: Timing
    frames: int | None
    sample_aspect: Fraction | None
    notes: tuple[str, ...]


def look_through(path: str | os.PathLike[str], name: str, *, limited: bool = False) -> ClipFacts:
    """Return the facts of a clip file.

    Raises: ReadError when it is no clip, is damaged at its start, or is cut short
    """
    with opened(path, name) as (container, stream):
        # Stated sizes first: a decoder makes room for some twenty pictures before it gives one.
        if stream.codec_context.width and stream.codec_context.height:
            check_size(stream.codec_context.width, stream.codec_context.height, name, CLIP_MEGAPIXELS)
        try:
            first = list(islice(frames_of(container, stream), _AHEAD))
        except Exception as error:  # decoders raise almost anything on damaged data
            raise damaged(name, 0, error) from None
        if not first:
            raise ReadError(f"{name}: holds 0 pictures that decode: record or export it again")
        check_size(first[0].width, first[0].height, name, CLIP_MEGAPIXELS)
        colour, notes = colour_of(first[0], name, limited=limited)
        order, order_notes = field_order(first, stream)
        aspect, hidden = stream.sample_aspect_ratio or None, stream.codec_context.name == "vp8"
    scan = scan_clip(path, name)
    return ClipFacts(
        lines=first[0].height,
        samples=first[0].width,
        colour=colour,
        order=order,
        timing=timing_of(scan.stamps, scan.tick, scan.declared),
        # VP8 stores pictures that are never shown, so its packets do not tell the number.
        frames=None if hidden else scan.count,
        sample_aspect=aspect,
        notes=(*notes, *order_notes, *scan.notes, *_turned(first[0])),
    )


def field_order(first: list[Any], stream: Any) -> tuple[str | None, tuple[str, ...]]:
    """Return the field shown first and what was assumed: by the frames' own marks, then by the stream's."""
    marked = [frame for frame in first if frame.interlaced_frame]
    if not marked:
        return _ORDERS.get(int(stream.codec_context.field_order)), ()
    order = "top" if 2 * _top_first(marked) >= len(marked) else "bottom"
    if len(marked) == len(first):
        return order, ()
    share = f"{len(marked)} of the first {len(first)} frames are"
    return order, (f"{share} marked interlaced: all were split in fields.",)


def _top_first(frames: list[Any]) -> int:
    """Return how many frames have their top field first; a filter of FFmpeg sees that mark, PyAV not."""
    av, like = load_av(), frames[0]
    graph = av.filter.Graph()
    source = graph.add_buffer(
        width=like.width, height=like.height, format=like.format, time_base=like.time_base or Fraction(1)
    )
    chosen, sink = graph.add("select", r"eq(interlace_type\,TOPFIRST)"), graph.add("buffersink")
    source.link_to(chosen)
    chosen.link_to(sink)
    graph.configure()
    for frame in frames:
        source.push(frame)
    source.push(None)
    count = 0
    while True:
        try:
            sink.pull()
        except (av.error.EOFError, av.error.BlockingIOError):
            return count
        count += 1


def _turned(frame: Any) -> tuple[str, ...]:
    degrees = int(frame.rotation)
    return (f"The file asks for a turn by {degrees} degrees on display: left as stored.",) if degrees else ()
