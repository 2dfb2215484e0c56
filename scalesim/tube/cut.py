"""Which part of a raster is shown in how many dots: the glass at a height, or in whole dot rows a line.

Where a line takes 4.5 dot rows, every second line falls differently on the rows: a pattern of two
lines that no tube shows. So the usual height is the nearest one at which every landed line takes the
same whole number of rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from scalesim.core.raster import Raster, Window
from scalesim.errors import ParameterError
from scalesim.tube.display import Display

MOST_DOTS = 8192


@dataclass(frozen=True)
class Cut:
    """Which part of a raster is shown in how many dots: lines in field-line pitches, samples in samples."""

    lines: tuple[float, float]
    samples: tuple[float, float]
    height: int
    width: int


def shown_window(raster: Raster, display: Display) -> Window:
    """Return what the glass shows: the raster's own window if it has one, else the display's overscan."""
    if raster.visible != Window():
        return raster.visible
    hidden = display.overscan_percent / 200
    return Window(hidden, 1 - hidden, hidden, 1 - hidden)


def glass_at(raster: Raster, display: Display, tube: Fraction, height: int) -> Cut:
    """Return the whole glass in exactly `height` dot rows; ParameterError for a height out of range."""
    check_dots("height", height)
    window = shown_window(raster, display)
    lines = (window.top * raster.lines, window.bottom * raster.lines)
    return Cut(lines, _samples(raster, window), height, max(1, round(height * float(tube))))


def glass_in_whole_rows(raster: Raster, display: Display, tube: Fraction, near: int) -> Cut:
    """Return the whole glass at the height nearest to `near` with whole dot rows a landed line.

    The edges move to the nearest dot row, so that each line has its middle at the same place of its
    rows, and by one more where that leaves an even number of rows, which films need.
    """
    check_dots("height", near)
    window = shown_window(raster, display)
    shown = (window.bottom - window.top) * raster.landed_lines
    # below one row a line nothing can be whole
    rows = max(1, round(near / shown))
    pitch = rows * (raster.landed_lines // raster.lines)
    first = round(window.top * raster.lines * pitch)
    height = max(2, 2 * round((window.bottom - window.top) * raster.lines * pitch / 2))
    check_dots("height", height)
    width = max(2, 2 * round(height * float(tube) / 2))
    return Cut((first / pitch, (first + height) / pitch), _samples(raster, window), height, width)


def rows_of_line(cut: Cut, raster: Raster) -> float:
    """Return how many dot rows a landed line takes."""
    first, last = cut.lines
    return round(cut.height / (last - first) * raster.landed_pitch, 9)


def check_dots(key: str, value: object) -> None:
    """Raise ParameterError for a number of dots that is no whole number in range."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= MOST_DOTS:
        raise ParameterError(
            f"screen: {key} is {value!r}; it must be a whole number of dots, 1 to {MOST_DOTS} (1080 is usual)"
        )


def _samples(raster: Raster, window: Window) -> tuple[float, float]:
    return window.left * raster.samples, window.right * raster.samples
