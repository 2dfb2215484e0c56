"""A saved answer read back: its words, tables, plots and pictures, to be shown again.

Beside `result.json`, which holds a job's own keys, a folder holds `answer.json`: what the answer says and
shows, part by part, with pictures as names of files. Both have paths relative to the folder.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields, is_dataclass
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim import plot, result
from scalesim.core.files import read_text
from scalesim.core.limits import DOCUMENT_MEGABYTES
from scalesim.errors import ReadError
from scalesim.plot import Plot
from scalesim.result import Part, Result, Table

ANSWER = "answer.json"
_TYPES = {
    cls.__name__: cls
    for cls in (
        result.Cell,
        result.Table,
        result.Picture,
        result.Code,
        result.Links,
        result.Box,
        result.Layer,
        result.Scale,
        result.Viewer,
        result.Part,
        plot.Axis,
        plot.Series,
        plot.Rule,
        plot.Heat,
        plot.Panel,
        plot.Plot,
    )
}
"""Every kind of thing an answer is made of, by the name it has in the file."""


def answer_text(found: Result, parts: Iterable[Part], pictures: Mapping[str, str]) -> str:
    """Return the text of `answer.json`.

    Parameters:
        parts : as they were shown, their pictures in files of their names
        pictures : name -> file of the result's own pictures
    """
    whole = {
        "schema": result.SCHEMA,
        "kind": found.kind,
        "title": found.title,
        "opening": list(found.opening),
        "sentences": found.sentences(),
        "table": _plain(found.table()),
        "figures": [_plain(each) for each in found.figures()],
        "parts": [_plain(part) for part in parts],
        "foot": list(found.foot),
        "pictures": dict(pictures),
    }
    return json.dumps(whole, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def read_saved(folder: str | Path) -> SavedResult:
    """Return the answer that a folder holds.

    Raises: ReadError for a folder without one, or one that is damaged
    """
    place = Path(folder)
    documents = []
    for name in ("result.json", ANSWER):
        try:
            documents.append(json.loads(_text(place, name)))
        except (ValueError, RecursionError) as error:
            raise ReadError(f"{place / name}: cannot be read ({type(error).__name__}); run again") from None
    try:
        return SavedResult(place, *documents)
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
        raise ReadError(f"{place / ANSWER}: is damaged ({type(error).__name__}); run again") from None


def _text(place: Path, name: str) -> str:
    if not (place / name).exists():
        raise ReadError(f"{place}: holds no {name}; name a folder that a command wrote")
    return read_text(place / name, "result", DOCUMENT_MEGABYTES)


class SavedResult(Result):
    """A result as it was saved; a `Result` like the one that was written."""

    def __init__(self, folder: Path, document: dict[str, Any], answer: dict[str, Any]) -> None:
        self.folder = folder
        self._kind = str(answer["kind"])
        self.document = dict(document)
        self._title, self._said = str(answer["title"]), [str(text) for text in answer["sentences"]]
        self._opening, self._foot = tuple(answer["opening"]), tuple(answer["foot"])
        self._table: Table = _read(answer["table"], folder)
        self._figures: tuple[Plot, ...] = tuple(_read(each, folder) for each in answer["figures"])
        self._parts: tuple[Part, ...] = tuple(_read(each, folder) for each in answer["parts"])
        self._files: dict[str, str] = dict(answer["pictures"])

    @property
    def kind(self) -> str:  # type: ignore[override]  # known only now
        """The command that gave it."""
        return self._kind

    @property
    def title(self) -> str:
        """Heading of its page."""
        return self._title

    @property
    def opening(self) -> tuple[str, ...]:
        """What was asked."""
        return self._opening

    @property
    def foot(self) -> tuple[str, ...]:
        """Cautions."""
        return self._foot

    def sentences(self) -> list[str]:
        """Return what was found, in the words of then."""
        return list(self._said)

    def table(self) -> Table:
        """Return the main figures."""
        return self._table

    def figures(self) -> tuple[Plot, ...]:
        """Return the plots, as data."""
        return self._figures

    @property
    def pictures(self) -> dict[str, NDArray]:
        """Name -> (lines, samples, 3) float32 code values, read now."""
        return {name: _picture(self.folder / file) / np.float32(255) for name, file in self._files.items()}

    def parts(self) -> Iterable[Part]:
        """Return what its page shows; pictures are read when they are wanted."""
        return self._parts

    def to_dict(self) -> dict[str, Any]:
        """Return the job's own keys."""
        ours = ("schema", "command", "version", "out", "files", "written")
        return {key: value for key, value in self.document.items() if key not in ours}


def _plain(value: Any) -> Any:
    """Return a part as JSON holds it; values of pictures are left to the files of their names."""
    if is_dataclass(value) and not isinstance(value, type):
        named = ((each.name, getattr(value, each.name)) for each in fields(value) if each.name != "values")
        if isinstance(value, plot.Heat):
            named = ((each.name, getattr(value, each.name)) for each in fields(value))
        return {"is": type(value).__name__, **{name: _plain(each) for name, each in named}}
    if isinstance(value, tuple | list):
        return [_plain(each) for each in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not np.isfinite(value):
        return None
    return value


def _read(value: Any, folder: Path) -> Any:
    if isinstance(value, dict):
        cls = _TYPES[value["is"]]
        keys = {name: _read(each, folder) for name, each in value.items() if name != "is"}
        if cls in (result.Picture, result.Layer):
            keys["values"] = _reader(folder / f"{keys['name']}.png", indexed=bool(keys.get("palette")))
        made = cls(**keys)
        if isinstance(made, Table) and any(len(row) != len(made.columns) for row in made.rows):
            raise ValueError("a row of a table is not as long as its head")
        return made
    if isinstance(value, list):
        return tuple(_read(each, folder) for each in value)
    return value


def _reader(path: Path, *, indexed: bool) -> Callable[[], NDArray]:
    return partial(_picture, path, indexed=indexed)


def _picture(path: Path, *, indexed: bool = False) -> NDArray:
    """Return the uint8 codes of a PNG that we wrote; with `indexed` the numbers of its colours."""
    from PIL import Image

    try:
        with Image.open(path) as opened:
            return np.asarray(opened if indexed else opened.convert("RGB"))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise ReadError(f"{path}: cannot be read ({type(error).__name__}); run again") from None
