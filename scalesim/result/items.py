"""What a part of an answer shows: tables, pictures, texts to copy, places to go on to, boxes on a face."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Cell:
    """A text of a table; `quiet` is set small beside it, `best` in bold, `note` is the text of a footnote.

    `opens` is what a value rests on, as "viewer's part, measure, layer": "frame-1 lost_lines 01-02".
    """

    text: str
    quiet: str = ""
    best: bool = False
    note: str = ""
    opens: str = ""

    def __str__(self) -> str:
        return self.text


@dataclass(frozen=True)
class Table:
    """A titled table of texts.

    Parameters:
        columns : names, as texts or cells
        rows : texts or cells, as many as columns
        align : "left" or "right" per column; () is all left
        head : number of the column that heads the rows, None for none
        folded : whether a page shows its title only until it is opened
    """

    title: str
    columns: tuple[str | Cell, ...]
    rows: tuple[tuple[str | Cell, ...], ...]
    align: tuple[str, ...] = ()
    head: int | None = None
    folded: bool = False

    @property
    def aligned(self) -> tuple[str, ...]:
        """The alignment of every column."""
        return self.align or ("left",) * len(self.columns)

    @property
    def notes(self) -> tuple[str, ...]:
        """The footnotes in the order of their first cell; a cell's number is its place here, from 1."""
        cells = (cell for row in self.rows for cell in row if isinstance(cell, Cell))
        return tuple(dict.fromkeys(cell.note for cell in cells if cell.note))


def table_html(table: Table) -> str:
    """Return a table as plain HTML, every text escaped."""
    heads = "".join(f"<th>{escape(str(name))}</th>" for name in table.columns)
    rows = "".join(
        "<tr>" + "".join(f"<td>{escape(str(cell))}</td>" for cell in row) + "</tr>" for row in table.rows
    )
    caption = f"<caption>{escape(table.title)}</caption>"
    return f"<table>{caption}<thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture with its words.

    Parameters:
        name : stem of its file, unique in a result; may have a folder in front, with a slash. Pictures in
            `pictures/` may be put into a page itself
        values : (lines, samples, 3) float code values 0..1 or uint8 codes, or what makes them
        label, alt, caption : its name, what it shows for who cannot see it, and what to see in it
        quiet : said after the caption in small letters
        shown : name of the picture that is opened by it, "" for none; whole : that picture, when it is
            none of the result's own, or what makes it
        code : a text set below the caption, such as the chain
        size : (height, width) on a page in its dots, None for one dot a line and a sample
        figures : of what it shows, said before the caption
        looks : where its lines and its samples look on the source, each as (scale, offset), as of a `Layer`;
            () where that is not known
    """

    name: str
    values: NDArray | Callable[[], NDArray]
    label: str = ""
    alt: str = ""
    caption: str = ""
    quiet: str = ""
    shown: str = ""
    whole: NDArray | Callable[[], NDArray] | None = None
    code: str = ""
    size: tuple[int, int] | None = None
    figures: tuple[Cell, ...] = ()
    looks: tuple[tuple[float, float], ...] = ()

    @property
    def said(self) -> str:
        """The figures as a sentence, and the caption."""
        figures = ", ".join(map(str, self.figures))
        return " ".join(filter(None, (f"{figures}." if figures else "", self.caption)))


@dataclass(frozen=True)
class Code:
    """A text to copy; `label` heads it, `what` says what it is."""

    text: str
    label: str = ""
    what: str = "chain"


@dataclass(frozen=True)
class Links:
    """Places to go on to, as (place relative to the page, words), after a text."""

    text: str
    links: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Box:
    """Where a picture lies on the common face of a viewer, in the face's units from its top left."""

    x: float
    y: float
    width: float
    height: float
