"""Frames named on a command line: patterns, notes beside them, and names that tell them apart."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from scalesim.texts import echoed

if TYPE_CHECKING:
    from scalesim.core.framing import Sides
    from scalesim.jobs.frames import FrameSource


def sources_of(
    patterns: Iterable[str],
    mode: str | None,
    code_range: str | None,
    only: tuple[str, ...] = (),
    *,
    every: str | None = None,
    trim: Sides | Literal["auto"] | None = None,
    native: int | Literal["auto"] | None = None,
) -> list[FrameSource]:
    """Return the frames that patterns name, with their notes; a pattern without a match is refused.

    Parameters:
        only : KEY=VALUE that a frame's note must say
        every : which frames are taken out of clips, see `frames_of_clip`
        trim, native : see `scalesim.io.read.read`
    """
    from scalesim.errors import ParameterError
    from scalesim.io.notes import note_beside
    from scalesim.io.read import is_moving

    wanted = dict(_pair(text) for text in only)
    paths = [path for pattern in patterns for path in matches(pattern)]
    if not paths:
        raise ParameterError("no frames; name at least one picture file")
    if every is not None and not any(is_moving(path) for path in paths):
        raise ParameterError(
            f"--every {echoed(every)}: takes frames out of clips, and no clip is among the frames"
        )
    found = []
    for path, name in zip(paths, _names(paths), strict=True):
        settings = note_beside(path)
        if all(str(settings.get(key)) == value for key, value in wanted.items()):
            in_mode = mode or settings.get("source_mode")
            limited = (code_range or settings.get("range", "full")) == "limited"
            reading = {"mode": in_mode, "limited": limited, "trim": trim, "native": native}
            found += _sources(path, name, settings, reading, every)
    if not found:
        raise ParameterError(
            f"--only {echoed(' '.join(only))}: no frame's note says so; see the notes beside the frames"
        )
    return found


def _sources(
    path: Path, name: str, settings: dict[str, Any], reading: dict[str, Any], every: str | None
) -> list[FrameSource]:
    """Return the frames of a file: itself, or those taken out of a clip."""
    from scalesim.errors import ReadError
    from scalesim.io.read import is_moving, read
    from scalesim.jobs.frames import FrameSource, frames_of_clip

    kind = str(settings.get("game") or settings.get("kind") or "")
    if not is_moving(path):
        folder = f"the folder {path.parent.name}" if path.parent.name else ""
        return [FrameSource(name, lambda: read(path, **reading), settings, kind or folder)]
    try:
        clip = read(path, **reading)
    except ReadError:  # told when its turn comes, as of any frame that cannot be read
        return [FrameSource(name, lambda: read(path, **reading), settings, kind)]
    if clip.is_still:
        return [FrameSource(name, lambda: clip, settings, kind)]
    return frames_of_clip(clip, every, name=name, settings=settings, kind=kind)


def matches(pattern: str) -> list[Path]:
    """Return the files of a pattern; shells that leave * alone (Windows) need it done here."""
    from scalesim.core.files import alike, spellings
    from scalesim.errors import ReadError

    given = Path(pattern)
    if not glob.has_magic(pattern) or given.exists():
        return [given]
    if given.parent.is_dir():
        if not glob.has_magic(given.name):
            return [given]
        pattern = str(Path(glob.escape(str(given.parent))) / given.name)  # brackets of its name are letters
    found = {
        alike(name): Path(name) for each in spellings(pattern) for name in glob.glob(each, recursive=True)
    }
    pictures = sorted(path for path in found.values() if path.is_file() and path.suffix.lower() != ".toml")
    if not pictures:
        raise ReadError(f"{given}: matches no file; check the folder and the ending")
    return pictures


def as_shells_do(given: Iterable[Path], system: str = os.name) -> list[Path]:
    """Return files that were given one by one; patterns among them only where no shell sees to them."""
    if system != "nt":
        return list(given)
    return [path for pattern in given for path in matches(str(pattern))]


def _names(paths: list[Path]) -> list[str]:
    """Return short names that tell the frames apart: the file name, with its folder where needed."""
    from scalesim.core.files import shown

    names = [path.name for path in paths]
    return [
        shown(name if names.count(name) == 1 and name else path.as_posix())
        for path, name in zip(paths, names, strict=True)
    ]


def _pair(text: str) -> tuple[str, str]:
    from scalesim.errors import ParameterError

    key, equals, value = text.partition("=")
    if not equals:
        raise ParameterError(
            f"--only {echoed(text)}: write it as KEY=VALUE, such as --only display=club-tube"
        )
    return key.strip(), value.strip()
