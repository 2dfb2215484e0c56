"""Notes beside frames, and studies: what a reviewer writes down, in TOML."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from scalesim.chain import Chain
from scalesim.errors import ParameterError, ReadError, nearest

NOTE_KEYS = (
    "box",
    "revision",
    "firmware",
    "dials",
    "source_mode",
    "range",
    "unit",
    "minutes_on",
    "date",
    "display",
    "remark",
)
"""What a note may say; `source_mode` and `range` are also used to read the frame."""

STUDY_KEYS = ("frames", "chain", "reference", "by", "crop", "tube", "metrics", "group_by")
_RANGES = ("full", "limited")


def note_beside(picture: Path) -> dict[str, Any]:
    """Return what `<picture name>.toml` beside a picture says, as plain values; {} when there is none.

    `dials` may be a table of positions; it becomes one text.

    Raises: ReadError or ParameterError naming the file for one that is no TOML or has unknown keys
    """
    path = picture.with_suffix(".toml")
    if not path.is_file():
        return {}
    note = read_toml(path)
    _check_keys(path, note, NOTE_KEYS)
    if note.get("range", "full") not in _RANGES:
        raise ParameterError(
            f"{path.name}: range is {note['range']!r}; {nearest(str(note['range']), _RANGES)}"
        )
    return {key: _plain(value) for key, value in note.items()}


def read_study(path: Path) -> dict[str, Any]:
    """Return a study's keys: frames (paths), chains (label -> chain), and options as given.

    Frames are patterns relative to the study's folder; chains are `[[chain]]` tables with `name` and
    either `text` or `file`.

    Raises: ReadError, ParameterError naming the file and the place
    """
    study = read_toml(path)
    _check_keys(path, study, STUDY_KEYS)
    patterns = study.get("frames", [])
    if not isinstance(patterns, list) or not all(isinstance(p, str) for p in patterns) or not patterns:
        raise ParameterError(
            f'{path.name}: frames is {patterns!r}; it must be a list such as ["frames/*.png"]'
        )
    tables = study.get("chain", [])
    if not isinstance(tables, list) or not tables:
        raise ParameterError(f"{path.name}: has no [[chain]] table; add one with name and text, or file")
    chains = [_study_chain(path, number, table) for number, table in enumerate(tables, start=1)]
    frames = [str(path.parent / pattern) for pattern in patterns]
    return {**study, "frames": frames, "chain": chains}


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML file's document, or raise ReadError naming it."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise ReadError(f"{path}: no such file; check the path") from None
    except (OSError, ValueError, RecursionError) as error:
        raise ReadError(f"{path}: cannot be read as TOML ({' '.join(str(error).split())})") from None


def _study_chain(path: Path, number: int, table: Any) -> Chain:
    place = f"{path.name}: chain {number}"
    if not isinstance(table, dict):
        raise ParameterError(f"{place} is {table!r}; it must be a [[chain]] table")
    _check_keys(path, table, ("name", "text", "file"))
    if ("text" in table) == ("file" in table):
        raise ParameterError(f"{place}: give either text or file")
    try:
        if "text" in table:
            chain = Chain(str(table["text"]))
        else:
            chain = Chain.from_toml((path.parent / str(table["file"])).read_text(encoding="utf-8"))
    except OSError as error:
        raise ReadError(f"{place}: {table['file']} cannot be read ({type(error).__name__})") from None
    except ParameterError as error:
        raise ParameterError(f"{place}: {error}") from None
    return Chain(*chain.stages, name=str(table.get("name", chain.name)))


def _check_keys(path: Path, found: Mapping[str, Any], known: tuple[str, ...]) -> None:
    for key in found:
        if key not in known:
            raise ParameterError(f"{path.name}: unknown key '{key}'; {nearest(key, known)}")


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return ", ".join(f"{key} {entry}" for key, entry in value.items())
    return value if isinstance(value, str | int | float | bool) else str(value)
