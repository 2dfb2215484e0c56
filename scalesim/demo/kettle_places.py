"""The places of `kettle_crew`: sky, clouds, the floating town, the kettle ship and the quay."""

from __future__ import annotations

import numpy as np

from scalesim.demo import shapes
from scalesim.demo.pen import Pen
from scalesim.demo.shapes import Plane, colour


def sky(target: Plane) -> None:
    """Fill the canvas with a late-afternoon sky in soft bands, sun low on the left."""
    lines = target.shape[0]
    stops = [(0.0, "3f86c9"), (0.3, "6fb4dd"), (0.55, "aedbe2"), (0.75, "fbe7bd"), (0.9, "ffcf94"), (1.0, "fbb57f")]
    at = np.array([s[0] for s in stops]) * lines
    tones = np.array([colour(s[1]) for s in stops])
    place = np.arange(lines) + 0.5
    target[:] = np.stack([np.interp(place, at, tones[:, c]) for c in range(3)], axis=1)[:, None].astype(np.float32)
    shapes.glow(target, 250, 470, 620, colour("ffb060"), 0.28)
    shapes.paint(target, shapes.circle(262, 372, 64), colour("fff3cf"))
    for radius, strength in ((96, 0.22), (138, 0.14), (190, 0.1)):
        shapes.paint(target, shapes.circle(262, 372, radius), colour("fff3cf"), opacity=strength)


def cloud(
    target: Plane, x: float, y: float, size: float, seed: int, *, light: str = "fffaf0", dark: str = "d9cfe6",
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
    body = shapes.union(*puffs, shapes.rounded_box(x - size / 2, y - size * 0.1, x + size / 2, y, size * 0.05))
    floor = shapes.rounded_box(x - size, y - size, x + size, y + size * 0.02)
    shapes.paint(target, body, colour(light), shade=colour(dark), shift=(-size * 0.018, -size * 0.06), clip=floor)
    shapes.paint(target, shapes.union(*lit), colour("ffffff"), clip=body, opacity=0.6)
    if edge is not None:
        shapes.paint(target, body, None, outline=2.5, ink=colour(edge), clip=floor)


def far_islands(target: Plane) -> None:
    """Draw two hazy islands and their waterfalls, without outlines."""
    for x, y, size, tone, low in ((505, 330, 0.55, "9db9d4", "8aa5c8"), (1190, 395, 0.9, "93b0d0", "7f99c2")):
        pen = Pen(target, x, y, size)
        pen.blob([(-120, 0), (-70, -22), (-20, -58), (24, -34), (70, -70), (110, -16), (128, 2), (60, 60), (20, 118),
                  (-16, 90), (-60, 54)], tone, shade=low, shift=(-18, -14), width=0)
        for k, (hx, hh) in enumerate(((-60, 34), (-36, 50), (0, 40), (40, 64), (84, 44))):
            pen.poly([(hx - 9, -20), (hx - 9, -30 - hh), (hx, -46 - hh), (hx + 9, -30 - hh), (hx + 9, -20)],
                     tone if k % 2 else low, width=0)
        pen.line([(-88, 6), (-90, 60), (-86, 120)], "e9f5f6", width=4, opacity=0.7)


def house(pen: Pen, x: float, y: float, wide: float, high: float, wall: str, roof: str, dark: str) -> None:
    """Draw a town house standing on (x, y): gabled roof, lit windows, a chimney."""
    pen = pen.to(x, y)
    w = wide / 2
    pen.box(w * 0.2, -high - 34, w * 0.2 + 10, -high - 6, "a5617a", width=2)
    front = pen.poly([(-w, 0), (-w, -high), (w, -high), (w, 0)], wall, shade="d9b59a", shift=(-w * 0.5, 0), width=2)
    rows = max(1, int(high // 26))
    for r in range(rows):
        for c in range(max(1, int(wide // 22))):
            wx, wy = -w + 7 + c * 21, -high + 11 + r * 25
            pen.box(wx, wy, wx + 10, wy + 13, "ffd97a" if (r + c) % 3 else "5b7aa8", width=2, clip=front, radius=2)
            pen.line([(wx - 1, wy + 16), (wx + 11, wy + 16)], width=2)
    pen.poly([(-w - 6, -high + 2), (-w * 0.45, -high - 24), (w * 0.45, -high - 24), (w + 6, -high + 2)], roof,
             shade=dark, shift=(-6, -8), width=2.5)
    for k in range(1, 3):
        y0 = -high + 2 - 8 * k
        pen.line([(-w - 4 + 4.5 * k, y0), (w + 4 - 4.5 * k, y0)], dark, width=1.5, smooth=False)


def town(pen: Pen) -> None:
    """Draw Bellweather: a floating rock with stacked houses, stairs and the bell tower."""
    rock = pen.blob([(-190, -4), (-120, -14), (0, -18), (120, -12), (196, 0), (168, 40), (110, 72), (78, 128), (30, 168),
                     (4, 206), (-24, 160), (-72, 120), (-110, 66), (-166, 42)], "c98f8a", shade="94627c", shift=(-26, -18))
    for way in ([(-120, 20), (-96, 52), (-60, 62)], [(-40, 60), (-26, 110), (-4, 130)], [(60, 40), (54, 84), (30, 112)],
                [(120, 22), (104, 46), (84, 54)], [(-4, 20), (4, 40), (26, 48)]):
        pen.line(way, "75486a", width=2.5, clip=rock)
    pen.blob([(-194, -8), (-110, -22), (0, -26), (120, -20), (198, -4), (188, 12), (150, 6), (120, 20), (84, 8), (40, 22),
              (0, 8), (-50, 22), (-90, 8), (-130, 20), (-168, 8), (-188, 14)], "7fb56a", shade="55905f", shift=(0, -7))
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
    pen.line([(-212, -33), (-150, -33)], width=2, smooth=False)
    pen.line([(-212, -24), (-150, -24)], width=1, smooth=False)
    for x, y, r in ((150, -16, 15), (168, -10, 12), (-160, -16, 12), (4, -22, 10)):
        pen.dot(x, y, r, "6fae62", shade="4a8758", shift=(-5, -6), width=2)


def _bell_tower(pen: Pen) -> None:
    shaft = pen.poly([(-24, -60), (-20, -232), (20, -232), (24, -60)], "fff1d6", shade="d8b2a2", shift=(-16, 0), width=2.5)
    for k in range(8):
        y = -76 - 20 * k
        pen.line([(-24, y), (-10 + 6 * (k % 2), y)], "c79c92", width=2, clip=shaft)
        pen.line([(4 + 6 * (k % 2), y + 9), (24, y + 9)], "c79c92", width=2, clip=shaft)
    pen.dot(0, -196, 15, "fffaf0", width=2.5)
    pen.line([(0, -196), (0, -206)], width=2)
    pen.line([(0, -196), (7, -192)], width=2)
    pen.box(-30, -244, 30, -232, "e8b78a", width=2.5, radius=2)
    pen.box(-22, -292, 22, -244, "5f5480", width=2.5)
    pen.blob([(-5, -284), (5, -284), (11, -262), (17, -252), (0, -249), (-17, -252), (-11, -262)], "ffd25e", shade="d08f32",
             shift=(-5, -2), width=2.5)
    pen.dot(0, -248, 4, "d08f32", width=2)
    for x in (-26, 26):
        pen.box(x - 4, -292, x + 4, -244, "fff1d6", width=2)
    pen.poly([(-38, -288), (-12, -318), (0, -362), (12, -318), (38, -288)], "e0644f", shade="a93d55", shift=(-11, -4), width=2.5)
    pen.line([(0, -362), (0, -392)], width=2)
    pen.blob([(1, -392), (20, -394), (38, -386), (56, -390), (50, -380), (36, -374), (18, -380), (1, -376)], "ffd25e",
             shade="e09a3a", shift=(0, -4), width=2)


def ship(pen: Pen) -> None:
    """Draw the flying kettle, bow and spout to the right, centred on its hull; about 480 x 330 units."""
    # Handle arch with lamps, far behind the lid.
    pen.show(shapes.without(shapes.ellipse(*pen.at((0, -92)), 148 * pen.scale, 128 * pen.scale),
                            shapes.ellipse(*pen.at((0, -84)), 124 * pen.scale, 102 * pen.scale)), "6d4358", shade="4d2f4c",
             shift=(-5, -6))
    pen.limb([(-46, -213), (0, -221), (46, -213)], [30, 32, 30], "c07a4a", shade="92553f")
    for x in (-30, -10, 10, 30):
        pen.line([(x, -231), (x - 2, -203)], "6d3d38", width=2.5)
    _propeller(pen.to(-212, 6))
    # Spout.
    pen.limb([(130, 26), (188, -6), (214, -66), (246, -92)], [92, 58, 40, 34], "e58d4c", shade="a9563f", shift=(-4, -12))
    pen.limb([(150, -12), (186, -36), (208, -84)], [6, 6, 5], "ffd09a", width=0)
    pen.oval(249, -95, 10, 22, "f2b06a", turn=-38)
    pen.oval(250, -96, 5, 13, "4d2740", turn=-38, width=2)
    hull = pen.blob([(-176, 10), (-160, -54), (-110, -96), (0, -112), (110, -96), (160, -54), (176, 10), (150, 66), (96, 94),
                     (0, 102), (-96, 94), (-150, 66)], "e8924a", shade="b4603f", shift=(-22, -26))
    pen.blob([(-190, 40), (190, 40), (160, 110), (0, 130), (-160, 110)], "8d4440", width=0, clip=hull, opacity=0.65)
    pen.blob([(-142, -44), (-104, -82), (-30, -98), (-40, -88), (-98, -68), (-130, -34)], "ffc98c", width=0)
    pen.dot(-20, -97, 4, "ffc98c", width=0)
    for y, bow in ((-46, 10), (44, 22)):
        pen.line([(-178, y), (-90, y + bow), (0, y + bow * 1.2), (90, y + bow), (178, y)], "8d4440", width=5, clip=hull)
        pen.line([(-178, y - 4), (-90, y + bow - 4), (0, y + bow * 1.2 - 4), (90, y + bow - 4), (178, y - 4)], "ffc98c",
                 width=1.5, clip=hull)
    for k in range(-7, 8):
        x = 21 * k
        pen.dot(x, -37 - (k / 7) ** 2 * 10 + 2, 2.6, "6d3438", width=0)
        pen.dot(x, 69 - (k / 7) ** 2 * 24 + 2, 2.6, "6d3438", width=0)
    for x, r in ((-96, 23), (-28, 27), (44, 27)):
        pen.dot(x, 8, r + 7, "ffd25e", shade="c98a34", shift=(-5, -6))
        glass = pen.dot(x, 8, r - 2, "fff0b0", shade="ffc766", shift=(-8, -8), width=2.5)
        pen.line([(x - r, 8), (x + r, 8)], "8d5a34", width=2.5, clip=glass)
        pen.line([(x, 8 - r), (x, 8 + r)], "8d5a34", width=2.5, clip=glass)
    # Someone with pointed ears looks out of the middle window.
    cat = shapes.union(shapes.circle(*pen.at((-28, 18)), 12 * pen.scale),
                       shapes.polygon([pen.at(p) for p in ((-40, 16), (-39, -4), (-28, 8), (-17, -4), (-16, 16))]))
    pen.show(cat, "5a3a5c", width=2, clip=shapes.circle(*pen.at((-28, 8)), 24 * pen.scale))
    for x in (-33, -23):
        pen.dot(x, 15, 2.6, "ffe27a", width=0)
    pen.show(hull, None)
    _lid(pen)
    # Keel and ballast lamps.
    pen.poly([(-108, 100), (108, 100), (92, 122), (-92, 122)], "7a4a3a", radius=3, shade="573238", shift=(0, -10))
    for x in (-70, 0, 70):
        pen.line([(x, 122), (x, 136)], width=2)
        pen.box(x - 7, 134, x + 7, 152, "ffe9a0", radius=3, width=2)
    _fin(pen)


def _propeller(pen: Pen) -> None:
    pen.box(-16, -14, 46, 14, "9a5a4a", shade="6d3d48", shift=(0, -9), radius=3)
    for tilt in (-1, 1):
        pen.blob([(-20, 0), (-30, tilt * 26), (-26, tilt * 64), (-10, tilt * 70), (-4, tilt * 40), (-10, tilt * 6)], "e9e2f2",
                 shade="a99cc4", shift=(-6, 0))
    pen.dot(-16, 0, 12, "ffd25e", shade="c98a34", shift=(-4, -4))
    for y in (-46, -14, 22, 52):
        pen.line([(-46, y), (-86 + abs(y) * 0.4, y + 2)], "fffaf0", width=3, opacity=0.85)


def _lid(pen: Pen) -> None:
    pen.blob([(-104, -96), (-80, -122), (0, -138), (80, -122), (104, -96), (0, -90)], "f2a85c", shade="bd6d42", shift=(-10, -9))
    pen.line([(-74, -116), (-30, -128), (10, -130)], "ffdba6", width=4)
    pen.box(-9, -158, 9, -134, "bd6d42")
    pen.dot(0, -164, 15, "ffd25e", shade="c98a34", shift=(-5, -5))
    # The deck rail along the shoulder: posts and two thin lines.
    top = [(-150, -92), (-80, -116), (0, -122), (80, -116), (150, -92)]
    for x, y in shapes.spline(top, steps=3):
        pen.line([(x, y), (x, y + 30)], "fff1d6", width=3)
    pen.line(top, "2a1a3a", width=5)
    pen.line(top, "fff1d6", width=2)
    pen.line([(x, y + 13) for x, y in top], "fff1d6", width=1.5)


def _fin(pen: Pen) -> None:
    rim = [(150, 96), (124, 140), (84, 150), (58, 186), (14, 180), (-22, 200), (-54, 176)]
    fan = [(96, 34), *shapes.spline(rim, steps=4), (72, 42)]
    sail = pen.poly(fan, "f7efe0", shade="cdbfd2", shift=(-12, -4), radius=3)
    for k in range(0, len(rim) - 1, 2):
        (ax, ay), (bx, by) = rim[k], rim[k + 1]
        wedge = shapes.polygon([pen.at(p) for p in ((88, 36), (ax, ay + 8), (bx, by + 8), (80, 40))])
        pen.show(wedge, "e0605f", width=0, clip=sail)
    for tip in rim:
        pen.line([(86, 38), tip], width=2.5, smooth=False)
    pen.show(shapes.polygon([pen.at(p) for p in fan], radius=3 * pen.scale), None)
    pen.dot(86, 36, 15, "ffd25e", shade="c98a34", shift=(-4, -5))
    pen.dot(86, 36, 5, "8d5a34", width=2)


def teacup_boat(pen: Pen) -> None:
    """Draw a teacup with a sail and a small passenger, floating at the origin."""
    pen.line([(4, -40), (4, -150)], "2a1a3a", width=7, smooth=False)
    pen.line([(4, -40), (4, -150)], "b9764c", width=3, smooth=False)
    pen.blob([(10, -146), (46, -116), (60, -62), (34, -54), (10, -52)], "ffe3a0", shade="e8b070", shift=(-8, -3))
    pen.line([(12, -98), (54, -92)], "e0605f", width=6)
    pen.blob([(0, -136), (-22, -100), (-34, -58), (-14, -54), (0, -54)], "fff1d6", shade="d8bfae", shift=(-5, -3))
    pen.blob([(4, -150), (16, -156), (34, -150), (18, -144)], "f2574a", width=2)
    pen.blob([(-38, -40), (-40, -58), (-34, -64), (-26, -58), (-18, -64), (-10, -58), (-12, -38)], "6d5a80", shade="4f4064",
             width=2.5)
    for x in (-31, -20):
        pen.dot(x, -50, 2.8, "ffe27a", width=0)
    pen.dot(70, -26, 17, None, width=13)
    pen.dot(70, -26, 17, None, ink="f7f1fa", width=7)
    cup = pen.blob([(-62, -44), (0, -40), (62, -44), (56, -8), (34, 22), (0, 28), (-34, 22), (-56, -8)], "fdf9ff", shade="c9bcdc",
                   shift=(-12, -8))
    pen.line([(-66, -30), (0, -25), (66, -30)], "2bb0a2", width=6, clip=cup)
    pen.line([(-66, -21), (0, -16), (66, -21)], "2bb0a2", width=2, clip=cup)
    for x in (-36, -12, 12, 36):
        pen.dot(x, -4, 4, "f2574a", width=0, clip=cup)


def quay(target: Plane) -> None:
    """Draw the wooden pier: planks, beam, hanging buoys, a railing gap, crates, a lamp and a bollard."""
    pen = Pen(target)
    for x in (60, 330, 610):
        pen.poly([(x - 22, 660), (x + 22, 660), (x + 18, 760), (x - 18, 760)], "7a4a44", shade="54304a", shift=(-14, 0))
    deck = pen.poly([(-20, 590), (720, 590), (786, 668), (-20, 668)], "d99a64", shade=None)
    for k in range(14):
        x = -140 + 64 * k
        bottom = x + 14 + (x - 200) * 0.16
        pen.line([(x, 586), (bottom, 672)], "a5694c", width=2.5, clip=deck, smooth=False)
    random = np.random.RandomState(4)
    for _ in range(44):
        x, y = random.uniform(0, 740), random.uniform(600, 662)
        pen.line([(x, y), (x + random.uniform(14, 40), y)], "c07f54", width=2, clip=deck)
    pen.line([(-20, 594), (722, 594)], "f6c78c", width=3, clip=deck)
    pen.show(shapes.polygon([(-20, 590), (720, 590), (786, 668), (-20, 668)]), None)
    pen.poly([(-20, 668), (786, 668), (780, 698), (-20, 698)], "9a5f48", shade="74434a", shift=(0, -16))
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
    for x, y, w, tone, dark in ((0, 0, 78, "c98a54", "9a6044"), (84, 0, 62, "b9764c", "8a5040"), (22, -74, 60, "d89c60", "a96c48")):
        pen.box(x, y - w * 0.94, x + w, y, tone, shade=dark, shift=(-12, -8), radius=2)
        pen.box(x + 9, y - w * 0.94 + 9, x + w - 9, y - 9, dark, width=2)
        pen.line([(x + 10, y - 10), (x + w - 10, y - w * 0.94 + 10)], "2a1a3a", width=13, smooth=False)
        pen.line([(x + 10, y - 10), (x + w - 10, y - w * 0.94 + 10)], tone, width=8, smooth=False)
        pen.show(shapes.without(shapes.rounded_box(*pen.at((x, y - w * 0.94)), *pen.at((x + w, y))),
                                shapes.rounded_box(*pen.at((x + 9, y - w * 0.94 + 9)), *pen.at((x + w - 9, y - 9)))), tone, width=2,
                 shade=dark, shift=(-3, -3))


def lamp_post(pen: Pen) -> None:
    """Draw a quay lamp standing on the origin, 250 units tall."""
    pen.limb([(0, 0), (0, -120), (0, -232)], [15, 10, 9], "4d4a70", shade="35325a", shift=(-5, 0))
    pen.box(-13, -16, 13, 2, "4d4a70", radius=3)
    pen.line([(0, -220), (20, -236), (44, -232)], "2a1a3a", width=9)
    pen.line([(0, -220), (20, -236), (44, -232)], "5d5a84", width=4)
    pen.dot(0, -236, 7, "ffd25e")
    pen.poly([(30, -214), (58, -214), (54, -178), (34, -178)], "fff0b0", shade="ffc766", shift=(-9, 0), radius=2)
    pen.poly([(24, -214), (44, -230), (64, -214)], "4d4a70", radius=2)
    shapes.glow(pen.target, *pen.at((44, -196)), 110, colour("ffb050"), 0.35)
