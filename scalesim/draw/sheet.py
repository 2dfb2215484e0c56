"""Drawing a chart: a sheet in a mode's lines and samples, with anti-aliased boxes, circles and text.

Places are frame coordinates: y in frame lines and x in samples, edges at integers, so the box
(0, 3, 0, 720) is the first three lines. Areas are covered exactly: a box edge at 67.2 leaves 0.8 of
sample 67 painted. Sizes that a person must be able to read are counted in *dots*. A dot is square on the
screen, to a rounding, and about 1/240 of the picture high: what is one dot thick survives the way down
to 240 lines.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from scalesim.core.mode import Mode, mode_named
from scalesim.draw.letters import text_mask
from scalesim.errors import ParameterError, nearest

ASPECTS = {"16:9": Fraction(16, 9), "4:3": Fraction(4, 3)}
"""The shapes a chart is drawn for."""

DIGIT_DOTS = 7
"""Height of a digit or capital, in dots."""

Tone = float | tuple[float, float, float]
"""A grey, or R'G'B'; code values 0..1."""


@dataclass(frozen=True)
class Box:
    """A rectangle in frame coordinates, edges in lines and samples."""

    top: float
    bottom: float
    left: float
    right: float

    def to_dict(self) -> dict[str, float]:
        """Return the four edges by name, whole numbers as such."""
        return {name: tidy(getattr(self, name)) for name in ("top", "bottom", "left", "right")}


@dataclass(frozen=True, eq=False)
class Sheet:
    """A frame to draw on and the part of it, `area`, that has the chart's shape.

    Parameters:
        mode : what it is drawn for
        aspect : name of the shape of `area` on the screen, a key of `ASPECTS`
        frame : (frame lines, samples, 3) float32, changed in place
        area : the whole raster, or the centre 3/4 of the samples for 4:3 in a 16:9 mode
        sample_aspect : width over height of the area one sample covers on the screen
        dot_lines, dot_samples : size of a dot
    """

    mode: Mode
    aspect: str
    frame: NDArray
    area: Box
    sample_aspect: Fraction
    dot_lines: int
    dot_samples: int

    @property
    def lines(self) -> int:
        """Lines of the area."""
        return int(self.area.bottom - self.area.top)

    @property
    def samples(self) -> int:
        """Samples of the area."""
        return int(self.area.right - self.area.left)

    def fill(self, box: Box, tone: Tone) -> None:
        """Paint a rectangle; samples it covers in part take that share of the tone."""
        rows, down = _shares(box.top, box.bottom, self.frame.shape[0])
        columns, across = _shares(box.left, box.right, self.frame.shape[1])
        self._blend(rows, columns, down[:, None] * across[None], tone)

    def circle(self, y: float, x: float, radius: float, thickness: float, tone: Tone) -> None:
        """Draw a ring round (y, x) that is round on the screen; radius to its middle, in lines."""
        aspect = float(self.sample_aspect)
        reach = radius + thickness / 2 + 1
        rows, _ = _shares(y - reach, y + reach, self.frame.shape[0])
        columns, _ = _shares(x - reach / aspect, x + reach / aspect, self.frame.shape[1])
        down = (np.arange(rows.start, rows.stop) + 0.5 - y)[:, None]
        across = (np.arange(columns.start, columns.stop) + 0.5 - x)[None] * aspect
        distance = np.hypot(down, across)
        # One sample is `aspect` wide and 1 high, so the edge's ramp is that long seen along the radius.
        ramp = (np.abs(down) + np.abs(across) * aspect) / np.maximum(distance, 1e-9)
        cover = _ramp(distance - radius + thickness / 2, ramp) - _ramp(
            distance - radius - thickness / 2, ramp
        )
        self._blend(rows, columns, cover, tone)

    def text(self, words: str, y: float, x: float, tone: Tone) -> Box:
        """Set one line of text with its top left corner at (y, x); return the box of its cell.

        y is rounded to whole dots: a chain that takes every third line then meets every letter alike.
        What falls outside the frame is cut off.
        """
        ink = text_mask(words).repeat(self.dot_lines, 0).repeat(self.dot_samples, 1)
        return self.stamp(ink, round(y / self.dot_lines) * self.dot_lines, round(x), tone)

    def stamp(self, ink: NDArray, top: int, left: int, tone: Tone) -> Box:
        """Paint where `ink`, a mask in lines and samples, is true; return its box."""
        rows = slice(max(top, 0), max(min(top + ink.shape[0], self.frame.shape[0]), 0))
        columns = slice(max(left, 0), max(min(left + ink.shape[1], self.frame.shape[1]), 0))
        if rows.start < rows.stop and columns.start < columns.stop:
            inside = ink[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
            self.frame[rows, columns][inside] = tone
        return Box(top, top + ink.shape[0], left, left + ink.shape[1])

    def text_samples(self, words: str) -> int:
        """Return how many samples wide `text` sets these words."""
        return int(text_mask(words).shape[1]) * self.dot_samples

    def facts(self) -> dict[str, object]:
        """Return what every chart's truth says of the sheet."""
        return {
            "mode": self.mode.name,
            "aspect": self.aspect,
            "frame_lines": self.mode.frame_lines,
            "samples": self.mode.samples,
            "interlaced": self.mode.interlaced,
            "sample_aspect": f"{self.sample_aspect.numerator}:{self.sample_aspect.denominator}",
            "area": self.area.to_dict(),
            "coordinates": "edges in frame lines from the top and samples from the left; line 0 is 0 to 1",
        }

    def _blend(self, rows: slice, columns: slice, cover: NDArray, tone: Tone) -> None:
        view = self.frame[rows, columns]
        view += cover[..., None].astype(np.float32) * (np.asarray(tone, np.float32) - view)


def blank_sheet(mode: str, aspect: str | None, tone: Tone, *, around: float = 0.0) -> Sheet:
    """Return an empty sheet for a mode, its area painted with `tone` and the rest with `around`.

    `aspect` None means the mode's own. 4:3 in a 16:9 mode takes the centre 3/4 of the samples; 16:9 in a
    4:3 mode is the whole raster, meant to be shown wide.

    Raises: ParameterError for an unknown mode or aspect
    """
    named = mode_named(mode)
    name = aspect or next(key for key, value in ASPECTS.items() if value == named.aspect)
    if name not in ASPECTS:
        raise ParameterError(f"aspect: {aspect!r} is not known; {nearest(str(aspect), ASPECTS)}")
    lines, samples = named.frame_lines, named.samples
    boxed = ASPECTS[name] < named.aspect
    margin = samples // 8 if boxed else 0
    sample_aspect = named.sample_aspect if boxed else ASPECTS[name] * lines / samples
    sheet = Sheet(
        mode=named,
        aspect=name,
        frame=np.full((lines, samples, 3), around, np.float32),
        area=Box(0, lines, margin, samples - margin),
        sample_aspect=sample_aspect,
        dot_lines=max(1, floor(Fraction(lines, 240) + Fraction(1, 2))),
        # Halves to even: 4.5 becomes 4, or the rulers of 1080 lines would not fit, and 1.5 becomes 2.
        dot_samples=max(1, round(lines / (240 * sample_aspect))),
    )
    sheet.fill(sheet.area, tone)
    return sheet


def spread(start: int, stop: int, count: int) -> Iterator[tuple[int, int]]:
    """Yield `count` touching intervals with whole edges that fill start..stop."""
    edges = [round(start + (stop - start) * k / count) for k in range(count + 1)]
    yield from pairwise(edges)


def tidy(value: float) -> float | int:
    """Return a number for JSON: an int where it is whole, else rounded to 1e-6."""
    return int(value) if value == int(value) else round(float(value), 6)


def _shares(start: float, stop: float, size: int) -> tuple[slice, NDArray]:
    """Return the cells of 0..size that start..stop touches, and how much of each it covers."""
    first, last = max(floor(start), 0), min(ceil(stop), size)
    last = max(first, last)
    cells = np.arange(first, last)
    return slice(first, last), np.clip(np.minimum(cells + 1, stop) - np.maximum(cells, start), 0, 1)


def _ramp(distance: NDArray, width: NDArray) -> NDArray:
    return np.clip(distance / width + 0.5, 0, 1)
