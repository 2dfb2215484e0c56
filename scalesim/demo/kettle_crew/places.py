"""The places of `kettle_crew`: sky, clouds, the floating town and the quay."""

from __future__ import annotations

import numpy as np

from scalesim.draw import painting, shapes
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, colour


def sky(target: Plane) -> None:
    """Fill the canvas with a late-afternoon sky in soft bands, sun low on the left."""
    lines = target.shape[0]
    stops = [
        (0.0, "3f86c9"),
        (0.3, "6fb4dd"),
        (0.55, "aedbe2"),
        (0.75, "fbe7bd"),
        (0.9, "ffcf94"),
        (1.0, "fbb57f"),
    ]
    at = np.array([s[0] for s in stops]) * lines
    tones = np.array([colour(s[1]) for s in stops])
    place = np.arange(lines) + 0.5
    target[:] = np.stack([np.interp(place, at, tones[:, c]) for c in range(3)], axis=1)[:, None].astype(
        np.float32
    )
    painting.glow(target, 250, 470, 620, colour("ffb060"), 0.28)
    painting.paint(target, shapes.circle(262, 372, 64), colour("fff3cf"))
    for radius, strength in ((96, 0.22), (138, 0.14), (190, 0.1)):
        painting.paint(target, shapes.circle(262, 372, radius), colour("fff3cf"), opacity=strength)


def cloud(
    target: Plane,
    x: float,
    y: float,
    size: float,
    seed: int,
    *,
    light: str = "fffaf0",
    dark: str = "d9cfe6",
    edge: str | None = None,
) -> None:
    """Draw a heap cloud `size` samples wide standing on (x, y), outlined in `edge` if it is given."""
    random = np.random.RandomState(seed)
    puffs, lit = [], []
    for k in range(11):
        t = k / 10 - 0.5
        r = size * (0.06 + 0.06 * random.rand() + 0.08 * (1 - abs(2 * t)))
        high = size * ((1 - (2 * t) ** 2) * 0.30 + 0.04) * (0.35 + 0.6 * random.rand())
        cx, cy = x + t * size * 0.86, min(y - high, y - r * 0.8)
        puffs.append(shapes.circle(cx, cy, r))
        lit.append(shapes.circle(cx - r * 0.16, cy - r * 0.2, r * 0.74))
    body = shapes.union(
        *puffs, shapes.rounded_box(x - size / 2, y - size * 0.1, x + size / 2, y, size * 0.05)
    )
    floor = shapes.rounded_box(x - size, y - size, x + size, y + size * 0.02)
    painting.paint(
        target, body, colour(light), shade=colour(dark), shift=(-size * 0.018, -size * 0.06), clip=floor
    )
    painting.paint(target, shapes.union(*lit), colour("ffffff"), clip=body, opacity=0.6)
    if edge is not None:
        painting.paint(target, body, None, outline=2.5, ink=colour(edge), clip=floor)


def far_islands(target: Plane) -> None:
    """Draw two hazy islands and their waterfalls, without outlines."""
    for x, y, size, tone, low in ((505, 330, 0.55, "9db9d4", "8aa5c8"), (1190, 395, 0.9, "93b0d0", "7f99c2")):
        pen = Pen(target, x, y, size)
        pen.blob(
            "-120,0 -70,-22 -20,-58 24,-34 70,-70 110,-16 128,2 60,60 20,118 -16,90 -60,54",
            tone,
            shade=low,
            shift=(-18, -14),
            width=0,
        )
        for k, (hx, hh) in enumerate(((-60, 34), (-36, 50), (0, 40), (40, 64), (84, 44))):
            pen.poly(
                [(hx - 9, -20), (hx - 9, -30 - hh), (hx, -46 - hh), (hx + 9, -30 - hh), (hx + 9, -20)],
                tone if k % 2 else low,
                width=0,
            )
        pen.line("-88,6 -90,60 -86,120", "e9f5f6", width=4, opacity=0.7)


def house(pen: Pen, x: float, y: float, wide: float, high: float, wall: str, roof: str, dark: str) -> None:
    """Draw a town house standing on (x, y): gabled roof, lit windows, a chimney."""
    pen = pen.to(x, y)
    w = wide / 2
    pen.box(w * 0.2, -high - 34, w * 0.2 + 10, -high - 6, "a5617a", width=2)
    front = pen.poly(
        [(-w, 0), (-w, -high), (w, -high), (w, 0)], wall, shade="d9b59a", shift=(-w * 0.5, 0), width=2
    )
    rows = max(1, int(high // 26))
    for r in range(rows):
        for c in range(max(1, int(wide // 22))):
            wx, wy = -w + 7 + c * 21, -high + 11 + r * 25
            pen.box(
                wx, wy, wx + 10, wy + 13, "ffd97a" if (r + c) % 3 else "5b7aa8", width=2, clip=front, radius=2
            )
            pen.line([(wx - 1, wy + 16), (wx + 11, wy + 16)], width=2)
    pen.poly(
        [(-w - 6, -high + 2), (-w * 0.45, -high - 24), (w * 0.45, -high - 24), (w + 6, -high + 2)],
        roof,
        shade=dark,
        shift=(-6, -8),
        width=2.5,
    )
    for k in range(1, 3):
        y0 = -high + 2 - 8 * k
        pen.line([(-w - 4 + 4.5 * k, y0), (w + 4 - 4.5 * k, y0)], dark, width=1.5, smooth=False)


def town(pen: Pen) -> None:
    """Draw Bellweather: a floating rock with stacked houses, stairs and the bell tower."""
    rock = pen.blob(
        "-190,-4 -120,-14 0,-18 120,-12 196,0 168,40 110,72 78,128 30,168 4,206 -24,160 "
        "-72,120 -110,66 -166,42",
        "c98f8a",
        shade="94627c",
        shift=(-26, -18),
    )
    for way in (
        [(-120, 20), (-96, 52), (-60, 62)],
        [(-40, 60), (-26, 110), (-4, 130)],
        [(60, 40), (54, 84), (30, 112)],
        [(120, 22), (104, 46), (84, 54)],
        [(-4, 20), (4, 40), (26, 48)],
    ):
        pen.line(way, "75486a", width=2.5, clip=rock)
    pen.blob(
        "-194,-8 -110,-22 0,-26 120,-20 198,-4 188,12 150,6 120,20 84,8 40,22 0,8 -50,22 -90,8 "
        "-130,20 -168,8 -188,14",
        "7fb56a",
        shade="55905f",
        shift=(0, -7),
    )
    house(pen, -128, -14, 56, 60, "ffe9c4", "e0644f", "b2454c")
    house(pen, 122, -12, 62, 54, "fbdcb8", "5c8fc0", "446fa5")
    house(pen, -68, -78, 52, 66, "fff1d6", "e98b4a", "bf6641")
    house(pen, 72, -64, 58, 74, "ffe9c4", "d9556a", "a93d5e")
    house(pen, -74, -16, 60, 62, "f8d3b4", "55a08c", "3d7d78")
    house(pen, 64, -14, 54, 52, "fff1d6", "e98b4a", "bf6641")
    _bell_tower(pen)
    house(pen, -22, -14, 48, 44, "ffe9c4", "d9556a", "a93d5e")
    house(pen, 26, -10, 44, 34, "fbdcb8", "55a08c", "3d7d78")
    # A landing stage with a railing on the edge facing the ship.
    pen.box(-214, -14, -150, -6, "a86b48", width=2)
    for k in range(5):
        pen.line([(-210 + 14 * k, -14), (-210 + 14 * k, -34)], width=2)
    pen.line("-212,-33 -150,-33", width=2, smooth=False)
    pen.line("-212,-24 -150,-24", width=1, smooth=False)
    for x, y, r in ((150, -16, 15), (168, -10, 12), (-160, -16, 12), (4, -22, 10)):
        pen.dot(x, y, r, "6fae62", shade="4a8758", shift=(-5, -6), width=2)


def _bell_tower(pen: Pen) -> None:
    shaft = pen.poly("-24,-60 -20,-232 20,-232 24,-60", "fff1d6", shade="d8b2a2", shift=(-16, 0), width=2.5)
    for k in range(8):
        y = -76 - 20 * k
        pen.line([(-24, y), (-10 + 6 * (k % 2), y)], "c79c92", width=2, clip=shaft)
        pen.line([(4 + 6 * (k % 2), y + 9), (24, y + 9)], "c79c92", width=2, clip=shaft)
    pen.dot(0, -196, 15, "fffaf0", width=2.5)
    pen.line("0,-196 0,-206", width=2)
    pen.line("0,-196 7,-192", width=2)
    pen.box(-30, -244, 30, -232, "e8b78a", width=2.5, radius=2)
    pen.box(-22, -292, 22, -244, "5f5480", width=2.5)
    pen.blob(
        "-5,-284 5,-284 11,-262 17,-252 0,-249 -17,-252 -11,-262",
        "ffd25e",
        shade="d08f32",
        shift=(-5, -2),
        width=2.5,
    )
    pen.dot(0, -248, 4, "d08f32", width=2)
    for x in (-26, 26):
        pen.box(x - 4, -292, x + 4, -244, "fff1d6", width=2)
    pen.poly("-38,-288 -12,-318 0,-362 12,-318 38,-288", "e0644f", shade="a93d55", shift=(-11, -4), width=2.5)
    pen.line("0,-362 0,-392", width=2)
    pen.blob(
        "1,-392 20,-394 38,-386 56,-390 50,-380 36,-374 18,-380 1,-376",
        "ffd25e",
        shade="e09a3a",
        shift=(0, -4),
        width=2,
    )


def quay(target: Plane) -> None:
    """Draw the wooden pier: planks, beam, hanging buoys, a railing gap, crates, a lamp and a bollard."""
    pen = Pen(target)
    for x in (60.0, 330.0, 610.0):
        pen.poly(
            [(x - 22, 660), (x + 22, 660), (x + 18, 760), (x - 18, 760)],
            "7a4a44",
            shade="54304a",
            shift=(-14, 0),
        )
    deck = pen.poly("-20,590 720,590 786,668 -20,668", "d99a64", shade=None)
    for k in range(14):
        x = -140 + 64.0 * k
        bottom = x + 14 + (x - 200) * 0.16
        pen.line([(x, 586), (bottom, 672)], "a5694c", width=2.5, clip=deck, smooth=False)
    random = np.random.RandomState(4)
    for _ in range(44):
        x, y = random.uniform(0, 740), random.uniform(600, 662)
        pen.line([(x, y), (x + random.uniform(14, 40), y)], "c07f54", width=2, clip=deck)
    pen.line("-20,594 722,594", "f6c78c", width=3, clip=deck)
    pen.show(shapes.polygon([(-20, 590), (720, 590), (786, 668), (-20, 668)]), None)
    pen.poly("-20,668 786,668 780,698 -20,698", "9a5f48", shade="74434a", shift=(0, -16))
    for k in range(13):
        pen.dot(26 + 62 * k, 683, 4, "54304a", width=0)
        pen.dot(25 + 62 * k, 682, 1.6, "d99a64", width=0)
    for x in (190, 470, 700):
        pen.line(shapes.sag((x - 60, 690), (x + 20, 690), 12), "e9cf9a", width=3)
        pen.dot(x - 20, 709, 14, "f2574a", shade="b52a43", shift=(-5, -5))
        pen.line([(x - 33, 706), (x - 7, 706)], "fff1d6", width=5, smooth=False)


def bollard(pen: Pen) -> None:
    """Draw a mooring post with turns of rope, standing on the origin."""
    pen.box(-15, -50, 15, 2, "6d4a5e", shade="4c3048", shift=(-10, 0), radius=4)
    pen.box(-21, -60, 21, -46, "86607a", shade="5d4058", shift=(0, -6), radius=5)
    for k in range(3):
        pen.line([(-16, -16 - 9 * k), (0, -13 - 9 * k), (16, -16 - 9 * k)], "2a1a3a", width=9)
        pen.line([(-16, -16 - 9 * k), (0, -13 - 9 * k), (16, -16 - 9 * k)], "f0d8a4", width=5)


def crates(pen: Pen) -> None:
    """Draw tea chests and a barrel, standing on the origin."""
    for x, y, w, tone, dark in (
        (0, 0, 78, "c98a54", "9a6044"),
        (84, 0, 62, "b9764c", "8a5040"),
        (22, -74, 60, "d89c60", "a96c48"),
    ):
        pen.box(x, y - w * 0.94, x + w, y, tone, shade=dark, shift=(-12, -8), radius=2)
        pen.box(x + 9, y - w * 0.94 + 9, x + w - 9, y - 9, dark, width=2)
        pen.line([(x + 10, y - 10), (x + w - 10, y - w * 0.94 + 10)], "2a1a3a", width=13, smooth=False)
        pen.line([(x + 10, y - 10), (x + w - 10, y - w * 0.94 + 10)], tone, width=8, smooth=False)
        pen.show(
            shapes.without(
                shapes.rounded_box(*pen.at((x, y - w * 0.94)), *pen.at((x + w, y))),
                shapes.rounded_box(*pen.at((x + 9, y - w * 0.94 + 9)), *pen.at((x + w - 9, y - 9))),
            ),
            tone,
            width=2,
            shade=dark,
            shift=(-3, -3),
        )


def lamp_post(pen: Pen) -> None:
    """Draw a quay lamp standing on the origin, 250 units tall."""
    pen.limb("0,0 0,-120 0,-232", [15, 10, 9], "4d4a70", shade="35325a", shift=(-5, 0))
    pen.box(-13, -16, 13, 2, "4d4a70", radius=3)
    pen.line("0,-220 20,-236 44,-232", "2a1a3a", width=9)
    pen.line("0,-220 20,-236 44,-232", "5d5a84", width=4)
    pen.dot(0, -236, 7, "ffd25e")
    pen.poly("30,-214 58,-214 54,-178 34,-178", "fff0b0", shade="ffc766", shift=(-9, 0), radius=2)
    pen.poly("24,-214 44,-230 64,-214", "4d4a70", radius=2)
    painting.glow(pen.target, *pen.at((44, -196)), 110, colour("ffb050"), 0.35)
