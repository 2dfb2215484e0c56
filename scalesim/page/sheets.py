"""Plots and tables as stills for a video edit, with their captions in them.

All content lies inside the safe title area of SMPTE ST 2046-1:2009, as of every still.
"""

from __future__ import annotations

import textwrap
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK, PAPER, QUIET, font, write_line, write_lines
from scalesim.page.plots.raster import LARGER, plot_dots
from scalesim.page.stills import SIZES
from scalesim.plot import Plot
from scalesim.result import Sheet, Table

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

_MARGIN = 96, 54
_TITLE, _WORDS, _SMALL = 36, 22, 17
_HEAD, _FOOT = 112, 130
"""Dots of the smaller size kept for the title, and for the caption below."""
_LETTERS = range(30, 17, -2)
"""Heights of a table's letters that are tried, in dots of the smaller size."""
_MOST_LINES = 6
"""Of a cell."""
_GAP = 1.2
"""Between columns, in heights of a letter."""


def sheet_picture(sheet: Sheet, size: tuple[int, int]) -> NDArray[np.uint8]:
    """Return a plot or a table as a still, (height, width, 3).

    Parameters:  size : (width, height), one of `SIZES`
    """
    from PIL import Image, ImageDraw

    times = size[0] // SIZES[0][0]
    width, height = SIZES[0]
    left, top = _MARGIN
    drawn = Image.new("RGB", size, PAPER)
    pen = ImageDraw.Draw(drawn)
    room = width - 2 * left, height - 2 * top - _HEAD - _FOOT
    write_lines(pen, (left * times, top * times), sheet.title, _TITLE * times, INK, (room[0] * times, 2))
    cut = ""
    if isinstance(sheet.item, Plot):
        dots = plot_dots(_fitted(sheet.item, room), times)
        drawn.paste(Image.fromarray(dots), ((width * times - dots.shape[1]) // 2, (top + _HEAD) * times))
    else:
        cut = _table(pen, sheet.item, (left, top + _HEAD), room, times)
    below = height - top - _FOOT + 22
    lines = write_lines(
        pen, (left * times, below * times), sheet.caption, _WORDS * times, INK, (room[0] * times, 3)
    )
    below += round(1.35 * _WORDS * lines) + 8
    said = " ".join(filter(None, (sheet.foot, cut)))
    write_line(pen, (left * times, below * times), said, _SMALL * times, QUIET, room[0] * times)
    return np.asarray(drawn)


def _fitted(plot: Plot, room: tuple[int, int]) -> Plot:
    """Return a plot that fills the room with letters that can be read on a screen."""
    wide, tall = (round(each / LARGER) for each in room)
    return replace(plot, size=(wide, tall))


def _table(pen: ImageDraw, table: Table, at: tuple[int, int], room: tuple[int, int], times: int) -> str:
    """Draw a table as large as it fits; return what to say of rows there is no room for."""
    heads = [_head(cell) for cell in table.columns]
    rows = [[_said(cell) for cell in row] for row in table.rows]
    size, widths = _size_for(pen, heads, rows, room)
    step, deep = 1.6 * size, max(map(len, heads))
    place = _Place(pen, size, widths, table.aligned, times)
    for line in range(deep):
        place.row(
            [head[line] if line < len(head) else "" for head in heads],
            at[0],
            at[1] + 1.3 * size * line,
            QUIET,
        )
    top = at[1] + 1.3 * size * deep
    end = at[0] + sum(widths) + _GAP * size * (len(widths) - 1)
    pen.line((at[0] * times, round(top * times), round(end * times), round(top * times)), QUIET, times)
    fits, below = 0, at[1] + room[1] + 0.01
    for row in rows:
        cells = [_in_lines(pen, cell, size, width) for cell, width in zip(row, widths, strict=True)]
        tall = max(map(len, cells))
        if top + step + 1.3 * size * (tall - 1) > below:
            break
        for line in range(tall):
            said = [cell[line] if line < len(cell) else "" for cell in cells]
            place.row(said, at[0], top + 0.3 * size + 1.3 * size * line, INK)
        top += step + 1.3 * size * (tall - 1)
        fits += 1
    return "" if fits == len(rows) else f"The first {fits} of {len(rows)} rows."


def _in_lines(pen: ImageDraw, cell: str, size: int, width: float) -> list[str]:
    """Return a cell on as many lines as its column asks for; beyond the sixth it is cut."""
    letters: Any = font(size, cell)
    lines = [""]
    for word in cell.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and len(lines) < _MOST_LINES and pen.textlength(longer, letters) > width + 4:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


@dataclass(frozen=True)
class _Place:
    """How a table's rows are set: the letters' height and the columns' widths, in dots."""

    pen: ImageDraw
    size: int
    widths: list[float]
    aligned: tuple[str, ...]
    times: int

    def row(self, cells: list[str], x: float, y: float, colour: tuple[int, int, int]) -> None:
        """Write a row."""
        for cell, width, align in zip(cells, self.widths, self.aligned, strict=True):
            written = min(self.pen.textlength(cell, font(self.size, cell)), width)
            at = x + (width - written if align == "right" else 0.0)
            where = round(at * self.times), round(y * self.times)
            write_line(self.pen, where, cell, self.size * self.times, colour, round((width + 4) * self.times))
            x += width + _GAP * self.size


def _size_for(
    pen: ImageDraw, heads: list[list[str]], rows: list[list[str]], room: tuple[int, int]
) -> tuple[int, list[float]]:
    """Return the height of the letters and the width of every column; what is too wide is set in lines."""
    size, widths = _LETTERS[0], [0.0]
    columns = [[*head, *(row[place] for row in rows)] for place, head in enumerate(heads)]
    for size in _LETTERS:
        widths = [max(pen.textlength(cell, font(size, cell)) for cell in column) for column in columns]
        tall = 1.3 * size * max(map(len, heads)) + 1.6 * size * (len(rows) + 0.5)
        if sum(widths) + _GAP * size * (len(widths) - 1) <= room[0] and tall <= room[1]:
            return size, widths
    left = room[0] - _GAP * size * (len(widths) - 1)
    return size, _shared(widths, left) if sum(widths) > left else widths


def _shared(widths: list[float], room: float) -> list[float]:
    """Return widths that fill a room: the widest columns give up what is missing."""
    most = max(widths)
    while sum(min(width, most) for width in widths) > room and most > 1:
        most -= 4
    return [min(width, most) for width in widths]


_HEAD_LETTERS = 16


def _head(cell: Any) -> list[str]:
    """Return the heading of a column on as many lines as it needs."""
    texts = (str(cell), getattr(cell, "quiet", ""))
    return [line for text in texts if text for line in textwrap.wrap(text, _HEAD_LETTERS)] or [""]


def _said(cell: Any) -> str:
    quiet = getattr(cell, "quiet", "")  # of one size here, it would read on as the cell's own words
    return f"{cell} ({quiet})" if quiet else str(cell)
