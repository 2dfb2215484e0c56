"""Where everything lies on the kernel chart: shares of the picture, so that one layout serves all modes.

Along a line everything lies inside the *window*: the whole width, or its centre 3/4 on the page made
for 4:3 tubes. The cells keep 6 % away from the window's sides. Down the picture three pairs of bands,
bars above and a grey ramp below, interrupt the cells; all lines of a band are alike, so that whatever
a box does to lines leaves the middle of a band as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.core.mode import Mode, mode_named
from scalesim.errors import ParameterError, nearest

PAGES = ("luma", "colour")
ASPECTS = {"full": 1.0, "16:9": 1.0, "4:3": 0.75}

CELLS = 32
BARS = 64
LOW, HIGH = 31 / 255, 224 / 255
GREY = 128 / 255
"""Whole 8-bit codes, near 0.12, 0.88 and 0.5, as those of the ramp are: a file then holds what was drawn."""
COLOUR_SWING = 0.3
RAMP = tuple(float(level) for level in np.linspace(10, 245, 16).round() / 255)
_MARGIN = 0.06
_BANDS_AT = (0.12, 0.50, 0.86)
_BAND_SHARE = 1 / 30


@dataclass(frozen=True)
class Layout:
    """The kernel chart of one mode.

    Parameters:
        mode : the mode it is drawn for
        page : "luma", codes in grey; "colour", codes in B'-Y' at constant luma
        aspect : "full" or "4:3"
        seed : of the codes and of the bars, another for every size, scan, page and aspect
        bars, ramps : lines [top, bottom) of each band
        cell_edges, bar_edges, ramp_edges : shares of the picture's width, one more than there are cells,
            bars or steps; each at the side of the sample that the drawing begins with, so that what is
            looked for is what was drawn
    """

    mode: Mode
    page: str
    aspect: str
    seed: int
    bars: tuple[tuple[int, int], ...]
    ramps: tuple[tuple[int, int], ...]
    cell_edges: NDArray
    bar_edges: NDArray
    ramp_edges: NDArray

    @property
    def lines(self) -> int:
        """Lines of the frame, both fields woven."""
        return self.mode.frame_lines

    def codes(self) -> NDArray:
        """Return the code of every frame line: (lines, cells) of 0 and 1, int; unused under the bands."""
        return np.random.RandomState(self.seed).randint(0, 2, (self.lines, CELLS))

    def bar_levels(self) -> NDArray:
        """Return the levels of the bars, (bars,) of `LOW` and `HIGH`, as many of one as of the other."""
        order = np.random.RandomState(self.seed + 1).permutation(BARS)
        return np.where(order < BARS // 2, LOW, HIGH)

    def coded_lines(self) -> NDArray:
        """Return which frame lines carry codes, (lines,) bool: all but the bands."""
        coded = np.ones(self.lines, dtype=bool)
        for top, bottom in (*self.bars, *self.ramps):
            coded[top:bottom] = False
        return coded


def layout(mode: str | Mode, *, page: str = "luma", aspect: str = "full") -> Layout:
    """Return the layout of the kernel chart for a mode; rates of one size and scan share a chart.

    Raises: ParameterError for an unknown mode, page or aspect
    """
    found = mode if isinstance(mode, Mode) else mode_named(mode)
    if page not in PAGES:
        raise ParameterError(f"kernel chart: page is {page!r}; {nearest(str(page), PAGES)}")
    if aspect not in ASPECTS:
        raise ParameterError(f"kernel chart: aspect is {aspect!r}; {nearest(str(aspect), ASPECTS)}")
    share = ASPECTS[aspect] if found.aspect > Fraction(4, 3) else 1.0
    left = (1 - share) / 2
    lines = found.frame_lines
    tall = 2 * max(1, round(lines * _BAND_SHARE / 2))
    tops = [2 * round(lines * at / 2) - tall for at in _BANDS_AT]
    margin = _MARGIN * share
    return Layout(
        mode=found,
        page=page,
        aspect="4:3" if share < 1 else "full",
        seed=_seed(found, page, share),
        bars=tuple((top, top + tall) for top in tops),
        ramps=tuple((top + tall, top + 2 * tall) for top in tops),
        cell_edges=_drawn(left + margin, left + share - margin, CELLS, found.samples),
        bar_edges=_drawn(left, left + share, BARS, found.samples),
        ramp_edges=_drawn(left + margin, left + share - margin, len(RAMP), found.samples),
    )


def _drawn(left: float, right: float, parts: int, samples: int) -> NDArray:
    """Return the edges of even parts as they are drawn: a sample belongs to the part its middle lies in."""
    middles = (np.arange(samples) + 0.5) / samples
    return np.searchsorted(middles, np.linspace(left, right, parts + 1)) / samples


def _seed(mode: Mode, page: str, share: float) -> int:
    """Return a seed that no other size, scan, page or window has."""
    return (
        100 * mode.frame_lines
        + (mode.samples // 8) * 1_000_000
        + 8 * mode.interlaced
        + 4 * PAGES.index(page)
        + 2 * (share < 1)
    )
