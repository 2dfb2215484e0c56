"""Where the views of a figure stand on a still, how large, and which part of them is seen.

Pictures of a fixed size are set as they fit best: in the number of columns and at the whole zoom that fill
most of the sheet with most of them, where what is left out counts twice. Where all of it must be seen, the
largest zoom that shows all of it is taken, if one does.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scalesim.draw.views import Zoom, exact_step, fitted, zoom_for
from scalesim.figure import Figure, Window

Place = tuple[int, int, int, int]
"""(left, top, width, height) in dots."""

_USUAL = {1: 1, 2: 2, 3: 3, 4: 2}
"""Columns of so many views that can be cut to any size."""
_NARROW = 4
"""Columns from which on the words below each need a line more."""


@dataclass(frozen=True)
class Ground:
    """How a sheet of one kind is laid out, in dots of its smaller size."""

    width: int
    height: int
    margin: tuple[int, int]
    title: int
    label: int
    gap: int
    caption: bool

    def words(self, columns: int) -> int:
        """Dots below each view."""
        lines = 5.1 if columns >= _NARROW else 4.1
        return round(lines * self.label) if self.caption else round(1.5 * self.label)

    @property
    def foot(self) -> int:
        """Dots kept below all views: three lines of caption, and two of what the marks mean."""
        return 148 if self.caption else 0

    @property
    def head(self) -> int:
        """Dots kept for the title, of two lines."""
        return round(2.6 * self.title) + 14

    def cells(self, count: int, columns: int) -> list[Place]:
        """Return the places of the views, their words below each."""
        rows = -(-count // columns)
        left, top = self.margin
        width = (self.width - 2 * left - (columns - 1) * self.gap) // columns
        inner = self.height - 2 * top - self.head - self.foot
        height = inner // rows - self.words(columns)
        return [
            (
                left + (k % columns) * (width + self.gap),
                top + self.head + (k // columns) * (height + self.words(columns)),
                width,
                height,
            )
            for k in range(count)
        ]


@dataclass(frozen=True)
class Arranged:
    """Where the views stand, and what of the ground they show.

    Parameters:
        cells : for each view; its picture begins at its top left
        window : of the ground that is shown; zoom : how large
        lines : of small words that there is room for below each
    """

    cells: list[Place]
    window: Window
    zoom: Zoom
    lines: int


def arranged(figure: Figure, ground: Ground) -> Arranged:
    """Return how a figure's views are set on a sheet."""
    count = len(figure.views)
    if not (figure.fixed and ground.caption):
        cells = ground.cells(count, _USUAL[count])
        return Arranged(cells, *part_of(figure, (cells[0][3], cells[0][2])), 2)
    usual = _USUAL[count]
    ways = [way for columns in (usual, *range(1, count + 1)) for way in _ways(figure, ground, columns)]
    best = max(ways, key=lambda way: way.worth)  # the first of equals
    window, zoom = _seen(figure, best)
    cells = ground.cells(count, best.columns)
    if best.columns == count:  # one row, in the middle of its room
        lower = (best.room[0] - best.size[0]) // 2
        cells = [(left, top + lower, wide, tall) for left, top, wide, tall in cells]
    return Arranged(cells, window, zoom, 3 if best.columns >= _NARROW else 2)


def part_of(figure: Figure, room: tuple[int, int]) -> tuple[Window, Zoom]:
    """Return what of a figure's ground is shown in a room of (height, width) dots, and how large."""
    zoom = zoom_for(figure.views, figure.window, figure.shape, room)
    if figure.fixed:
        asked = round(figure.window[2] * zoom.dots), round(figure.window[3] * zoom.wide)
        room = min(room[0], asked[0]), min(room[1], asked[1])
    window = figure.window
    if figure.choose is not None and not figure.fixed:
        window = figure.choose(room[0] / zoom.dots, room[1] / zoom.wide)
    return fitted(figure.views, window, zoom, room), zoom


@dataclass(frozen=True)
class _Way:
    """One way to set views of a fixed size: (height, width) dots of each are shown in a room of so many."""

    columns: int
    zoom: Zoom
    room: tuple[int, int]
    size: tuple[int, int]
    worth: tuple[bool, float]


def _ways(figure: Figure, ground: Ground, columns: int) -> Iterator[_Way]:
    """Yield the zooms at which views can be set in so many columns."""
    count, step = len(figure.views), exact_step(figure.views)
    _, _, wide, tall = ground.cells(count, columns)[0]
    dots = 0
    while True:
        dots += step
        zoom = Zoom(dots, dots * figure.shape)
        whole = figure.window[2] * zoom.dots, figure.window[3] * zoom.wide
        size = _whole_dots(min(whole[0], tall), zoom.dots), _whole_dots(min(whole[1], wide), zoom.wide)
        shown = min(1.0, tall / whole[0]) * min(1.0, wide / whole[1])
        worth = shown**2 * count * size[0] * size[1]
        all_of_it = shown == 1 or figure.choose is not None
        yield _Way(columns, zoom, (tall, wide), size, (all_of_it, worth))
        if whole[0] >= tall and whole[1] >= wide:
            return


def _whole_dots(dots: float, of: float) -> int:
    """Return as many dots as whole lines or samples take, where each takes whole dots."""
    return int(dots // of * of) if of == int(of) and dots >= of else round(dots)


def _seen(figure: Figure, way: _Way) -> tuple[Window, Zoom]:
    """Return the window that is seen: where the figure chooses it, if not all of it is."""
    zoom, window = way.zoom, figure.window
    part = way.size[0] / zoom.dots, way.size[1] / zoom.wide
    if figure.choose is not None and not shows_all(figure, (0.0, 0.0, *part)):
        window = figure.choose(*part)
    return fitted(figure.views, window, zoom, way.size), zoom


def shows_all(figure: Figure, window: Window) -> bool:
    """Return whether all that a figure of a fixed size is about is seen in a window."""
    return window[2] > figure.window[2] - 0.5 and window[3] > figure.window[3] - 0.5
