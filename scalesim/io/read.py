"""From a file, or numbered files, to a clip."""

from __future__ import annotations

import os
from pathlib import Path

from scalesim.core.clip import Clip, still_clip
from scalesim.core.files import check_file, shown
from scalesim.core.limits import CLIP_GIGABYTES
from scalesim.io.clips.read import CLIP_ENDINGS, looks_like_clip, read_clip
from scalesim.io.clips.sequence import is_sequence, read_sequence
from scalesim.io.pictures.read import read_picture


def read(path: str | Path, *, mode: str | None = None, limited: bool = False) -> Clip:
    """Return the clip of a picture file (an endless still), a clip file, or numbered picture files.

    Clips and sequences are streamed: nothing is held whole, and each call of their `pictures` starts afresh.

    Parameters:
        path : PNG, JPEG, WebP, BMP or TIFF, 8 or 16 bit, a woven frame when `mode` is interlaced; a
            clip that FFmpeg decodes (.mkv, .mp4, .mov, .avi, .webm, .ts ..., known by content); a
            sequence as ``shot-%04d.png``, ``shot-*.png`` or a folder of pictures
        mode : a mode's name such as "1080i60"; None guesses it from the size, a clip's also from its rate
        limited : the file holds limited-range video codes (black 16, white 235 of 8 bits)
    Raises: ReadError for a file that cannot be read; ParameterError for a mode that does not fit
    """
    if is_sequence(path):
        return read_sequence(path, mode=mode, limited=limited)
    check_file(path, "picture or clip", 1000 * CLIP_GIGABYTES, too_large="cut it into parts")
    if _is_clip(path):
        return read_clip(path, mode=mode, limited=limited)
    picture = read_picture(path, limited=limited)
    return still_clip(picture.values, mode=mode, name=shown(Path(path).name), notes=picture.notes)


def _is_clip(path: str | Path) -> bool:
    """Tell by content, and where that says nothing by the name's ending, whether a file is a clip."""
    try:
        with open(path, "rb") as file:
            head = file.read(200)
    except (OSError, ValueError):
        head = b""
    return looks_like_clip(head) or (
        os.path.splitext(path)[1].lower() in CLIP_ENDINGS and not _is_picture(head)
    )


def _is_picture(head: bytes) -> bool:
    return head.startswith((b"\x89PNG", b"\xff\xd8\xff", b"BM", b"II*\0", b"MM\0*")) or head[8:12] == b"WEBP"
