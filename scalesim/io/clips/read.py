"""Read clips: a file that FFmpeg decodes becomes pictures on a raster, one at a time.

It is decoded afresh whenever its pictures are asked for; nothing holds it whole.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from scalesim.core.clip import Clip
from scalesim.core.files import check_file, shown
from scalesim.core.limits import CLIP_GIGABYTES
from scalesim.core.luma import Luma
from scalesim.core.picture import Picture
from scalesim.core.planes import CodedPicture
from scalesim.core.raster import Raster
from scalesim.errors import ReadError
from scalesim.io.clips.colour import to_planes
from scalesim.io.clips.facts import ClipFacts, look_through
from scalesim.io.clips.ffmpeg import damaged, frames_of, opened
from scalesim.io.clips.luma import luma_of
from scalesim.io.clips.mode import clip_mode

CLIP_ENDINGS = frozenset(
    [
        ".mkv",
        ".mp4",
        ".mov",
        ".avi",
        ".webm",
        ".ts",
        ".m2ts",
        ".mts",
        ".m4v",
        ".mpg",
        ".mpeg",
        ".vob",
        ".flv",
        ".wmv",
        ".asf",
        ".ogv",
        ".mxf",
        ".y4m",
        ".dv",
    ]
)
_STARTS = (b"\x1aE\xdf\xa3", b"FLV\x01", b"OggS", b"YUV4MPEG2", b"\0\0\x01\xba", b"\x30\x26\xb2\x75")
_PICTURE_BRANDS = (b"avif", b"avis", b"heic", b"heix", b"mif1", b"msf1")


def looks_like_clip(head: bytes) -> bool:
    """Tell from a file's first bytes (200 are enough) whether it is of a kind that holds clips."""
    if head.startswith(_STARTS) or (head[:4] == b"RIFF" and head[8:12] == b"AVI "):
        return True
    if head[4:8] == b"ftyp":
        return head[8:12] not in _PICTURE_BRANDS
    # Packets of a transport stream begin with 47 hex, every 188 bytes, or 192 with a time code before.
    return any(len(head) > k + n and head[k] == head[k + n] == 0x47 for k, n in ((0, 188), (4, 192)))


def read_clip(path: str | os.PathLike[str], *, mode: str | None = None, limited: bool = False) -> Clip:
    """Return the moving clip of a file; memory does not grow with its length.

    Colours follow the stream's tags; untagged ones are BT.601 below 720 lines, else BT.709, and
    limited range (common practice). Interlaced streams are split into fields in their order of time.
    Every assumption is in the clip's notes.

    Parameters:
        mode : a mode's name; None guesses it from size, fields and rate
        limited : take the codes as limited range (black 16, white 235 of 8 bits) whatever the tags say
    Raises: ReadError when the file is no clip, is larger than `core.limits` allow, is cut short, or (while
        its pictures are taken) is damaged; ParameterError for a mode that does not fit
    """
    name = shown(path)
    check_file(path, "clip", 1000 * CLIP_GIGABYTES, too_large="cut it into parts")
    facts = look_through(path, name, limited=limited)
    if facts.order and facts.lines % 2:
        raise ReadError(
            f"{name}: marked interlaced, but {facts.lines} lines are no two fields: export it again"
        )
    source = clip_mode(facts.lines, facts.samples, facts.timing.rate, facts.order, mode, facts.sample_aspect)
    raster = source.raster
    return Clip(
        raster,
        lambda: _pictures(path, name, facts, raster),
        shown(Path(path).name),
        source.name,
        (*facts.notes, *facts.timing.notes, *source.notes),
        length=None if facts.frames is None else facts.frames * raster.period,
        lumas=lambda: _lumas(path, name, facts),
    )


def _pictures(path: str | os.PathLike[str], name: str, facts: ClipFacts, raster: Raster) -> Iterator[Picture]:
    parities = [None] if raster.period == 1 else [field.parity for field in raster.fields]
    count = 0
    with opened(path, name) as (container, stream):
        for frame in _frames(container, stream, name, facts):
            for parity in parities:
                planes = to_planes(frame, facts.colour, parity)
                yield CodedPicture(planes, raster, count / raster.rate)
                count += 1


def _lumas(path: str | os.PathLike[str], name: str, facts: ClipFacts) -> Iterator[Luma]:
    with opened(path, name) as (container, stream):
        begun = None
        for count, frame in enumerate(_frames(container, stream, name, facts)):
            seconds = float(count / facts.timing.rate) if frame.time is None else frame.time
            begun = seconds if begun is None else begun
            yield Luma(luma_of(frame), seconds - begun)


def _frames(container: Any, stream: Any, name: str, facts: ClipFacts) -> Iterator[Any]:
    decoded, count = frames_of(container, stream), 0
    while True:
        try:
            frame = next(decoded, None)
        except Exception as error:
            # Decoders raise almost anything on damaged data; the user needs one line, not their kind.
            raise damaged(name, count, error) from None
        if frame is None:
            break
        if frame.is_corrupt:
            raise damaged(name, count, None)
        if (frame.height, frame.width) != (facts.lines, facts.samples):
            raise ReadError(
                f"{name}: picture {count} is {frame.width}x{frame.height}, those before are {facts.samples}x"
                f"{facts.lines}: cut the clip where its size changes"
            )
        yield frame
        count += 1
    if facts.frames is not None and count < facts.frames:
        raise damaged(name, count, None)
