"""The parts of an answer as JSON holds them, and back: `is` names what each one is.

Values of pictures lie in PNG files of their names, and are read when they are wanted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import partial
from pathlib import Path, PurePosixPath
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim import plot, result
from scalesim.errors import ReadError
from scalesim.result import Table

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
        result.Taps,
        result.Pointed,
        result.Judged,
        result.Scale,
        result.Viewer,
        result.Weight,
        result.Weighed,
        result.Weighing,
        result.Part,
        result.Plate,
        result.PlatePanel,
        result.Prose,
        result.Quote,
        result.Exhibit,
        plot.Axis,
        plot.Series,
        plot.Rule,
        plot.Heat,
        plot.Panel,
        plot.Plot,
    )
}
"""Every kind of thing an answer is made of, by the name it has in the file."""


def plain(value: Any) -> Any:
    """Return a part as JSON holds it; values of pictures are left to the files of their names."""
    if is_dataclass(value) and not isinstance(value, type):
        named = ((each.name, getattr(value, each.name)) for each in fields(value) if each.name != "values")
        if isinstance(value, plot.Heat):
            named = ((each.name, getattr(value, each.name)) for each in fields(value))
        return {"is": type(value).__name__, **{name: plain(each) for name, each in named}}
    if isinstance(value, tuple | list):
        return [plain(each) for each in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not np.isfinite(value):
        return None
    return value


def read_part(value: Any, folder: Path) -> Any:
    """Return what `plain` wrote, its pictures with what reads them from a folder.

    Raises: KeyError, TypeError or ValueError for what no answer is made of, or files outside the folder
    """
    if isinstance(value, dict):
        cls = _TYPES[value["is"]]
        keys = {name: read_part(each, folder) for name, each in value.items() if name != "is"}
        if cls in (result.Picture, result.Layer):
            place = folder / inside(f"{keys['name']}.png")
            keys["values"] = reader(place, indexed=bool(keys.get("palette")))
        if cls is result.Picture and keys["shown"]:
            keys["whole"] = reader(folder / inside(f"{keys['shown']}.png"))
        made = cls(**keys)
        if isinstance(made, Table) and any(len(row) != len(made.columns) for row in made.rows):
            raise ValueError("a row of a table is not as long as its head")
        return made
    if isinstance(value, list):
        return tuple(read_part(each, folder) for each in value)
    return value


def inside(place: str) -> str:
    """Return a place in the folder; a folder from elsewhere may name others, which raises ValueError."""
    if PurePosixPath(place).is_absolute() or ".." in PurePosixPath(place).parts or set(place) & set("\\:"):
        raise ValueError(f"{place} lies outside")
    return place


def reader(path: Path, *, indexed: bool = False) -> Callable[[], NDArray]:
    """Return what reads the uint8 codes of a PNG, see `_picture`."""
    return partial(_picture, path, indexed=indexed)


def _picture(path: Path, *, indexed: bool = False) -> NDArray:
    """Return the uint8 codes of a PNG that we wrote; with `indexed` the numbers of its colours."""
    from PIL import Image

    try:
        with Image.open(path) as opened:
            return np.asarray(opened if indexed else opened.convert("RGB"))
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise unreadable(path, error) from None


def unreadable(path: Path, error: Exception) -> ReadError:
    """Return the one line about a file of an answer that cannot be read."""
    return ReadError(f"{path}: cannot be read ({type(error).__name__}); run again")
