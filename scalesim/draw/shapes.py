"""Shapes by signed distances, in numpy alone; `draw.painting` draws them anti-aliased.

A canvas is float32 (lines, samples, 3), code values 0..1. A point is `(x, y)`: x along the line in
samples, y down in lines; the value of line j, sample i is drawn for the point (i + 1/2, j + 1/2), so a
circle of radius r covers pi r^2 samples. A `Shape` knows its bounding box and its signed distance
(negative inside).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float32]
Point = tuple[float, float]
Colour = tuple[float, float, float]
Fill = Colour | Callable[[Plane, Plane], Plane]


@dataclass(frozen=True)
class Shape:
    """A region of the plane.

    `box` is (left, top, right, bottom) in samples and lines. `distance(x, y, reach)` takes x (1, n) and
    y (m, 1), both rising in steps of 1, and gives the signed distance (m, n), exact within `reach` of
    the edge; beyond it the sign is right and the size at least `reach`.
    """

    box: tuple[float, float, float, float]
    distance: Callable[[Plane, Plane, float], Plane]


def colour(text: str) -> Colour:
    """Return the code values 0..1 of six hexadecimal digits such as ``"e8a04c"``."""
    red, green, blue = (int(text[k : k + 2], 16) / 255.0 for k in (0, 2, 4))
    return red, green, blue


def mix(first: Colour, second: Colour, share: float) -> Colour:
    """Return first + share (second - first), in code values."""
    red, green, blue = (a + share * (b - a) for a, b in zip(first, second, strict=True))
    return red, green, blue


def canvas(lines: int, samples: int, tone: Colour = (0.0, 0.0, 0.0)) -> Plane:
    """Return a float32 (lines, samples, 3) canvas of one colour."""
    return np.broadcast_to(np.asarray(tone, np.float32), (lines, samples, 3)).copy()


def to_bytes(values: Plane) -> NDArray[np.uint8]:
    """Quantise code values to 8 bits: floor(255 clip(v) + 1/2)."""
    codes = np.clip(values, 0, 1)
    codes *= np.float32(255)
    codes += np.float32(0.5)
    return codes.astype(np.uint8)  # truncation is floor, the values being positive


# --- shapes ---------------------------------------------------------------------------------------


def circle(x: float, y: float, radius: float) -> Shape:
    """Return the disc of `radius` samples round (x, y)."""

    def distance(xs: Plane, ys: Plane, reach: float) -> Plane:
        return np.sqrt((xs - np.float32(x)) ** 2 + (ys - np.float32(y)) ** 2) - np.float32(radius)

    return Shape((x - radius, y - radius, x + radius, y + radius), distance)


def ellipse(x: float, y: float, across: float, down: float, *, turn: float = 0.0) -> Shape:
    """Return an ellipse of half axes `across` and `down`, turned clockwise by `turn` degrees.

    The distance is the first-order one, (k - 1) k / |grad| with k = |p / axes|, true at the edge.
    """
    cos, sin = np.cos(np.deg2rad(turn)), np.sin(np.deg2rad(turn))
    wide, high = np.hypot(across * cos, down * sin), np.hypot(across * sin, down * cos)

    def distance(xs: Plane, ys: Plane, reach: float) -> Plane:
        u = ((xs - x) * cos + (ys - y) * sin).astype(np.float32) / np.float32(across)
        v = ((ys - y) * cos - (xs - x) * sin).astype(np.float32) / np.float32(down)
        size = np.sqrt(u * u + v * v)
        slope = np.sqrt((u / np.float32(across)) ** 2 + (v / np.float32(down)) ** 2)
        # At the very centre both vanish; the distance there is minus the shorter half axis.
        ratio = np.where(
            slope > 1e-9, size / np.maximum(slope, np.float32(1e-9)), np.float32(min(across, down))
        )
        return np.asarray((size - np.float32(1)) * ratio, np.float32)

    return Shape((x - wide, y - high, x + wide, y + high), distance)


def polygon(points: Sequence[Point], *, radius: float = 0.0) -> Shape:
    """Return the closed polygon (even-odd rule), grown by `radius` with round corners."""
    corners = [(float(px), float(py)) for px, py in points]
    edges = list(zip(corners, corners[1:] + corners[:1], strict=True))

    def distance(xs: Plane, ys: Plane, reach: float) -> Plane:
        far = reach + radius
        out = np.full((ys.size, xs.size), far, np.float32)
        inside = np.zeros(out.shape, np.bool_)
        for start, end in edges:
            _lower_to_segment(out, xs, ys, start, end, 0.0, 0.0, far)
            _toggle_left_of(inside, xs, ys, start, end)
        return np.where(inside, -out, out) - np.float32(radius)

    return Shape(_box_of(corners, radius), distance)


def stroke(points: Sequence[Point], width: float | Sequence[float]) -> Shape:
    """Return a polyline with round ends; `width` in samples, one for all or one per point (tapered)."""
    path = [(float(px), float(py)) for px, py in points]
    widths = [float(width)] * len(path) if isinstance(width, int | float) else [float(w) for w in width]
    radii = [w / 2 for w in widths]

    def distance(xs: Plane, ys: Plane, reach: float) -> Plane:
        out = np.full((ys.size, xs.size), reach, np.float32)
        for k in range(len(path) - 1):
            _lower_to_segment(out, xs, ys, path[k], path[k + 1], radii[k], radii[k + 1], reach)
        return out

    return Shape(_box_of(path, max(radii)), distance)


def capsule(start: Point, end: Point, width: float, width_end: float | None = None) -> Shape:
    """Return one thick segment with round ends, `width` samples wide, tapering to `width_end`."""
    return stroke([start, end], [width, width if width_end is None else width_end])


def rounded_box(left: float, top: float, right: float, bottom: float, radius: float = 0.0) -> Shape:
    """Return an upright box with corners of `radius` samples."""
    centre_x, centre_y = (left + right) / 2, (top + bottom) / 2
    half_x, half_y = (right - left) / 2 - radius, (bottom - top) / 2 - radius

    def distance(xs: Plane, ys: Plane, reach: float) -> Plane:
        dx = np.abs(xs - np.float32(centre_x)) - np.float32(half_x)
        dy = np.abs(ys - np.float32(centre_y)) - np.float32(half_y)
        zero = np.float32(0)
        outside = np.sqrt(np.maximum(dx, zero) ** 2 + np.maximum(dy, zero) ** 2)
        return np.asarray(outside + np.minimum(np.maximum(dx, dy), zero) - np.float32(radius), np.float32)

    return Shape((left, top, right, bottom), distance)


def blob(points: Sequence[Point], *, steps: int = 7) -> Shape:
    """Return the smooth closed shape through `points` (see `spline`)."""
    return polygon(spline(points, closed=True, steps=steps))


def union(*shapes: Shape) -> Shape:
    """Return all of the shapes as one: the least distance, so one outline goes round them all."""
    boxes = np.array([s.box for s in shapes])
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)

    def distance(xs: Plane, ys: Plane, reach: float) -> Plane:
        out = np.full((ys.size, xs.size), reach, np.float32)
        for shape in shapes:
            left, top, right, bottom = shape.box
            rows, cols = _span(ys, top - reach, bottom + reach), _span(xs, left - reach, right + reach)
            if rows.stop > rows.start and cols.stop > cols.start:
                near = shape.distance(xs[:, cols], ys[rows], reach)
                np.minimum(out[rows, cols], near, out=out[rows, cols])
        return out

    return Shape((float(low[0]), float(low[1]), float(high[0]), float(high[1])), distance)


def without(shape: Shape, hole: Shape) -> Shape:
    """Return `shape` less `hole`."""

    def distance(xs: Plane, ys: Plane, reach: float) -> Plane:
        return np.maximum(shape.distance(xs, ys, reach), -hole.distance(xs, ys, reach))

    return Shape(shape.box, distance)


def moved(shape: Shape, across: float, down: float) -> Shape:
    """Return `shape` shifted by `across` samples and `down` lines."""
    left, top, right, bottom = shape.box

    def distance(xs: Plane, ys: Plane, reach: float) -> Plane:
        return shape.distance(xs - np.float32(across), ys - np.float32(down), reach)

    return Shape((left + across, top + down, right + across, bottom + down), distance)


def spline(points: Sequence[Point], *, closed: bool = False, steps: int = 7) -> list[Point]:
    """Return a Catmull-Rom curve through `points` as a polyline, `steps` pieces between neighbours."""
    way = np.asarray(points, np.float64)
    ring = np.vstack([way[-1:], way, way[:2]]) if closed else np.vstack([way[:1], way, way[-1:]])
    t = (np.arange(steps) / steps)[:, None]
    pieces = []
    for k in range(len(ring) - 3):
        a, b, c, d = ring[k : k + 4]
        pieces.append(
            b + t * (c - a) / 2 + t**2 * (2 * a - 5 * b + 4 * c - d) / 2 + t**3 * (3 * b - a - 3 * c + d) / 2
        )
    if not closed:
        pieces.append(way[-1:])
    return [(float(px), float(py)) for px, py in np.vstack(pieces)]


def sag(start: Point, end: Point, depth: float, *, steps: int = 16) -> list[Point]:
    """Return a slack rope between two points as a polyline, hanging `depth` lines below the chord."""
    t = np.arange(steps + 1) / steps
    xs = start[0] + t * (end[0] - start[0])
    ys = start[1] + t * (end[1] - start[1]) + 4 * depth * t * (1 - t)
    return [(float(px), float(py)) for px, py in zip(xs, ys, strict=True)]


# --- within ---------------------------------------------------------------------------------------


def _box_of(points: Sequence[Point], pad: float) -> tuple[float, float, float, float]:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs) - pad, min(ys) - pad, max(xs) + pad, max(ys) + pad


def _span(axis: Plane, low: float, high: float) -> slice:
    """Return the slice of the axis (steps of 1) from the first value >= `low` to the last < `high`."""
    first = float(axis.flat[0])
    start = min(max(ceil(low - first), 0), axis.size)
    return slice(start, min(max(ceil(high - first), start), axis.size))


def _lower_to_segment(
    out: Plane, xs: Plane, ys: Plane, start: Point, end: Point, thin: float, thick: float, reach: float
) -> None:
    """Lower `out` to the distance from a segment of radius `thin` growing to `thick`, near it only."""
    (ax, ay), (bx, by) = start, end
    pad = reach + max(thin, thick)
    rows = _span(ys, min(ay, by) - pad, max(ay, by) + pad)
    cols = _span(xs, min(ax, bx) - pad, max(ax, bx) + pad)
    if rows.stop <= rows.start or cols.stop <= cols.start:
        return
    px, py = xs[:, cols] - np.float32(ax), ys[rows] - np.float32(ay)
    vx, vy = np.float32(bx - ax), np.float32(by - ay)
    along = np.clip((px * vx + py * vy) / np.float32(max(float(vx * vx + vy * vy), 1e-12)), 0, 1)
    away = np.sqrt((px - along * vx) ** 2 + (py - along * vy) ** 2)
    if thin or thick:
        away -= np.float32(thin) + along * np.float32(thick - thin)
    np.minimum(out[rows, cols], away, out=out[rows, cols])


def _toggle_left_of(inside: NDArray[np.bool_], xs: Plane, ys: Plane, start: Point, end: Point) -> None:
    """Flip, on the lines an edge crosses, every point to its left (even-odd rule)."""
    (ax, ay), (bx, by) = start, end
    rows = _span(ys, min(ay, by), max(ay, by))
    if rows.stop > rows.start:
        cross = np.float32(ax) + (ys[rows] - np.float32(ay)) * np.float32((bx - ax) / (by - ay))
        inside[rows] ^= xs < cross
