"""Frames named on a command line: patterns, notes beside them, and names that tell them apart."""

from __future__ import annotations

import glob
import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from scalesim.texts import echoed

if TYPE_CHECKING:
    from scalesim.core.framing import Sides
    from scalesim.io.footage import Span
    from scalesim.jobs.frames import FrameSource
    from scalesim.sampled import Footage


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
    from scalesim.io.read import is_moving

    paths = _paths(patterns)
    if every is not None and not any(is_moving(path) for path in paths):
        raise ParameterError(
            f"--every {echoed(every)}: takes frames out of clips, and no clip is among the frames"
        )
    taken_off = {"trim": trim, "native": native}
    return [
        source
        for path, name, settings, reading in _noted(paths, mode, code_range, only)
        for source in _sources(path, name, settings, {**reading, **taken_off}, every)
    ]


def footage_of(
    patterns: Iterable[str],
    mode: str | None,
    code_range: str | None,
    only: tuple[str, ...] = (),
    *,
    every: str | None = None,
    spans: Sequence[Span] = (),
    trim: Sides | Literal["auto"] | None = None,
    native: int | Literal["auto"] | None = None,
) -> tuple[list[Footage], dict[str, str]]:
    """Return the clips and pictures that patterns name as footage, and why some could not be taken up.

    Parameters:  as of `sources_of`; spans : parts of clips in seconds
    """
    from scalesim.errors import ReadError
    from scalesim.io.footage import footage

    found, failed = [], {}
    how: dict[str, Any] = {"every": every, "spans": spans, "trim": trim, "native": native}
    for path, name, settings, reading in _noted(_paths(patterns), mode, code_range, only):
        try:
            kind = _kind(path, settings)
            found.append(footage(path, name=name, settings=settings, kind=kind, **reading, **how))
        except ReadError as error:  # the others are done
            failed[name] = str(error)
    return found, failed


def _paths(patterns: Iterable[str]) -> list[Path]:
    from scalesim.errors import ParameterError

    paths = [path for pattern in patterns for path in matches(pattern)]
    if not paths:
        raise ParameterError("no frames; name at least one picture file")
    return paths


def _noted(
    paths: list[Path], mode: str | None, code_range: str | None, only: tuple[str, ...]
) -> list[tuple[Path, str, dict[str, Any], dict[str, Any]]]:
    """Return (path, name, what its note says, how it is read) of the files whose notes say what is wanted."""
    from scalesim.errors import ParameterError
    from scalesim.io.notes import note_beside

    wanted, found = dict(_pair(text) for text in only), []
    for path, name in zip(paths, _names(paths), strict=True):
        settings = note_beside(path)
        if all(str(settings.get(key)) == value for key, value in wanted.items()):
            limited = (code_range or settings.get("range", "full")) == "limited"
            reading = {"mode": mode or settings.get("source_mode"), "limited": limited}
            found.append((path, name, settings, reading))
    if not found:
        raise ParameterError(
            f"--only {echoed(' '.join(only))}: no frame's note says so; see the notes beside the frames"
        )
    return found


def _kind(path: Path, settings: dict[str, Any]) -> str:
    """Return what a file shows: as its note says, else a picture's folder."""
    from scalesim.io.read import is_moving

    told = str(settings.get("game") or settings.get("kind") or "")
    folder = f"the folder {path.parent.name}" if path.parent.name else ""
    return told if told or is_moving(path) else folder


def _sources(
    path: Path, name: str, settings: dict[str, Any], reading: dict[str, Any], every: str | None
) -> list[FrameSource]:
    """Return the frames of a file: itself, or those taken out of a clip."""
    from scalesim.errors import ReadError
    from scalesim.io.read import is_moving, read
    from scalesim.jobs.frames import FrameSource, frames_of_clip

    kind = _kind(path, settings)
    if not is_moving(path):
        return [FrameSource(name, lambda: read(path, **reading), settings, kind)]
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
