"""'Kettle Crew at Bellweather Quay', an invented cartoon adventure, as one 720p frame.

A pier in a town of the sky at the end of an afternoon; the crew waits for its flying kettle. Everything
is drawn with clean dark outlines 2 to 4 lines wide, flat two-tone shading, thin ropes, rails and bunting
(horizontal and slanted), and a small status line. It tests what dropping or averaging lines does to
outlines: 720 to 240 lines leaves about one line of each.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.demo.kettle_crew import cast as kettle_cast
from scalesim.demo.kettle_crew import places as kettle_places
from scalesim.demo.kettle_crew import ship as kettle_ship
from scalesim.draw import letters as pixelfont
from scalesim.draw import painting, shapes
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, Point, colour

LINES, SAMPLES = 720, 1280


def draw() -> NDArray[np.uint8]:
    """Return the frame, uint8 (720, 1280, 3), 8-bit code values; the same on every call."""
    target = shapes.canvas(LINES, SAMPLES)
    _backdrop(target)
    kettle_places.town(Pen(target, 618, 402, 1.0))
    _low_clouds(target)
    kettle_ship.ship(Pen(target, 1014, 326, 1.04))
    _steam(target)
    _foreground(target)
    _status(target)
    frame = shapes.to_bytes(target)
    _words(frame)
    return frame


def _backdrop(target: Plane) -> None:
    kettle_places.sky(target)
    for x, y, size, seed in (
        (150, 210, 330, 3),
        (560, 128, 240, 8),
        (1000, 150, 420, 5),
        (1240, 300, 260, 12),
    ):
        kettle_places.cloud(target, x, y, size, seed, light="e6f2f4", dark="bcd6e6")
    kettle_places.far_islands(target)
    for x, y, size, seed in (
        (90, 575, 480, 21),
        (420, 520, 380, 22),
        (900, 560, 520, 23),
        (1230, 540, 400, 24),
    ):
        kettle_places.cloud(target, x, y, size, seed, light="fff3df", dark="e3cfdc")
    pen = Pen(target, width=2)
    for x, y, s in ((372, 236, 1.0), (408, 214, 0.7), (330, 262, 0.6), (786, 196, 0.8), (820, 214, 0.6)):
        pen.line(
            [
                (x - 17 * s, y - 5 * s),
                (x - 8 * s, y - 9 * s),
                (x, y),
                (x + 8 * s, y - 9 * s),
                (x + 17 * s, y - 5 * s),
            ],
            width=2.5,
        )


def _low_clouds(target: Plane) -> None:
    layers = (
        (540, 630, 420, 31, "fff4e2", "e6cfdc"),
        (860, 622, 460, 32, "fff4e2", "e6cfdc"),
        (1200, 610, 420, 33, "fff0de", "dfc4d8"),
        (1090, 690, 620, 36, "fbe6dc", "d3b4d2"),
        (760, 730, 420, 38, "f6dcd8", "c8a6cb"),
    )
    for x, y, size, seed, light, dark in layers:
        kettle_places.cloud(target, x, y, size, seed, light=light, dark=dark, edge="a98bb8")


def _steam(target: Plane) -> None:
    puffs = (
        (1284, 226, 15),
        (1296, 196, 22),
        (1262, 168, 20),
        (1286, 140, 30),
        (1240, 126, 26),
        (1268, 88, 34),
    )
    cloud = shapes.union(*(shapes.circle(x, y, r) for x, y, r in puffs))
    painting.paint(
        target,
        cloud,
        colour("ffffff"),
        shade=colour("d7d3ea"),
        shift=(-6, -8),
        outline=2.5,
        ink=colour("6d6a96"),
    )


def _foreground(target: Plane) -> None:
    pen = Pen(target)
    kettle_ship.teacup_boat(pen.to(914, 632, scale=0.84))
    kettle_places.cloud(target, 862, 716, 190, 40, light="fdeade", dark="d6b6d2", edge="a98bb8")
    kettle_places.cloud(target, 1220, 742, 460, 41, light="f6dcd8", dark="c8a6cb", edge="a98bb8")
    _rope(pen, shapes.sag((744, 604), (902, 440), 26))
    kettle_places.quay(target)
    _bunting(pen, shapes.sag((52, 378), (592, 162), 92, steps=52))
    for x in (150, 230, 310, 390):
        pen.box(x - 5, 524, x + 5, 594, "b9764c", shade="8a5040", shift=(-4, 0), radius=2, width=2.5)
    for y in (536, 560):
        pen.box(60, y - 4, 402, y + 4, "d89c60", shade="a96c48", shift=(0, -4), radius=3, width=2)
    kettle_places.crates(pen.to(10, 622, scale=0.92))
    kettle_places.lamp_post(pen.to(34, 606))
    for x, y, wide in ((232, 640, 84), (432, 650, 60), (596, 654, 44), (736, 642, 24)):
        pen.oval(x, y, wide, 8, "8a5040", width=0, opacity=0.6)
    kettle_cast.bramble(pen.to(232, 638, scale=0.98))
    kettle_cast.pip(pen.to(432, 648, scale=1.06))
    kettle_cast.spout(pen.to(590, 636, scale=0.95))
    kettle_places.bollard(pen.to(736, 640))
    kettle_cast.gull(pen.to(738, 580, scale=0.85))
    for k, (x, y) in enumerate(((676, 536), (690, 520), (676, 504))):
        pen.dot(x, y, 6 + 2 * k, "ffffff", width=2, ink="8d8ab4")


def _rope(pen: Pen, way: list[Point]) -> None:
    pen.line(way, "2a1a3a", width=8, smooth=False)
    pen.line(way, "f0d8a4", width=4, smooth=False)
    for k in range(1, len(way) - 1):
        x, y = way[k]
        pen.line([(x - 2, y - 2), (x + 2, y + 2)], "b58a5a", width=2, smooth=False)


def _bunting(pen: Pen, way: list[Point]) -> None:
    tones = (
        ("f2574a", "b52a43"),
        ("ffd25e", "d99a34"),
        ("2bb0a2", "1b8288"),
        ("fff1d6", "d3bcc0"),
        ("6f8fe0", "4e68bd"),
    )
    pen.line(way, width=2.5, smooth=False)
    for k in range(1, len(way) - 2, 3):
        (x0, y0), (x1, y1) = way[k], way[k + 2]
        light, dark = tones[k // 3 % 5]
        pen.poly(
            [(x0, y0), (x1, y1), ((x0 + x1) / 2 + 3, (y0 + y1) / 2 + 25)],
            light,
            shade=dark,
            shift=(-4, 0),
            width=2,
        )


def _status(target: Plane) -> None:
    pen = Pen(target)
    pen.box(78, 26, 306, 92, "3a2a52", radius=14, opacity=0.88)
    pen.dot(66, 58, 43, "ffd25e", shade="d99a34", shift=(-5, -6))
    disc = pen.dot(66, 58, 35, "9fd4e6", width=0)
    behind = target.copy()
    kettle_cast.pip_head(Pen(behind, 64, 66, 0.62, width=2))
    painting.paint(target, disc, lambda xs, ys: behind[_range(ys), _range(xs)])
    pen.dot(66, 58, 35, None, width=2.5)
    for k in range(5):
        _cup(pen.to(136 + 34 * k, 73, scale=0.85), full=k < 4)
    pen.box(1108, 30, 1246, 78, "3a2a52", radius=14, opacity=0.88)
    pen.dot(1134, 54, 15, "ffd25e", shade="d99a34", shift=(-4, -4), width=2.5)
    for dx, dy in ((-4, -4), (4, -4), (-4, 4), (4, 4)):
        pen.dot(1134 + dx, 54 + dy, 2.2, "6d4358", width=0)
    pen.box(874, 668, 1246, 704, "3a2a52", radius=10, opacity=0.88, width=2)
    pen.blob("890,678 896,674 902,678 908,692 884,692", "ffd25e", width=2)


def _range(axis: Plane) -> slice:
    return slice(int(axis.ravel()[0]), int(axis.ravel()[-1]) + 1)


def _cup(pen: Pen, *, full: bool) -> None:
    pen.dot(13, -6, 6, None, width=2.5, ink="fdf9ff" if full else "8a7aa6")
    pen.blob("-14,-14 0,-12 14,-14 11,6 0,11 -11,6", "fdf9ff" if full else "5d4d7c", width=2)
    if full:
        pen.oval(0, -13, 12, 4, "c9763f", width=2)


def _words(frame: NDArray[np.uint8]) -> None:
    cream, gold, dark = (255, 244, 220), (255, 210, 94), (42, 26, 58)
    pixelfont.write(frame, "Captain Pip", 36, 120, gold, scale=2, shadow=dark)
    pixelfont.write(frame, "x 128", 47, 1162, cream, scale=2, shadow=dark)
    pixelfont.write(frame, "Ring the bells of the quay", 674, 924, cream, scale=2, shadow=dark)
    pixelfont.write(frame, "Found 2 of 3. The kettle sails at dusk.", 693, 924, gold, scale=1)
