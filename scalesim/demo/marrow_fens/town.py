"""Buildings, plants and boats of `marrow_fens`, each standing on one tile of the slanted map.

A tile is 48 samples by 24 lines. `place(site, u, v, h)` turns tile coordinates (u to the lower right, v
to the lower left, each -1/2..1/2 inside the tile; h in lines above the ground) into a canvas point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalesim.draw import painting, shapes
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, Point, colour

HALF_WIDE, HALF_HIGH = 24, 12
ORIGIN = (360, 232)
INK = "1b2233"


@dataclass(frozen=True)
class Site:
    """A tile of the map to draw on: its canvas, its two map coordinates and its height above the water."""

    target: Plane
    i: float
    j: float
    ground: float = 0.0

    @property
    def pen(self) -> Pen:
        """A pen with one-sample outlines whose origin is the middle of the tile."""
        x, y = self.at(0, 0, 0)
        return Pen(self.target, x, y, ink=INK, width=1.1)

    def at(self, u: float, v: float, h: float) -> Point:
        """Return the canvas point of tile coordinates."""
        a, b = self.i + u, self.j + v
        return ORIGIN[0] + (a - b) * HALF_WIDE, ORIGIN[1] + (a + b) * HALF_HIGH - self.ground - h

    def face(
        self,
        corners: Sequence[tuple[float, float, float]],
        fill: str,
        *,
        width: float = 1.1,
        opacity: float = 1.0,
    ) -> shapes.Shape:
        """Fill a flat face given by its corners (u, v, h)."""
        shape = shapes.polygon([self.at(*c) for c in corners])
        painting.paint(self.target, shape, colour(fill), outline=width, ink=colour(INK), opacity=opacity)
        return shape

    def rule(
        self,
        start: tuple[float, float, float],
        end: tuple[float, float, float],
        tone: str = INK,
        width: float = 1.0,
    ) -> None:
        """Draw a straight line between two points (u, v, h)."""
        painting.paint(self.target, shapes.stroke([self.at(*start), self.at(*end)], width), colour(tone))


def shadow(site: Site, u: float, v: float, size: float) -> None:
    """Darken the ground to the right of something `size` tiles wide."""
    x, y = site.at(u + 0.18, v - 0.05, 0)
    painting.soft_shadow(
        site.target, shapes.ellipse(x, y, 26 * size, 12 * size), colour("0e1a2a"), blur=4, opacity=0.45
    )


def block(
    site: Site,
    u: tuple[float, float],
    v: tuple[float, float],
    h: tuple[float, float],
    top: str,
    left: str,
    right: str,
) -> None:
    """Draw the three visible faces of an upright block."""
    (u0, u1), (v0, v1), (h0, h1) = u, v, h
    site.face([(u0, v1, h0), (u1, v1, h0), (u1, v1, h1), (u0, v1, h1)], left)
    site.face([(u1, v0, h0), (u1, v1, h0), (u1, v1, h1), (u1, v0, h1)], right)
    site.face([(u0, v0, h1), (u1, v0, h1), (u1, v1, h1), (u0, v1, h1)], top)


def house(
    site: Site,
    roof: tuple[str, str, str],
    *,
    size: float = 0.4,
    tall: float = 17,
    smoke: bool = False,
    wall: str = "ead9b4",
) -> None:
    """Draw a stilt house with a thatched gable roof (roof: lit, line and end tones) and lit windows."""
    shadow(site, 0, 0, size * 2.2)
    s, foot = size, 5.0
    for u, v in ((-s, s), (0, s), (s, s), (s, 0), (s, -s)):
        site.rule((u * 0.94, v * 0.94, -1), (u * 0.94, v * 0.94, foot), "3a2c2c", 2)
    block(site, (-s, s), (-s, s), (foot, foot + 2), "8a6240", "7a5438", "5a3c30")
    top = foot + 2 + tall
    w = s * 0.9
    site.face([(-w, w, foot + 2), (w, w, foot + 2), (w, w, top), (-w, w, top)], wall)
    site.face([(w, -w, foot + 2), (w, w, foot + 2), (w, w, top), (w, 0, top + 15), (w, -w, top)], "b59a86")
    for u in (-0.62, 0.0, 0.62):
        site.rule((u * w, w, foot + 2), (u * w, w, top), "7a5438")
    for u in (-0.45, 0.25):
        site.face(
            [
                (u * w, w, foot + 7),
                ((u + 0.32) * w, w, foot + 7),
                ((u + 0.32) * w, w, foot + 15),
                (u * w, w, foot + 15),
            ],
            "ffd772",
            width=1,
        )
    site.face(
        [
            (w, -0.25 * w, foot + 2),
            (w, 0.25 * w, foot + 2),
            (w, 0.25 * w, foot + 14),
            (w, -0.25 * w, foot + 14),
        ],
        "5a3c30",
        width=1,
    )
    site.face(
        [(w, -0.16 * w, top + 1), (w, 0.16 * w, top + 1), (w, 0.16 * w, top + 7), (w, -0.16 * w, top + 7)],
        "ffd772",
        width=1,
    )
    _gable(site, roof, s + 0.06, top)
    if smoke:
        chimney = site.at(-0.1, -0.12, top + 24)
        site.pen.to(0, 0)
        block(site, (-0.16, -0.04), (-0.2, -0.08), (top + 8, top + 24), "b06a58", "9a5a4c", "6f4040")
        for k in range(5):
            painting.paint(
                site.target,
                shapes.circle(chimney[0] + 4 * k + k * k * 0.8, chimney[1] - 5 - 8 * k, 3 + 1.5 * k),
                colour("d8dcec"),
                opacity=0.55 - 0.09 * k,
            )
    x, y = site.at(0, w, foot + 10)
    painting.glow(site.target, x, y, 34, colour("ff9a30"), 0.30)


def _gable(site: Site, roof: tuple[str, str, str], s: float, top: float) -> None:
    lit, line, end = roof
    ridge, eave = top + 18.0, top - 3.0
    site.face([(-s, -s, eave), (s, -s, eave), (s, 0, ridge), (-s, 0, ridge)], end)
    site.face(
        [(s, s, eave), (s, 0, ridge), (s, -s, eave), (s, -s, eave - 3), (s, 0, ridge - 5), (s, s, eave - 3)],
        end,
    )
    site.face([(-s, s, eave), (s, s, eave), (s, 0, ridge), (-s, 0, ridge)], lit)
    for k in range(1, 5):
        t = k / 5
        site.rule(
            (-s, s * (1 - t), eave + (ridge - eave) * t), (s, s * (1 - t), eave + (ridge - eave) * t), line
        )
    site.rule((-s, 0.02, ridge), (s, 0.02, ridge), "f6dfa0", 2)


THATCH = ("d9a54e", "b58038", "a3713a")
SLATE = ("6d86a8", "526a8e", "46587a")
TILES = ("cf6048", "a84840", "8f3d3f")
MOSS = ("8aa257", "6c8646", "5f7442")


def windmill(site: Site) -> None:
    """Draw the pumping mill: a tarred tower, a boat-shaped cap and four lattice sails."""
    shadow(site, 0.3, 0, 1.6)
    x, y = site.at(0, 0, 0)
    pen = Pen(site.target, x, y, ink=INK, width=1.4)
    block(site, (-0.46, 0.46), (-0.46, 0.46), (0, 12), "9a8a7a", "8c7a70", "64566a")
    tower = pen.poly("-21,-8 -12,-84 12,-84 21,-8 0,3", "e8dcc0", shade="a5909a", shift=(-15, 0))
    for k in range(6):
        pen.line([(-24, -18 - 11 * k), (0, -11 - 11 * k), (24, -18 - 11 * k)], "b9a58f", width=1, clip=tower)
    pen.box(-7, -22, 1, -3, "5a3c30", radius=3)
    for wx, wy in ((-9, -46), (5, -62), (-6, -72)):
        pen.box(wx, wy, wx + 5, wy + 8, "ffd772", width=1)
    pen.poly("-26,-62 26,-62 20,-57 -20,-57", "7a5438")
    for k in range(-5, 6):
        pen.line([(5 * k, -62), (5 * k, -69)], width=1)
    pen.line("-26,-69 26,-69", width=1, smooth=False)
    pen.blob(
        "-15,-84 -10,-98 4,-104 16,-96 15,-84 0,-81", "8f3d3f", shade="64304a", shift=(-5, -3), width=1.4
    )
    hub = (-9.0, -91.0)
    for k in range(4):
        _sail(pen, hub, np.deg2rad(24 + 90 * k))
    pen.dot(*hub, 4, "ffd25e", width=1.4)


def _sail(pen: Pen, hub: Point, turn: float) -> None:
    along, across = (float(np.cos(turn)), float(np.sin(turn))), (-float(np.sin(turn)), float(np.cos(turn)))

    def spot(a: float, b: float) -> Point:
        return hub[0] + a * along[0] + b * across[0], hub[1] + a * along[1] + b * across[1]

    cloth = shapes.polygon([pen.at(spot(a, b)) for a, b in ((14, 1), (62, 1), (62, 13), (14, 11))])
    painting.paint(pen.target, cloth, colour("f4ead2"), opacity=0.82)
    pen.line([spot(0, 0), spot(64, 0)], "4a3430", width=2.4, smooth=False)
    for b in (6.5, 12.5):
        pen.line([spot(14, b), spot(62, b)], "4a3430", width=1, smooth=False)
    for k in range(9):
        pen.line([spot(14 + 6 * k, 0), spot(14 + 6 * k, 12.5)], "4a3430", width=1, smooth=False)


def willow(site: Site, size: float, seed: int) -> None:
    """Draw a willow: a crown of hanging strands."""
    random = np.random.RandomState(seed)
    shadow(site, 0, 0, 0.8 * size)
    pen = site.pen.to(0, 0, scale=size)
    pen.limb("0,3 -2,-12 2,-26", [7, 5, 4], "6b4a3a", shade="4a3236", shift=(-2, 0), width=1.1)
    pen.blob(
        "-20,-22 -15,-38 0,-45 16,-38 21,-22 17,-6 8,-13 0,-5 -8,-12 -18,-5",
        "7f9f45",
        shade="4c7244",
        shift=(-7, -5),
        width=1.1,
    )
    for _ in range(11):
        x, y = random.uniform(-15, 15), random.uniform(-38, -20)
        pen.line(
            [(x, y), (x + random.uniform(-3, 3), y + 8), (x * 1.05, y + 15)],
            "b4c860" if x < 3 else "6a8c48",
            width=1,
            smooth=False,
        )


def reeds(site: Site, seed: int, *, thick: int = 15) -> None:
    """Draw a reed bed: thin upright strokes with brown heads."""
    random = np.random.RandomState(seed)
    spots = sorted((random.uniform(-0.42, 0.42), random.uniform(-0.42, 0.42)) for _ in range(thick))
    for u, v in sorted(spots, key=sum):
        tall, lean = random.uniform(9, 19), random.uniform(-2.5, 3.0)
        x, y = site.at(u, v, 0)
        tone = ("d8b458", "b8923f", "8c9a48", "e8cc78")[random.randint(4)]
        painting.paint(site.target, shapes.stroke([(x, y), (x + lean, y - tall)], 1.2), colour(tone))
        if random.rand() < 0.4:
            painting.paint(
                site.target,
                shapes.capsule((x + lean, y - tall), (x + lean * 1.2, y - tall + 5), 2.4),
                colour("6b3f2a"),
            )


def punt(site: Site, *, lantern: bool = True, mirror: bool = False) -> None:
    """Draw a flat boat with a figure, a pole and a lantern with its reflection."""
    pen = site.pen
    pen = pen.to(0, 0, mirror=mirror)
    pen.blob(
        "-27,-2 -12,8 14,-4 28,-15 16,-14 -4,-5 -18,-2", "7a4f38", shade="4f3232", shift=(-2, -4), width=1.2
    )
    pen.line("-22,-1 -10,4 12,-6 24,-14", "c98f5a", width=1)
    pen.limb("3,-8 4,-22", [9, 6], "3f5f8a", shade="2c4468", shift=(-2, 0), width=1.1)
    pen.dot(5, -26, 4, "e0a878", width=1.1)
    pen.poly("-3,-27 5,-35 13,-27", "d9b860", width=1.1)
    pen.line("10,-34 -14,16", "3a2c2c", width=1.4, smooth=False)
    if lantern:
        x, y = pen.at((26, -26))
        pen.line("24,-14 27,-30", width=1.2)
        pen.dot(27, -24, 3, "fff0b0", width=1)
        painting.glow(site.target, x, y, 46, colour("ffae48"), 0.5)
        for k in range(4):
            pen.line(
                [(22 + k, -4 + 4 * k), (30 - k, -4 + 4 * k)],
                "ffd890",
                width=1,
                smooth=False,
                opacity=0.8 - 0.18 * k,
            )


def rail(site: Site, start: tuple[float, float], end: tuple[float, float], h: float = 3) -> None:
    """Draw a handrail on posts between two tile points: two lines of one sample."""
    for k in range(4):
        u, v = (start[n] + (end[n] - start[n]) * k / 3 for n in (0, 1))
        site.rule((u, v, h - 4), (u, v, h + 8), "3a2c2c", 1.4)
    for up in (4.0, 8.0):
        site.rule((*start, h + up), (*end, h + up), "e0b880" if up == 8 else "8a6240", 1.0)
