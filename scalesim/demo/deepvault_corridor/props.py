"""What stands in the corridor of `deepvault_corridor`: vines, a small flying drone and the held tool."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from scalesim.demo.deepvault_corridor.cast import FOCUS, project
from scalesim.draw import painting, shapes, texture
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, Point, colour

World = tuple[float, float, float]


def vines(target: Plane) -> None:
    """Draw vines climbing the right wall and hanging from the ribs, farthest first."""
    random = np.random.RandomState(12)
    for x, top, z in (
        (-1.5, 3.0, 9.05),
        (1.3, 3.0, 9.05),
        (0.9, 3.0, 6.05),
        (-1.0, 3.0, 6.05),
        (-1.3, 3.0, 6.02),
    ):
        long = random.uniform(0.3, 0.8)
        _vine(
            target,
            [(x, top, z), (x + 0.05, top - long * 0.5, z), (x - 0.03, top - long, z)],
            random,
            leaf=0.085,
        )
    _vine(
        target,
        [(2.2, 0.1, 5.6), (2.2, 0.8, 5.2), (2.2, 1.2, 5.4), (2.2, 1.9, 4.9), (2.2, 2.5, 5.1)],
        random,
        leaf=0.12,
    )
    _vine(
        target,
        [(2.2, 0.2, 5.0), (2.2, 0.7, 4.6), (2.2, 1.6, 4.5), (2.2, 1.9, 4.0), (2.2, 2.4, 3.9)],
        random,
        leaf=0.12,
    )
    _vine(target, [(2.0, 0.0, 4.2), (2.2, 0.5, 4.1), (2.2, 1.0, 4.3), (2.2, 1.35, 3.8)], random, leaf=0.11)
    _vine(target, [(0.5, 3.0, 3.05), (0.55, 2.75, 3.05), (0.5, 2.6, 3.05)], random, leaf=0.09)
    _vine(target, [(-0.9, 3.0, 3.05), (-0.86, 2.7, 3.05), (-0.93, 2.45, 3.05)], random, leaf=0.09)


def _vine(target: Plane, way: list[World], random: np.random.RandomState, *, leaf: float) -> None:
    """Draw one stem through world points, with leaves and glowing buds, dimmed by its distance."""
    near = way[len(way) // 2][2]
    fade = float(np.clip(1.15 - near * 0.09, 0.25, 1.0))
    deep, lit, rim = (shapes.mix(colour("16302f"), colour(c), fade) for c in ("1c4a32", "3f7f3c", "a3cf63"))
    path = shapes.spline([project(*p) for p in way], steps=8)
    unit = FOCUS / near
    painting.paint(
        target, shapes.stroke([(x + 5, y + 6) for x, y in path], unit * 0.03), (0, 0, 0), opacity=0.4
    )
    painting.paint(target, shapes.stroke(path, unit * 0.034), deep)
    painting.paint(target, shapes.stroke([(x - 1, y - 1) for x, y in path], unit * 0.012), lit)
    for k in range(2, len(path), 2):
        size = unit * leaf * random.uniform(0.7, 1.25)
        _leaf(target, path[k], size, random.uniform(-0.5, 0.9) + (3.14 if k % 4 else 0.0), deep, lit, rim)
    for k in range(5, len(path), 9):
        x, y = path[k]
        painting.glow(target, x, y, unit * 0.2, colour("38e0a0"), 0.5 * fade)
        painting.paint(target, shapes.circle(x, y, unit * 0.03), colour("c8ffe0"))


def _leaf(
    target: Plane,
    root: Point,
    size: float,
    turn: float,
    deep: shapes.Colour,
    lit: shapes.Colour,
    rim: shapes.Colour,
) -> None:
    cos, sin = float(np.cos(turn)), float(np.sin(turn))

    def place(u: float, v: float) -> Point:
        return root[0] + size * (u * cos - v * sin), root[1] + size * (u * sin + v * cos)

    whole = shapes.blob(
        [
            place(0, 0),
            place(0.35, -0.32),
            place(0.75, -0.22),
            place(1.1, 0.02),
            place(0.7, 0.26),
            place(0.3, 0.24),
        ],
        steps=3,
    )
    painting.paint(target, shapes.moved(whole, 4, 6), (0, 0, 0), opacity=0.3)
    painting.paint(target, whole, lit, shade=deep, shift=(-size * 0.06, -size * 0.14))
    painting.paint(
        target, shapes.capsule(place(0.05, 0), place(0.95, 0.01), max(1.2, size * 0.04)), rim, opacity=0.8
    )


def drone(target: Plane) -> None:
    """Draw the flying drone, a ceramic ball with a sprout on its head, looking back at us."""
    x, y = project(0.62, 1.98, 3.9)
    pen = Pen(target, x, y, FOCUS / 3.9 * 0.0036, ink="0d1a20", width=2)
    painting.glow(target, x - 6, y + 10, 260, colour("1fb0a8"), 0.35)
    for side in (-1, 1):
        pen.poly([(side * 48, -8), (side * 84, -20), (side * 92, 4), (side * 52, 16)], "2a3438", radius=3)
        pen.oval(side * 88, 6, 22, 8, "394a50", shade="182228", shift=(0, -4))
        pen.poly(
            [(side * 74, 12), (side * 102, 12), (side * 94, 44), (side * 82, 44)],
            "36e6d0",
            width=0,
            opacity=0.35,
        )
    ball = pen.dot(0, 0, 56, texture.radial_gradient(x - 18, y - 40, 105, colour("fff0d4"), colour("3a4448")))
    pen.box(-60, 18, 60, 31, "d8742a", width=0, clip=ball, opacity=0.85)
    pen.line("-60,38 60,38", "20282c", width=2, clip=ball)
    pen.line("-30,-60 -40,60", "5c5f58", width=1.5, clip=ball, opacity=0.6)
    pen.dot(-6, -6, 30, "141d22")
    pen.dot(-6, -6, 23, None, ink="43f0dc", width=3)
    pen.dot(-6, -6, 12, "b9fff2", width=0)
    pen.dot(-14, -16, 5, "ffffff", width=0, opacity=0.9)
    painting.glow(target, *pen.at((-6, -6)), 110, colour("2fe0cc"), 0.45)
    pen.oval(-22, -38, 20, 8, "ffffff", turn=-30, width=0, opacity=0.5)
    pen.line("0,-54 2,-70 -2,-84", "4f9a44", width=4)
    for side in (-1, 1):
        pen.blob(
            [(-2, -82), (side * 12, -98), (side * 32, -100), (side * 28, -86), (side * 10, -78)],
            "7ccb52",
            shade="3f8a3e",
            shift=(-3, -5),
            width=1.5,
        )


def tool(target: Plane) -> None:
    """Draw the held seed lantern and the glove that holds it, from the lower right corner."""
    back, front = np.array([1830.0, 1150.0]), np.array([1300.0, 792.0])
    way = (front - back) / np.hypot(*(front - back))
    side = np.array([-way[1], way[0]])

    def at(u: float, v: float) -> Point:
        p = back + u * (front - back) + side * v * (1.3 - 0.62 * u)
        return float(p[0]), float(p[1])

    def part(*corners: tuple[float, float]) -> shapes.Shape:
        return shapes.polygon([at(u, v) for u, v in corners], radius=4)

    pen = Pen(target, ink="06090b", width=2)
    painting.soft_shadow(
        target, part((0, 150), (0.9, 110), (1.0, -60), (0, -150)), (0, 0, 0), blur=60, opacity=0.5
    )
    painting.glow(target, *at(1.05, 4), 260, colour("28d8a8"), 0.5)
    # Body: dark underside, middle, lit upper edge.
    pen.show(part((-0.1, 96), (0.9, 84), (0.92, -70), (-0.1, -110)), "1a2022")
    pen.show(part((-0.1, 96), (0.9, 84), (0.91, 20), (-0.1, 20)), "39413f", width=0)
    pen.show(part((-0.1, 96), (0.9, 84), (0.9, 70), (-0.1, 76)), "8a7350", width=0)
    pen.show(part((-0.1, 96), (0.9, 84), (0.9, 80), (-0.1, 90)), "f2c88a", width=0)
    for k in range(9):
        u = 0.10 + 0.035 * k
        pen.line([at(u, 66), at(u + 0.012, -90)], "0c1012", width=5, smooth=False)
        pen.line([at(u + 0.012, 66), at(u + 0.02, 10)], "6a6a5c", width=1.5, smooth=False)
    _tube(pen, at)
    pen.show(part((0.86, 104), (0.97, 98), (0.98, -86), (0.87, -92)), "4a4034")
    pen.show(part((0.86, 104), (0.97, 98), (0.97, 62), (0.86, 66)), "c79a5c", width=0)
    for k in range(5):
        v = 84 - 38 * k
        pen.dot(*at(0.915, v), 5, "17140f" if k else "fff0c8", width=0)
    nose = at(1.0, 4)
    pen.oval(*nose, 30, 62, "20302f", turn=-28)
    pen.oval(nose[0] - 5, nose[1] - 3, 22, 50, "2fe0b0", turn=-28, width=2)
    pen.oval(nose[0] - 8, nose[1] - 5, 12, 34, "d8fff0", turn=-28, width=0)
    # A small gauge, three screws and the glove.
    pen.show(part((0.60, 4), (0.74, 2), (0.74, -46), (0.60, -52)), "0a1412")
    for k in range(6):
        pen.line(
            [at(0.615 + 0.02 * k, -8), at(0.617 + 0.02 * k, -40)],
            "f2a33a" if k < 4 else "4a3a22",
            width=5,
            smooth=False,
        )
    for u, v in ((0.55, -30), (0.79, -24), (0.82, 40)):
        pen.dot(*at(u, v), 7, "8a7f68", width=2)
        pen.line([at(u - 0.006, v - 4), at(u + 0.006, v + 4)], "17140f", width=2, smooth=False)
    _glove(pen)


def _tube(pen: Pen, at: Callable[[float, float], Point]) -> None:
    glass = shapes.polygon([at(0.44, 150), at(0.82, 128), at(0.82, 78), at(0.44, 84)], radius=9)
    pen.show(glass, "0f5a44", width=3)
    pen.show(
        shapes.polygon([at(0.46, 140), at(0.80, 121), at(0.80, 88), at(0.46, 94)], radius=6),
        "2fd890",
        width=0,
    )
    pen.show(
        shapes.polygon([at(0.46, 146), at(0.80, 126), at(0.80, 119), at(0.46, 136)], radius=3),
        "c9ffe0",
        width=0,
    )
    for u, v, r in ((0.52, 112, 5), (0.6, 120, 3.5), (0.66, 104, 4.5), (0.73, 112, 3)):
        pen.show(shapes.circle(*at(u, v), r), "eafff2", width=0, opacity=0.8)
    x, y = at(0.62, 110)
    pen.oval(x + 4, y, 15, 10, "0c4a34", turn=30, width=0)
    pen.line([(x, y), (x - 22, y - 12), (x - 34, y - 24)], "0c4a34", width=4)
    painting.glow(pen.target, x, y - 4, 190, colour("20c080"), 0.45)
    for u in (0.42, 0.82):
        pen.show(
            shapes.polygon(
                [
                    at(u, 158 - 60 * (u - 0.4)),
                    at(u + 0.04, 155 - 60 * (u - 0.4)),
                    at(u + 0.04, 70),
                    at(u, 72),
                ],
                radius=3,
            ),
            "5a4c38",
        )


def _glove(pen: Pen) -> None:
    pen.blob(
        "1930,960 1820,935 1730,950 1690,1010 1700,1100 1960,1110", "3a2f33", shade="1d181c", shift=(-10, -26)
    )
    pen.line("1716,972 1770,950 1850,946 1920,962", "c98f5a", width=4)
    for k in range(4):
        x, y = 1600 + 52 * k, 930 + 34 * k
        pen.limb(
            [(x + 90, y + 40), (x + 42, y + 26), (x + 2, y + 74)],
            [56, 58, 52],
            "463a3e",
            shade="211b20",
            shift=(-4, -16),
        )
        pen.line([(x + 20, y + 22), (x + 52, y + 4), (x + 80, y + 14)], "d8a066", width=3)
        pen.line([(x + 6, y + 52), (x + 24, y + 66), (x + 40, y + 66)], "171216", width=2.5)
