"""A pen that draws one figure: `shapes` placed, scaled and mirrored, with colours as hexadecimal text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from scalesim.draw import painting, shapes
from scalesim.draw.shapes import Fill, Plane, Point, Shape

Tone = str | Fill
Way = str | Sequence[Point]


def tone(value: Tone) -> Fill:
    """Return a fill from six hexadecimal digits, or the fill itself."""
    return shapes.colour(value) if isinstance(value, str) else value


@dataclass(frozen=True)
class Pen:
    """Draw on `target` in the figure's own coordinates.

    The figure's origin is at (x, y) of the canvas; lengths are multiplied by `scale`; `mirror` turns
    it to face the other way. Outline widths (`width` and the arguments of that name) are in samples of
    the canvas whatever the scale, so that lines keep their weight. Every method returns the shape it
    drew, to be used as a `clip` for what lies on it.
    """

    target: Plane
    x: float = 0.0
    y: float = 0.0
    scale: float = 1.0
    mirror: bool = False
    ink: str = "2a1a3a"
    width: float = 3.0

    def at(self, point: Point) -> Point:
        """Return the canvas point of a figure point."""
        across = -point[0] if self.mirror else point[0]
        return self.x + across * self.scale, self.y + point[1] * self.scale

    def way(self, points: Way) -> list[Point]:
        """Return canvas points from figure points, given as tuples or as text: ``"0,0 12,-3.5 20,8"``."""
        if isinstance(points, str):
            pairs = (pair.split(",") for pair in points.split())
            return [self.at((float(x), float(y))) for x, y in pairs]
        return [self.at(p) for p in points]

    def to(self, x: float, y: float, *, scale: float = 1.0, mirror: bool = False) -> Pen:
        """Return a pen whose origin is at the figure point (x, y), scaled and mirrored further."""
        px, py = self.at((x, y))
        return replace(self, x=px, y=py, scale=self.scale * scale, mirror=self.mirror != mirror)

    def show(
        self,
        shape: Shape,
        fill: Tone | None,
        *,
        shade: Tone | None = None,
        shift: Point = (-5.0, -5.0),
        width: float | None = None,
        clip: Shape | None = None,
        opacity: float = 1.0,
        ink: str | None = None,
    ) -> Shape:
        """Paint a shape given in canvas coordinates with this pen's ink and line weight."""
        painting.paint(
            self.target,
            shape,
            None if fill is None else tone(fill),
            outline=self.width if width is None else width,
            ink=shapes.colour(ink or self.ink),
            shade=None if shade is None else tone(shade),
            shift=(shift[0] * self.scale * (-1 if self.mirror else 1), shift[1] * self.scale),
            clip=clip,
            opacity=opacity,
        )
        return shape

    def blob(self, points: Way, fill: Tone | None, **style: object) -> Shape:
        """Draw the smooth closed shape through `points`."""
        return self.show(shapes.blob(self.way(points)), fill, **style)  # type: ignore[arg-type]  # as show takes

    def poly(self, points: Way, fill: Tone | None, *, radius: float = 0.0, **style: object) -> Shape:
        """Draw a polygon, grown by `radius` with round corners."""
        shape = shapes.polygon(self.way(points), radius=radius * self.scale)
        return self.show(shape, fill, **style)  # type: ignore[arg-type]  # as show takes

    def box(
        self,
        left: float,
        top: float,
        right: float,
        bottom: float,
        fill: Tone | None,
        *,
        radius: float = 0.0,
        **style: object,
    ) -> Shape:
        """Draw an upright box with rounded corners."""
        (x0, y0), (x1, y1) = self.at((left, top)), self.at((right, bottom))
        shape = shapes.rounded_box(min(x0, x1), y0, max(x0, x1), y1, radius * self.scale)
        return self.show(shape, fill, **style)  # type: ignore[arg-type]  # as show takes

    def dot(self, x: float, y: float, radius: float, fill: Tone | None, **style: object) -> Shape:
        """Draw a disc."""
        return self.show(shapes.circle(*self.at((x, y)), radius * self.scale), fill, **style)  # type: ignore[arg-type]  # as show takes

    def oval(
        self,
        x: float,
        y: float,
        across: float,
        down: float,
        fill: Tone | None,
        *,
        turn: float = 0.0,
        **style: object,
    ) -> Shape:
        """Draw an ellipse turned clockwise by `turn` degrees (the other way when mirrored)."""
        angle = -turn if self.mirror else turn
        shape = shapes.ellipse(*self.at((x, y)), across * self.scale, down * self.scale, turn=angle)
        return self.show(shape, fill, **style)  # type: ignore[arg-type]  # as show takes

    def limb(self, points: Way, thick: Sequence[float], fill: Tone, **style: object) -> Shape:
        """Draw a smooth tapered tube through `points`, `thick` figure units wide at each."""
        return self.show(self.tube(points, thick), fill, **style)  # type: ignore[arg-type]  # as show takes

    def tube(self, points: Way, thick: Sequence[float]) -> Shape:
        """Return the shape `limb` draws, for unions."""
        steps = 6
        way = shapes.spline(self.way(points), steps=steps)
        place = np.arange(len(way)) / steps
        widths = np.interp(place, np.arange(len(thick)), thick) * self.scale
        return shapes.stroke(way, [float(w) for w in widths])

    def line(
        self,
        points: Way,
        fill: Tone | None = None,
        *,
        width: float | None = None,
        smooth: bool = True,
        clip: Shape | None = None,
        opacity: float = 1.0,
    ) -> Shape:
        """Draw a line `width` canvas samples wide (default: this pen's), in ink unless `fill` is given."""
        way = self.way(points)
        shape = shapes.stroke(shapes.spline(way) if smooth and len(way) > 2 else way, width or self.width)
        return self.show(shape, fill or self.ink, width=0.0, clip=clip, opacity=opacity)
