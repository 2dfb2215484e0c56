"""From a file, or numbered files, to a clip."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Literal

from scalesim.core.clip import Clip, still_clip
from scalesim.core.files import check_file, shown
from scalesim.core.framing import Framing, Sides, cut_of
from scalesim.core.limits import CLIP_GIGABYTES
from scalesim.io.clips.read import CLIP_ENDINGS, looks_like_clip, read_clip
from scalesim.io.clips.sequence import is_sequence, read_sequence
from scalesim.io.framed import framed
from scalesim.io.pictures.read import read_picture


def read(
    path: str | Path,
    *,
    mode: str | None = None,
    limited: bool = False,
    trim: Sides | Literal["auto"] | None = None,
    native: int | Literal["auto"] | None = None,
) -> Clip:
    """Return the clip of a picture file (an endless still), a clip file, or numbered picture files.

    Clips and sequences are streamed: nothing is held whole, and each call of their `pictures` starts afresh.

    Parameters:
        path : PNG, JPEG, WebP, BMP or TIFF, 8 or 16 bit, a woven frame when `mode` is interlaced; a
            clip that FFmpeg decodes (.mkv, .mp4, .mov, .avi, .webm, .ts ..., known by content); a
            sequence as ``shot-%04d.png``, ``shot-*.png`` or a folder of pictures
        mode : a mode's name such as "1080i60"; None guesses it from the size, a clip's also from its rate
        limited : the file holds limited-range video codes (black 16, white 235 of 8 bits)
        trim : lines and samples to take off at (top, bottom, left, right); "auto" takes off a border of one
            colour
        native : frame lines before a whole-number enlargement, which is undone; "auto" finds them
    What was taken off is in the clip's notes; of a clip, the first picture decides.
    Raises: ReadError for a file that cannot be read; ParameterError for a mode that does not fit
    """
    framing, name = Framing(trim, native), shown(Path(path).name)
    moving = read_sequence if is_sequence(path) else None
    if moving is None:
        check_file(path, "picture or clip", 1000 * CLIP_GIGABYTES, too_large="cut it into parts")
        moving = read_clip if _is_clip(path) else None
    if moving is not None:
        if not framing:
            return moving(path, mode=mode, limited=limited)
        clip = moving(path, mode=None if moving is read_clip else "custom", limited=limited)
        if clip.frame is None:
            return framed(clip, framing, mode)
        values, notes = clip.frame, clip.notes  # a sequence of one picture
    else:
        picture = read_picture(path, limited=limited)
        values, notes = picture.values, picture.notes
    if framing:
        cut = cut_of(values, framing, name)
        values, notes = cut(values), (*notes, *cut.notes)
    return still_clip(values, mode=mode, name=name, notes=notes)


def is_moving(path: str | Path) -> bool:
    """Tell whether a path is a clip, or names several picture files."""
    return is_sequence(path) or _is_clip(path)


def _is_clip(path: str | Path) -> bool:
    """Tell by content, and where that says nothing by the name's ending, whether a file is a clip."""
    head = b""
    try:
        if os.path.isfile(path):  # a pipe that nobody writes to would never open
            with open(path, "rb") as file:
                head = file.read(200)
    except (OSError, ValueError):
        pass
    return looks_like_clip(head) or (
        os.path.splitext(path)[1].lower() in CLIP_ENDINGS and not _is_picture(head)
    )


def _is_picture(head: bytes) -> bool:
    return head.startswith((b"\x89PNG", b"\xff\xd8\xff", b"BM", b"II*\0", b"MM\0*")) or head[8:12] == b"WEBP"
