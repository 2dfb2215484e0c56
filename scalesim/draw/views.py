"""Views of one part, cut and enlarged alike: whole dots to every line, areas exact along the line.

The ground's line is k dots tall in all views, k a whole number, and so chosen that the lines of every view
are whole dots tall as well: with 720 lines on the ground and 240 in a view any k does (3 k dots to a scan
line), with 1080 only even ones (9 dots at k = 2). Where none does, a view's lines have the nearest whole
number of dots, all the same, and `Zoom.words` says that it is not to scale.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, lcm

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.figure import View, Window

_TALLEST = 24
"""Dots that the least exact zoom may make of a line of the ground; a taller one is no use."""
_FINEST = 64
"""Lines of a view that may fall on as many as 64 of the ground's before it counts as no whole ratio."""


@dataclass(frozen=True)
class Zoom:
    """How large a ground line and sample are drawn.

    Parameters:
        dots : to a line of the ground, a whole number
        wide : dots to a sample of the ground, which need not be whole
    """

    dots: int
    wide: float

    def pitch(self, view: View) -> int:
        """Return the whole dots that a line of a view is tall, at least 1."""
        return max(1, round(self.dots * abs(view.lines[0])))

    def exact(self, view: View) -> bool:
        """Return whether that is to scale."""
        return abs(self.pitch(view) - self.dots * abs(view.lines[0])) < 1e-6

    def words(self, view: View) -> str:
        """Return how a view is drawn: "9 dots to a scan line"; "" without a word for its lines."""
        if not view.line_word:
            return ""
        pitch = self.pitch(view)
        said = f"{pitch} dot{'s' if pitch > 1 else ''} to a {view.line_word}"
        if self.exact(view):
            return said
        off = 100 * (pitch / (self.dots * abs(view.lines[0])) - 1)
        if abs(off) < 0.5:  # a capture that lies a hair off its lines
            return said
        return f"{said}, {abs(off):.0f}\u00a0% {'larger' if off > 0 else 'smaller'} than to scale"


def exact_step(views: Sequence[View]) -> int:
    """Return the least k at which lines of all views are whole dots; 1 where there is none small enough.

    The exact ones are every multiple of it.
    """
    step = 1
    for view in views:
        ratio = Fraction(abs(view.lines[0])).limit_denominator(_FINEST)
        if ratio and abs(float(ratio) - abs(view.lines[0])) < 1e-9 * abs(view.lines[0]) + 1e-9:
            both = lcm(step, ratio.denominator)
            step = both if both <= _TALLEST else step
    return step


def zoom_for(views: Sequence[View], window: Window, shape: float, room: tuple[int, int]) -> Zoom:
    """Return the largest exact zoom at which a window is no larger than its room, else the least exact one.

    Parameters:  shape : width of a ground sample in heights of its line; room : (height, width) dots
    """
    step = exact_step(views)
    most = min(room[0] / window[2], room[1] / (window[3] * shape))
    dots = max(step, int(most / step + 1e-9) * step)
    return Zoom(dots, dots * shape)


def fitted(views: Sequence[View], window: Window, zoom: Zoom, size: tuple[int, int]) -> Window:
    """Return the window that fills a size about the middle of another, as it can be shown.

    It begins and ends where lines of the views do, as many of them as can be, and lies on the picture.

    Parameters:  size : (height, width) dots, at most
    """
    top, left, height, width = window
    tall, wide = size[0] / zoom.dots, size[1] / zoom.wide
    whole = _whole_lines(views)
    lines, samples = _extent(views)
    tall = max(whole, int(min(tall, lines[1] - lines[0]) / whole + 1e-9) * whole)
    wide = min(wide, samples[1] - samples[0])
    first = top + height / 2 - tall / 2
    begin = _aligned(views, first, whole)
    low, high = (_aligned(views, each, whole) for each in (lines[0], lines[1] - tall))
    begin = min(max(begin, low), max(low, high))
    along = min(max(left + width / 2 - wide / 2, samples[0]), samples[1] - wide)
    return float(begin), round(along * zoom.wide) / zoom.wide, float(tall), wide


def _extent(views: Sequence[View]) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the lines and samples of the ground that the first view covers."""
    view = views[0]
    ends = []
    for axis, (scale, offset) in enumerate((view.lines, view.samples)):
        both = sorted((offset, offset + scale * view.values.shape[axis]))
        ends.append((both[0], both[1]))
    return ends[0], ends[1]


def _whole_lines(views: Sequence[View]) -> int:
    """Return the lines of the ground after which lines of all views begin together, at least 1."""
    together = 1
    for view in views:
        ratio = Fraction(abs(view.lines[0])).limit_denominator(_FINEST)
        both = lcm(together, ratio.numerator) if ratio else together
        together = both if both <= _FINEST else together
    return together


def _aligned(views: Sequence[View], line: float, whole: int) -> float:
    """Return the ground line near `line` on which lines of the most views begin, the nearest of equals."""
    near = [ceil(line) + k for k in range(-whole, whole + 1)]

    def rank(at: int) -> tuple[int, float]:
        places = [(at - view.lines[1]) / view.lines[0] for view in views]
        return sum(abs(place - round(place)) > 1e-6 for place in places), abs(at - line)

    return float(min(near, key=rank))


def cut(view: View, window: Window, zoom: Zoom) -> NDArray:
    """Return the window of a view, (height, width, 3) uint8 dots; black where it has no picture.

    Every line has as many dots (only those that the window cuts have fewer); along the line each dot is the
    mean in light of what it covers.
    """
    top, left, height, width = window
    rows, columns = round(height * zoom.dots), round(width * zoom.wide)
    lines = _lines_of(view, top, height, zoom, rows)
    begin = (left + np.arange(columns + 1) / zoom.wide - view.samples[1]) / view.samples[0]
    dots = np.zeros((rows, columns, 3), np.uint8)
    inside = (lines >= 0) & (lines < len(view.values))
    shown, back = np.unique(lines[inside], return_inverse=True)
    if len(shown):
        dots[inside] = _along(view.values[shown], begin)[back.ravel()]
    return dots


def _lines_of(view: View, top: float, height: float, zoom: Zoom, rows: int) -> NDArray:
    """Return which line of a view each row of dots shows."""
    scale, offset = view.lines
    if zoom.exact(view):
        places = (top + (np.arange(rows) + 0.5) / zoom.dots - offset) / scale
        return np.floor(places + 1e-9).astype(np.int64)
    middle = (top + height / 2 - offset) / scale
    first = round(middle - rows / 2 / zoom.pitch(view))
    return first + np.arange(rows) // zoom.pitch(view)


def _along(codes: NDArray, edges: NDArray) -> NDArray:
    """Return (lines, dots, 3) uint8: the mean in light of the samples between the edges, black outside."""
    light = code_to_light(codes.astype(np.float64) / 255)
    running = np.zeros((light.shape[0], light.shape[1] + 1, 3))
    np.cumsum(light, axis=1, out=running[:, 1:])
    places = np.clip(edges, 0, light.shape[1])
    whole = np.minimum(places.astype(np.int64), light.shape[1] - 1)
    at = running[:, whole] + light[:, whole] * (places - whole)[:, None]
    covered = np.abs(np.diff(edges))[:, None]
    means = np.abs(np.diff(at, axis=1)) / covered
    return np.floor(255 * np.clip(light_to_code(means), 0, 1) + 0.5).astype(np.uint8)
