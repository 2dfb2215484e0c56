"""Painting on a canvas: shapes with coverage from their signed distance, soft shadows, glows, skylines.

Distance becomes coverage with a ramp one sample wide, inside a shape's box only; see `draw.shapes`.
"""

from __future__ import annotations

import numpy as np

from scalesim.draw.shapes import Colour, Fill, Plane, Point, Shape, moved


def paint(
    target: Plane,
    shape: Shape,
    fill: Fill | None,
    *,
    outline: float = 0.0,
    ink: Colour = (0.0, 0.0, 0.0),
    opacity: float = 1.0,
    shade: Fill | None = None,
    shift: Point = (-4.0, -4.0),
    clip: Shape | None = None,
) -> None:
    """Draw `shape` on `target` in place; what lies outside the canvas is left out.

    `fill` is a colour, a function of the points giving (m, n, 3), or None for the outline alone.
    `outline` is the width in samples of a line of colour `ink` centred on the edge. `shade` colours the
    part of the shape not covered by its own copy moved by `shift` (the dark side of flat two-tone
    shading). `clip` keeps the drawing inside another shape.
    """
    reach = outline / 2 + 1.5
    window = _window(target, shape.box, reach)
    if window is None:
        return
    view, xs, ys = window
    away = shape.distance(xs, ys, reach)
    mask = None if clip is None else _cover(clip.distance(xs, ys, 1.5))
    strength = np.float32(opacity)
    if fill is not None:
        body = _cover(away) * strength
        _over(view, fill, xs, ys, body if mask is None else body * mask)
        if shade is not None:
            dark = body * (1 - _cover(moved(shape, *shift).distance(xs, ys, reach)))
            _over(view, shade, xs, ys, dark if mask is None else dark * mask)
    if outline > 0:
        line = _cover(np.abs(away) - np.float32(outline / 2)) * strength
        # A line thinner than one sample keeps its share of the ink instead of its width.
        line *= np.float32(min(1.0, outline))
        _over(view, ink, xs, ys, line if mask is None else line * mask)


def soft_shadow(target: Plane, shape: Shape, tone: Colour, *, blur: float, opacity: float) -> None:
    """Draw `shape` with an edge `blur` samples soft to each side (smoothstep of the distance)."""
    window = _window(target, shape.box, blur)
    if window is None:
        return
    view, xs, ys = window
    t = np.clip(0.5 - shape.distance(xs, ys, blur) / np.float32(2 * blur), 0, 1)
    _over(view, tone, xs, ys, np.float32(opacity) * t * t * (3 - 2 * t))


def glow(target: Plane, x: float, y: float, radius: float, tone: Colour, strength: float = 1.0) -> None:
    """Add light of colour `tone` falling as (1 - d^2 / radius^2)^3 to nothing at `radius` samples."""
    window = _window(target, (x - radius, y - radius, x + radius, y + radius), 0.0)
    if window is None:
        return
    view, xs, ys = window
    near = 1 - ((xs - np.float32(x)) ** 2 + (ys - np.float32(y)) ** 2) / np.float32(radius * radius)
    near = np.maximum(near, 0)
    light = np.float32(strength) * near * near * near
    for k in range(3):
        view[..., k] += light * np.float32(tone[k])


def mountains(target: Plane, tops: Plane, fill: Fill, *, bottom: float | None = None) -> None:
    """Fill every sample below the line number `tops` (samples,) down to `bottom` (or to the frame's end)."""
    end = target.shape[0] if bottom is None else int(min(bottom, target.shape[0]))
    start = int(np.clip(np.floor(tops.min()) - 1, 0, end))
    if end <= start:
        return
    ys = np.arange(start, end, dtype=np.float32)[:, None] + np.float32(0.5)
    xs = np.arange(target.shape[1], dtype=np.float32)[None] + np.float32(0.5)
    _over(target[start:end], fill, xs, ys, _cover(tops[None].astype(np.float32) - ys))


def _cover(distance: Plane) -> Plane:
    return np.asarray(np.clip(np.float32(0.5) - distance, 0, 1), np.float32)


def _over(view: Plane, fill: Fill, xs: Plane, ys: Plane, cover: Plane) -> None:
    tone = fill(xs, ys) if callable(fill) else np.asarray(fill, np.float32)
    for k in range(3):  # colour by colour: several times quicker than broadcasting over triples
        view[..., k] += cover * (tone[..., k] - view[..., k])


def _window(
    target: Plane, box: tuple[float, float, float, float], pad: float
) -> tuple[Plane, Plane, Plane] | None:
    lines, samples = target.shape[:2]
    left, top = max(0, int(np.floor(box[0] - pad))), max(0, int(np.floor(box[1] - pad)))
    right, bottom = min(samples, int(np.ceil(box[2] + pad))), min(lines, int(np.ceil(box[3] + pad)))
    if right <= left or bottom <= top:
        return None
    xs = np.arange(left, right, dtype=np.float32)[None] + np.float32(0.5)
    ys = np.arange(top, bottom, dtype=np.float32)[:, None] + np.float32(0.5)
    return target[top:bottom, left:right], xs, ys
