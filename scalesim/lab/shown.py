"""What a saved answer shows, part by part, for the page to draw: the very Result of the command line.

Pictures and plots are the files of the answer's folder, tables and texts come as data, linked pictures as
options of the viewer that pages have.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from numpy.typing import NDArray

from scalesim.io.saved import SavedResult
from scalesim.page.viewer import viewer_options
from scalesim.plot import Plot
from scalesim.result import Cell, Code, Item, Links, Part, Picture, Table, Viewer
from scalesim.typeset import typeset


@dataclass(frozen=True)
class _Files:
    """Where the viewer finds pictures: below the answer's address."""

    address: str

    def add(self, name: str, values: NDArray[Any], palette: object = ()) -> None:
        """Nothing: they are files already."""

    def image(self, name: str) -> str:
        return f"{self.address}{name}.png"

    source = image


def shown_parts(found: SavedResult, address: str) -> list[dict[str, Any]]:
    """Return the parts of an answer.

    Parameters:  address : of its folder, with a slash at its end
    """
    return [_part(part, found, _Files(address)) for part in found.parts()]


def _part(part: Part, found: SavedResult, files: _Files) -> dict[str, Any]:
    items = [told for item in part.items for told in _item(item, found, files)]
    return {"title": typeset(part.title), "text": [typeset(text) for text in part.text], "items": items}


def _item(item: Item, found: SavedResult, files: _Files) -> Iterator[dict[str, Any]]:
    if isinstance(item, Plot):
        source = f"{files.address}{found.plot_folder}{item.name}.svg"
        yield {"is": "plot", "source": source, "label": typeset(item.title), "caption": typeset(item.caption)}
    elif isinstance(item, Picture):
        yield {
            "is": "picture",
            "source": files.image(item.name),
            "opens": files.image(item.shown) if item.shown else "",
            "label": typeset(item.label),
            "alt": item.alt or item.label,
            "caption": typeset(item.said),
            "size": item.size,
        }
    elif isinstance(item, Table):
        yield _table(item)
    elif isinstance(item, Code):
        yield {"is": "code", "text": item.text, "label": item.label}
    elif isinstance(item, Links):
        links = [[f"{files.address}{place}", words] for place, words in item.links]
        yield {"is": "links", "text": typeset(item.text), "links": links}
    elif isinstance(item, Viewer):
        yield {
            "is": "viewer",
            "label": item.title,
            "text": list(item.text),
            "options": viewer_options(item, files),
        }


def _table(table: Table) -> dict[str, Any]:
    return {
        "is": "table",
        "label": typeset(table.title),
        "columns": [_cell(each) for each in table.columns],
        "rows": [[_cell(each) for each in row] for row in table.rows],
        "align": list(table.aligned),
        "head": table.head,
        "notes": [typeset(note) for note in table.notes],
    }


def _cell(cell: str | Cell) -> dict[str, Any]:
    if isinstance(cell, str):
        return {"text": typeset(cell)}
    return {"text": typeset(cell.text), "quiet": typeset(cell.quiet), "best": cell.best}
