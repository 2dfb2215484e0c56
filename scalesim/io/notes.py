"""Notes beside frames, and studies: what a reviewer writes down, in TOML."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from scalesim.chain import Chain
from scalesim.errors import ParameterError, ReadError
from scalesim.io.documents import read_chain_file, read_toml
from scalesim.schema import Param, convert, read_table

_POSITION = Param("free")

NOTE = {
    "box": Param("free", optional=True, doc="the box that was tested"),
    "revision": Param("free", optional=True, doc="its hardware revision"),
    "firmware": Param("free", optional=True, doc="its firmware"),
    "dials": Param(
        "map",
        of=_POSITION,
        item="position",
        or_text=True,
        optional=True,
        doc="how its controls were set",
        remedy="sharpness = 2 below [dials]",
    ),
    "source_mode": Param("text", optional=True, doc="mode the frame is read in", remedy='such as "720p60"'),
    "range": Param(
        "choice", choices=("full", "limited"), optional=True, doc="codes of the file: 0-255 or 16-235"
    ),
    "unit": Param("free", optional=True, doc="which of several units"),
    "minutes_on": Param("number", unit="minutes", at_least=0, optional=True, doc="how long the box was on"),
    "author": Param("free", optional=True, doc="who made it; under the title where all frames say the same"),
    "date": Param("date", optional=True, doc="when it was captured; likewise"),
    "display": Param("free", optional=True, doc="what it is watched on"),
    "game": Param("free", optional=True, doc="the game that is shown: frames of one speak for it alone"),
    "kind": Param("free", optional=True, doc="what kind of picture it is, such as menu or landscape"),
    "remark": Param("free", optional=True, doc="anything else"),
}
"""What a note may say; `source_mode` and `range` are also used to read the frame."""

_WORD = Param("text")
_NATURAL = Param("whole", at_least=0)
_WORDS: dict[str, Any] = {"of": _WORD, "item": "key", "fewest": 0, "or_text": True, "optional": True}

CHAIN_OF_STUDY = {
    "name": Param("text", fewest=0, optional=True, doc="what the chain is called"),
    "text": Param("text", optional=True, doc="the chain as text", remedy='such as "line-drop lines=240"'),
    "file": Param("file", optional=True, doc="a chain's file, relative to the study"),
}
STUDY = {
    "frames": Param(
        "list",
        of=Param("file"),
        item="pattern",
        doc="picture files, relative to the study",
        remedy='such as ["frames/*.png"]',
    ),
    "chain": Param("any", doc="[[chain]] tables with name and text, or file"),
    "every": Param("text", optional=True, doc="how often to take a frame out of a clip: 1s, 30 or scene"),
    "parts": Param("list", doc="parts of clips, as 10-90 or 1:10-2:00", **_WORDS),
    "vary": Param("list", doc="settings of dials to try, as kind.key=values", **_WORDS),
    "displays": Param("list", doc="tubes to measure and to show on: keys or files", **_WORDS),
    "reference": Param("text", default="ideal", doc="ideal, source or a picture file, relative to the study"),
    "by": Param("list", doc="metric keys to rank by", **_WORDS),
    "crop": Param(
        "list",
        of=_NATURAL,
        item="number",
        fewest=4,
        most=4,
        or_text=True,
        optional=True,
        unit="source samples",
        doc="part to show closely",
        remedy="top, left, height and width: [100, 200, 180, 320]",
    ),
    "still": Param("list", doc="stills of frames, FRAME or FRAME=CHAIN,CHAIN", **_WORDS),
    "title": Param("text", optional=True, doc="title of the page in place of the finding"),
    "author": Param("text", optional=True, doc="who made it"),
    "date": Param("free", optional=True, doc="when, as it is to be written"),
    "tube": Param("choice", choices=("4:3", "16:9"), default="4:3", doc="shape of the tube"),
    "metrics": Param("list", doc="metric keys to measure", **_WORDS),
    "group_by": Param(
        "choice", choices=tuple(NOTE), optional=True, doc="rank frames apart whose notes differ in it"
    ),
}
"""What a study may say."""


def note_beside(picture: Path) -> dict[str, Any]:
    """Return what `<picture name>.toml` beside a picture says, as plain values; {} when there is none.

    `dials` may be a table of positions; it becomes one text.

    Raises: ReadError or ParameterError naming the file for one that is no TOML, has unknown keys, or
        values that are not what they must be
    """
    if not picture.name:  # "." has no name of its own, and no note
        return {}
    path = picture.with_suffix(".toml")
    if not path.is_file():
        return {}
    note = read_toml(path, "note")
    read_table(path.name, note, NOTE)
    return {key: _plain(value) for key, value in note.items()}


def read_study(path: Path) -> dict[str, Any]:
    """Return a study's keys: frames (paths), chains, and options as given.

    Frames are patterns relative to the study's folder, as is every file it names; chains are `[[chain]]`
    tables with `name` and either `text` or `file`.

    Raises: ReadError, ParameterError naming the file and the place
    """
    study = read_table(path.name, {"frames": [], "chain": [], **read_toml(path, "study")}, STUDY)
    tables = study["chain"]
    if not isinstance(tables, list) or not tables:
        raise ParameterError(f"{path.name}: has no [[chain]] table; add one with name and text, or file")
    study["chain"] = [_study_chain(path, number, table) for number, table in enumerate(tables, start=1)]
    study["frames"] = [str(path.parent / pattern) for pattern in study["frames"]]
    study["displays"] = [_beside(path.parent, text) for text in study.get("displays", ())]
    if study.get("reference", "ideal") not in ("ideal", "source"):
        study["reference"] = str(path.parent / study["reference"])
    return study


def _study_chain(path: Path, number: int, table: Any) -> Chain:
    place = f"{path.name}: chain {number}"
    keys = convert(place, table, Param("table", keys=CHAIN_OF_STUDY, remedy="a [[chain]] table"))
    if ("text" in keys) == ("file" in keys):
        raise ParameterError(f"{place}: give either text or file")
    try:
        chain = _chain(path.parent, keys)
    except ParameterError as error:
        raise ParameterError(f"{place}: {error}") from None
    except ReadError as error:
        raise ReadError(f"{place}: {error}") from None
    return Chain(*chain.stages, name=keys.get("name", chain.name))


def _beside(folder: Path, text: str) -> str:
    """Return a display's key as it is, a file as it lies relative to the study."""
    return str(folder / text) if text.lower().endswith(".toml") else text


def _chain(folder: Path, keys: Mapping[str, str]) -> Chain:
    if "text" in keys:
        return Chain(keys["text"]).files_from(folder)
    return read_chain_file(folder / keys["file"])


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return ", ".join(f"{key} {entry}" for key, entry in value.items())
    return value if isinstance(value, str | int | float | bool) else str(value)
