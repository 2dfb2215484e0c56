"""Marks as strokes: brackets at the ends of an outline, arrows to where a line was, corners of a place.

They stand beside what they mean, never on it: the dots between them are the picture's own. Shapes differ by
kind, so that no colour is needed to tell them apart; each is drawn light on a dark casing, to be seen on any
picture.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.views import Zoom, cut
from scalesim.figure import Mark, View, Window

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

FAULT, QUIET, CASING = (255, 214, 10), (255, 255, 255), (0, 0, 0)
"""Colours of a mark, of one where nothing is at fault, and around both."""
WIDTH, CASED = 2.0, 4.5
"""Dots of a stroke and of its casing."""
MOST_MARKS = 5
"""Marks of one view; more would hide what they show."""

_ARM, _CLEAR, _ARROW, _LEAST = 7.0, 5.0, (13.0, 5.5), 8.0
Point = tuple[float, float]


@dataclass(frozen=True)
class Stroke:
    """A line through points (x, y), dots from the view's top left; filled and closed for an arrow's head."""

    points: tuple[Point, ...]
    filled: bool = False
    quiet: bool = False


def draw_stroke(pen: ImageDraw, stroke: Stroke, at: tuple[int, int] = (0, 0), times: int = 1) -> None:
    """Draw a stroke of a view whose top left lies at a place (x, y), every dot so many times as large."""
    points = [((at[0] + x) * times, (at[1] + y) * times) for x, y in stroke.points]
    colour = QUIET if stroke.quiet else FAULT
    if stroke.filled:
        pen.line([*points, points[0], points[1]], CASING, round(CASED * times), "curve")
        pen.polygon(points, colour)
        return
    pen.line(points, CASING, round(CASED * times), "curve")
    pen.line(points, colour, round(WIDTH * times), "curve")


def marked(view: View, window: Window, zoom: Zoom) -> NDArray:
    """Return a window of a view with its marks drawn, (height, width, 3) uint8 dots."""
    from PIL import Image, ImageDraw

    drawn = Image.fromarray(cut(view, window, zoom))
    pen = ImageDraw.Draw(drawn)
    for stroke in strokes_of(view, window, zoom):
        draw_stroke(pen, stroke)
    return np.asarray(drawn)


def strokes_of(view: View, window: Window, zoom: Zoom) -> tuple[Stroke, ...]:
    """Return the strokes of the first marks of a view that lie in a window."""
    shown = [mark for mark in view.marks if _inside(mark, window)]
    return tuple(
        each for mark in _apart(shown, window, zoom)[:MOST_MARKS] for each in _strokes(mark, window, zoom)
    )


def _inside(mark: Mark, window: Window) -> bool:
    """Return whether the middle of a mark's lines and some of its samples are seen."""
    top, left, height, width = window
    middle = (mark.lines[0] + mark.lines[1]) / 2
    seen = min(mark.samples[1], left + width) - max(mark.samples[0], left)
    return top < middle < top + height and seen > min(0.05 * width, (mark.samples[1] - mark.samples[0]) / 2)


def _apart(marks: Iterable[Mark], window: Window, zoom: Zoom) -> list[Mark]:
    """Return the marks without those that would run into one before them."""
    kept: list[Mark] = []
    least = max(window[2] / 20, 2 * _ARROW[1] / zoom.dots)
    beside = 2 * (_ARROW[0] + _CLEAR) / zoom.wide
    for mark in marks:
        if all(
            mark.lines[0] - each.lines[1] > least
            or each.lines[0] - mark.lines[1] > least
            or mark.samples[0] - each.samples[1] > beside
            or each.samples[0] - mark.samples[1] > beside
            for each in kept
        ):
            kept.append(mark)
    return kept


def _strokes(mark: Mark, window: Window, zoom: Zoom) -> list[Stroke]:
    top, left, height, width = window
    upper, lower = ((line - top) * zoom.dots for line in mark.lines)
    short = max(0.0, (_LEAST - (lower - upper)) / 2)
    upper, lower = upper - short - _CLEAR, lower + short + _CLEAR
    end = width * zoom.wide
    begin, stop = ((sample - left) * zoom.wide for sample in mark.samples)
    begin, stop = max(begin - _CLEAR, 3.0), min(stop + _CLEAR, end - 3.0)
    if mark.kind == "lost":
        return _arrows((upper + lower) / 2, begin, stop, end, mark.quiet)
    upper, lower = max(upper, 3.0), min(lower, height * zoom.dots - 3.0)
    if mark.kind == "place":
        down, along = (min(2 * _ARM, size / 2) for size in (lower - upper, stop - begin))
        return [
            Stroke(((x + way * along, y), (x, y), (x, y + turn * down)), quiet=mark.quiet)
            for x, way in ((begin, 1), (stop, -1))
            for y, turn in ((upper, 1), (lower, -1))
        ]
    return [
        Stroke(((x + arm, upper), (x, upper), (x, lower), (x + arm, lower)), quiet=mark.quiet)
        for x, arm in ((begin, _ARM), (stop, -_ARM))
    ]


def _arrows(middle: float, begin: float, stop: float, end: float, quiet: bool) -> list[Stroke]:
    """Return two heads that point at a line from its ends, wholly inside the view."""
    long, half = _ARROW
    first, last = max(begin, long + 2.0), min(stop, end - long - 2.0)
    return [
        Stroke(((tip, middle), (base, middle - half), (base, middle + half)), True, quiet)
        for tip, base in ((first, first - long), (last, last + long))
    ]
