"""Numbered picture files as a clip: a pattern, a folder or a wildcard; each file is one frame.

Files are decoded one at a time, when their picture is asked for; only their headers are read before.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path

from scalesim.core.clip import Clip, still_clip
from scalesim.core.files import alike, check_file, shown, spellings
from scalesim.core.limits import SEQUENCE_FILES
from scalesim.core.picture import Picture, split_fields
from scalesim.core.raster import Raster
from scalesim.core.source import source_mode
from scalesim.errors import ReadError
from scalesim.io.pictures.header import KINDS, recognise, size_of
from scalesim.io.pictures.read import read_picture
from scalesim.texts import echoed

_NUMBER_FIELD = re.compile(r"%(0\d+)?d")
_ENDINGS = frozenset(ending for endings in KINDS.values() for ending in endings)
_WIDEST = 255
"""Characters of a file's name on every common system."""
_NAMED = 5
"""Missing numbers named in a message; the rest are counted."""


def is_sequence(path: str | os.PathLike[str]) -> bool:
    """Tell whether a path names several files: a folder, or a name with ``%04d``, ``*`` or ``?``."""
    if os.path.isdir(path):
        return True
    name = Path(path).name
    return not os.path.exists(path) and bool(_NUMBER_FIELD.search(name) or set("*?") & set(name))


def read_sequence(path: str | os.PathLike[str], *, mode: str | None = None, limited: bool = False) -> Clip:
    """Return the clip of numbered pictures, in the order of their numbers, at the mode's rate.

    With an interlaced mode every file is a woven frame and becomes two fields. A single file is a still.

    Parameters:
        path : ``shot-%04d.png``, a folder, or ``shot-*.png``; PNG, JPEG, WebP, BMP or TIFF files
        mode, limited : as for `scalesim.io.read.read`
    Raises: ReadError for no files, numbers missing from a ``%d`` pattern, files of different sizes, or
        a file that cannot be read; ParameterError for a mode that does not fit
    """
    name = shown(path)
    files, notes = _files(Path(path), name)
    if not files:
        raise ReadError(
            f"{name}: names no picture file: check the folder and the pattern ({'shot-%04d.png'!r})"
        )
    if len(files) > SEQUENCE_FILES:
        raise ReadError(
            f"{name}: names {len(files)} files; the limit is {SEQUENCE_FILES}: give a part of them"
        )
    _check_sizes(files)
    first = read_picture(files[0], limited=limited)
    if len(files) == 1:
        return still_clip(first.values, mode=mode, name=shown(files[0].name), notes=(*first.notes, *notes))
    source = source_mode(first.values.shape[0], first.values.shape[1], mode)
    raster = source.raster
    return Clip(
        raster,
        lambda: _pictures(files, raster, limited),
        shown(Path(path).name or name),
        source.name,
        (*first.notes, *notes, *source.notes),
        length=len(files) * raster.period,
    )


def _pictures(files: list[Path], raster: Raster, limited: bool) -> Iterator[Picture]:
    count = 0
    for file in files:
        values = read_picture(file, limited=limited).values
        if values.shape[:2] != (raster.frame_lines, raster.samples):
            raise _other_size(file, values.shape[1::-1], files[0], (raster.samples, raster.frame_lines))
        for field in split_fields(values, raster):
            yield Picture(field, raster, count / raster.rate)
            count += 1


def _files(path: Path, name: str) -> tuple[list[Path], tuple[str, ...]]:
    """Return the files in order, and a sentence when numbers are missing between them."""
    pattern = _NUMBER_FIELD.search(path.name)
    try:
        if path.is_dir():
            found = [file for file in path.iterdir() if file.suffix.lower() in _ENDINGS]
        else:
            wanted = ["*"] if pattern else spellings(path.name)
            found = [file for name in wanted for file in path.parent.glob(name)]
        found = [file for file in found if _is_meant(file.name, path) and file.is_file()]
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ReadError(
            f"{name}: cannot be listed ({reason}): check the folder and its permissions"
        ) from None
    if pattern and not path.is_dir():
        return _numbered(found, path.name, pattern, name), ()
    files = sorted(found, key=_natural)
    missing = _missing([_last_number(file) for file in files])
    note = f"{missing} missing between the files: those after follow without a pause."
    return files, (note,) if missing else ()


def _is_meant(name: str, path: Path) -> bool:
    """Tell whether a file may be named by a pattern; hidden ones are not, as in a shell.

    macOS puts a file `._x.png`, which is no picture, beside each `x.png` on disks of other systems.
    """
    return not name.startswith(".") or (path.name.startswith(".") and not path.is_dir())


def _numbered(files: list[Path], template: str, pattern: re.Match[str], name: str) -> list[Path]:
    before, after = template[: pattern.start()], template[pattern.end() :]
    width = int(pattern[1] or 1)
    if width > _WIDEST:
        raise ReadError(
            f"{name}: asks for numbers of {echoed(width)} digits; names hold at most {_WIDEST}: such as "
            "shot-%04d.png"
        )
    # Padded to the width, or longer and then without zeros before, as numbers are written by %04d.
    digits = rf"\d{{{width}}}|[1-9]\d{{{width},}}" if pattern[1] else r"0|[1-9]\d*"
    rule = re.compile(rf"{re.escape(alike(before))}({digits}){re.escape(alike(after))}")
    found = {int(match[1]): file for file in files if (match := rule.fullmatch(alike(file.name)))}
    missing = _missing(sorted(found))
    if missing:
        wildcard = f"{before}*{after}"
        raise ReadError(
            f"{name}: {missing} missing: supply what is missing, or give '{wildcard}' for those there are"
        )
    return [found[number] for number in sorted(found)]


def _missing(numbers: Sequence[int | None]) -> str:
    """Return the whole numbers not in an ascending list, in words for a message, "" when there are none."""
    known = [number for number in numbers if number is not None]
    if len(known) < len(numbers) or len(known) < 2:
        return ""
    gaps = [(low + 1, high) for low, high in pairwise(known) if high > low + 1]
    # in whole numbers, since a range counts no more than 2^63
    count = sum(high - low for low, high in gaps)
    if count == 0:
        return ""
    named = [echoed(low + k) for low, high in gaps for k in range(min(high - low, _NAMED))][:_NAMED]
    more = f" and {echoed(count - len(named))} more" if count > len(named) else ""
    return f"number {', '.join(named)}{more} {'is' if count == 1 else 'are'}"


def _natural(file: Path) -> list[tuple[int, int, str]]:
    """Return a key that sorts 2 before 10."""
    return [(0, int(p), "") if p.isdigit() else (1, 0, p) for p in re.split(r"(\d+)", file.name) if p]


def _last_number(file: Path) -> int | None:
    numbers = re.findall(r"\d+", file.stem)
    return int(numbers[-1]) if numbers else None


def _check_sizes(files: list[Path]) -> None:
    """Raise ReadError naming the first file whose header states another size than the first file's."""
    first = _stated_size(files[0])
    for file in files[1:]:
        size = _stated_size(file)
        if first and size and size != first:
            raise _other_size(file, size, files[0], first)


def _stated_size(file: Path) -> tuple[int, int] | None:
    """Return (samples, lines) from a header; None for TIFF, whose size is seen when it is decoded."""
    name = shown(file)
    check_file(file)
    with open(file, "rb") as opened:
        kind = recognise(opened.read(64), name)
        opened.seek(0)
        return None if kind == "TIFF" else size_of(opened, kind, name)


def _other_size(file: Path, size: tuple[int, ...], first: Path, expected: tuple[int, int]) -> ReadError:
    return ReadError(
        f"{shown(file)}: is {size[0]}x{size[1]}, {shown(first.name)} is {expected[0]}x{expected[1]}: "
        "a sequence has one size; move the others away"
    )
