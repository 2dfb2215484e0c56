"""Where things lie along a line of the counter chart: shares of the picture's width, alike in all modes.

In 1920ths of the window: two copies of 28 cells of 16, at 192 to 640 and 1280 to 1728, so that a crop of 8 %
a side leaves both whole. A copy is a white and a black guard cell, the 24 cells of the code, a black and a
white one; a cell of middle grey stands on each side of it. Between them scenery moves 8 a picture.

The levels keep a safe distance from the limits for flashes: a cell changes from 0 to 0.34, which is 9.5 % of
white in the light of sRGB and 7.5 % in that of BT.1886; no flash is less than 10 % (WCAG 2.3.1; 20 of 200
cd/m2,
ITU-R BT.1702-3).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.counter.code import CELLS
from scalesim.core.mode import Mode, mode_named
from scalesim.errors import ParameterError, nearest

ASPECTS = {"full": 1.0, "16:9": 1.0, "4:3": 0.75}
UNITS = 1920
CELL = 16
COPY_AT = (192, 1280)
GUARDS = 2
STRIP = CELLS + 2 * GUARDS
"""Cells of a copy: white, black, the code, black, white."""
LOW, HIGH, QUIET = 0.0, 0.34, 0.17
GROUND = 0.10
SCENERY = (656, 1264)
STEP = 8
"""Units the scenery moves from picture to picture, to the right."""


def luma_code(level: float) -> int:
    """Return the luma code of a level, black at 16 and white at 235 (ITU-R BT.709)."""
    return round(16 + 219 * level)


@dataclass(frozen=True)
class Layout:
    """The counter chart of one mode; `left` and `share` are the window's, in shares of the width."""

    mode: Mode
    aspect: str
    left: float
    share: float

    def samples(self, units: NDArray | float) -> NDArray:
        """Return places along the line, in samples, of places in 1920ths of the window."""
        return np.asarray((self.left + self.share * np.asarray(units) / UNITS) * self.mode.samples)


def strip_centres() -> NDArray[np.float64]:
    """Return the centres of the cells of both copies, (2, 28), in units."""
    return np.add.outer(np.array(COPY_AT), CELL * (np.arange(STRIP) + 0.5))


def guard_levels() -> tuple[NDArray, NDArray]:
    """Return which cells of a strip are white and which black guards, as indices."""
    return np.array([0, STRIP - 1]), np.array([1, STRIP - 2])


def layout(mode: str | Mode, *, aspect: str = "full") -> Layout:
    """Return the layout for a mode.

    Parameters:  aspect : "4:3" keeps everything in the centre 3/4 of a wide picture
    Raises: ParameterError for an unknown mode or aspect
    """
    found = mode if isinstance(mode, Mode) else mode_named(mode)
    if aspect not in ASPECTS:
        raise ParameterError(f"counter chart: aspect is {aspect!r}; {nearest(str(aspect), ASPECTS)}")
    share = ASPECTS[aspect] if found.aspect > Fraction(4, 3) else 1.0
    return Layout(found, "4:3" if share < 1 else "full", (1 - share) / 2, share)
