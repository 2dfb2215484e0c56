"""Labels beside points that do not lie on each other, on points, or outside the axes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np

from scalesim.page.plots.svg import INK, QUIET

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Rectangle = tuple[float, float, float, float]
"""left, bottom, right, top in dots."""

_NEAR = 9.0
_POINT = 6.0
_GAP = 2.0
_RADII = (0, 6, 14, 24, 36, 50, 66, 84, 104, 126, 150)
_DIRECTIONS = [math.radians(angle) for angle in (0, 180, 90, 270, 30, 330, 150, 210, 60, 300, 120, 240)]
_SIDE, _NEAR_SIDE, _OFF = 0.3, 5.0, 8.0
"""Share of the axes at whose sides labels turn inward, and dots that they stand from their point."""
_LEADER_FROM = 14
"""Dots beyond which a label needs a line to its point."""


def place_labels(
    points: Sequence[tuple[float, float]], sizes: Sequence[tuple[float, float]], room: Rectangle
) -> list[Rectangle]:
    """Return where each label goes: the first free place, nearest first, else where it overlaps least.

    Parameters:  points, sizes (width, height) and `room` in dots
    """
    taken: list[Rectangle] = [(x - _POINT, y - _POINT, x + _POINT, y + _POINT) for x, y in points]
    placed: list[Rectangle] = [(0, 0, 0, 0)] * len(points)
    # from the crowded top down: the labels that have the least choice go first
    order = sorted(range(len(points)), key=lambda k: (-_crowd(points, k), -points[k][1], points[k][0]))
    for index in order:
        places = _places(points[index], sizes[index])
        others = [box for k, box in enumerate(taken) if k != index]
        costs = [sum(_overlap(box, other) for other in others) + 4 * _outside(box, room) for box in places]
        best = int(np.argmin(np.round(costs, 6)))
        placed[index] = places[best]
        taken.append(places[best])
    return placed


def _crowd(points: Sequence[tuple[float, float]], index: int) -> int:
    return sum(math.dist(points[index], other) < 30 for other in points)


def _places(point: tuple[float, float], size: tuple[float, float]) -> list[Rectangle]:
    (x, y), (width, height) = point, size
    found = []
    for radius in _RADII:
        for angle in _DIRECTIONS:
            across, down = math.cos(angle), math.sin(angle)
            # the label's own middle stands off by half its size in that direction
            middle = x + across * (_NEAR + radius + width / 2), y + down * (_NEAR + radius + height / 2)
            left, bottom = middle[0] - width / 2, middle[1] - height / 2
            found.append((left, bottom, left + width, bottom + height))
    return found


def _overlap(a: Rectangle, b: Rectangle) -> float:
    across = min(a[2], b[2]) - max(a[0], b[0]) + _GAP
    down = min(a[3], b[3]) - max(a[1], b[1]) + _GAP
    return max(0.0, across) * max(0.0, down)


def _outside(box: Rectangle, room: Rectangle) -> float:
    across = max(0.0, room[0] - box[0]) + max(0.0, box[2] - room[2])
    down = max(0.0, room[1] - box[1]) + max(0.0, box[3] - room[3])
    return across * (box[3] - box[1]) + down * (box[2] - box[0])


def draw_labels(
    axes: Axes, points: Sequence[tuple[float, float]], labels: Sequence[str], leader: str
) -> list[Rectangle]:
    """Label points given in data; a label that had to move away gets a thin line to its point."""
    figure = axes.figure
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]  # every raster canvas has one
    at = [tuple(each) for each in axes.transData.transform(np.asarray(points))]
    sizes = []
    for label in labels:
        text = axes.text(0, 0, label)
        extent = text.get_window_extent(renderer)
        sizes.append((extent.width, extent.height))
        text.remove()
    room = axes.get_window_extent(renderer)
    places = place_labels(at, sizes, (room.x0, room.y0, room.x1, room.y1))
    for label, point, box in zip(labels, at, places, strict=True):
        across, side = _anchor(point, box)
        lines = label.split("\n")
        for number, line in enumerate(lines):  # one by one: letters of other fonts keep their side
            here = (across, box[3] - (number + 0.5) * (box[3] - box[1]) / len(lines))
            axes.annotate(line, here, xycoords="figure points", ha=side, va="center", annotation_clip=False)
        end = (float(np.clip(point[0], box[0], box[2])), float(np.clip(point[1], box[1], box[3])))
        if math.dist(end, point) > _LEADER_FROM:
            style = {"arrowstyle": "-", "color": leader, "linewidth": 0.7, "shrinkA": 0, "shrinkB": 4}
            axes.annotate("", point, end, "figure points", "figure points", arrowprops=style)
    return places


def write_at(
    axes: Axes, points: Sequence[tuple[float, float]], labels: Sequence[str], *, above: bool
) -> None:
    """Write each label close above or below its point, held inside the axes at their sides."""
    low, high = axes.get_xlim()
    for label, (x, y) in zip(labels, points, strict=True):
        share = (x - low) / (high - low)
        side: Literal["left", "right", "center"] = (
            "left" if share < _SIDE else "right" if share > 1 - _SIDE else "center"
        )
        away = -_NEAR_SIDE if side == "left" else _NEAR_SIDE if side == "right" else 0.0
        axes.annotate(
            label,
            (x, y),
            (away, _OFF if above else -_OFF),
            textcoords="offset points",
            ha=side,
            va="bottom" if above else "top",
            color=INK if above else QUIET,
            annotation_clip=False,
        )


def _anchor(point: tuple[float, float], box: Rectangle) -> tuple[float, Literal["left", "right", "center"]]:
    """Return where a label is held: at the side that is next to its point, for fonts of other widths."""
    if box[0] > point[0]:
        return box[0], "left"
    if box[2] < point[0]:
        return box[2], "right"
    return (box[0] + box[2]) / 2, "center"
