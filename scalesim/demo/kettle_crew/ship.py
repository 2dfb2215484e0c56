"""The flying kettle of `kettle_crew`, and a teacup that sails."""

from __future__ import annotations

from scalesim.draw import shapes
from scalesim.draw.pen import Pen


def ship(pen: Pen) -> None:
    """Draw the flying kettle, bow and spout to the right, centred on its hull; about 480 x 330 units."""
    # Handle arch with lamps, far behind the lid.
    pen.show(
        shapes.without(
            shapes.ellipse(*pen.at((0, -92)), 148 * pen.scale, 128 * pen.scale),
            shapes.ellipse(*pen.at((0, -84)), 124 * pen.scale, 102 * pen.scale),
        ),
        "6d4358",
        shade="4d2f4c",
        shift=(-5, -6),
    )
    pen.limb("-46,-213 0,-221 46,-213", [30, 32, 30], "c07a4a", shade="92553f")
    for x in (-30, -10, 10, 30):
        pen.line([(x, -231), (x - 2, -203)], "6d3d38", width=2.5)
    _propeller(pen.to(-212, 6))
    # Spout.
    pen.limb("130,26 188,-6 214,-66 246,-92", [92, 58, 40, 34], "e58d4c", shade="a9563f", shift=(-4, -12))
    pen.limb("150,-12 186,-36 208,-84", [6, 6, 5], "ffd09a", width=0)
    pen.oval(249, -95, 10, 22, "f2b06a", turn=-38)
    pen.oval(250, -96, 5, 13, "4d2740", turn=-38, width=2)
    hull = pen.blob(
        "-176,10 -160,-54 -110,-96 0,-112 110,-96 160,-54 176,10 150,66 96,94 0,102 -96,94 -150,66",
        "e8924a",
        shade="b4603f",
        shift=(-22, -26),
    )
    pen.blob("-190,40 190,40 160,110 0,130 -160,110", "8d4440", width=0, clip=hull, opacity=0.65)
    pen.blob("-142,-44 -104,-82 -30,-98 -40,-88 -98,-68 -130,-34", "ffc98c", width=0)
    pen.dot(-20, -97, 4, "ffc98c", width=0)
    for y, bow in ((-46, 10), (44, 22)):
        pen.line(
            [(-178, y), (-90, y + bow), (0, y + bow * 1.2), (90, y + bow), (178, y)],
            "8d4440",
            width=5,
            clip=hull,
        )
        pen.line(
            [(-178, y - 4), (-90, y + bow - 4), (0, y + bow * 1.2 - 4), (90, y + bow - 4), (178, y - 4)],
            "ffc98c",
            width=1.5,
            clip=hull,
        )
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
    cat = shapes.union(
        shapes.circle(*pen.at((-28, 18)), 12 * pen.scale),
        shapes.polygon(pen.way("-40,16 -39,-4 -28,8 -17,-4 -16,16")),
    )
    pen.show(cat, "5a3a5c", width=2, clip=shapes.circle(*pen.at((-28, 8)), 24 * pen.scale))
    for x in (-33, -23):
        pen.dot(x, 15, 2.6, "ffe27a", width=0)
    pen.show(hull, None)
    _lid(pen)
    # Keel and ballast lamps.
    pen.poly("-108,100 108,100 92,122 -92,122", "7a4a3a", radius=3, shade="573238", shift=(0, -10))
    for x in (-70, 0, 70):
        pen.line([(x, 122), (x, 136)], width=2)
        pen.box(x - 7, 134, x + 7, 152, "ffe9a0", radius=3, width=2)
    _fin(pen)


def _propeller(pen: Pen) -> None:
    pen.box(-16, -14, 46, 14, "9a5a4a", shade="6d3d48", shift=(0, -9), radius=3)
    for tilt in (-1, 1):
        pen.blob(
            [
                (-20, 0),
                (-30, tilt * 26),
                (-26, tilt * 64),
                (-10, tilt * 70),
                (-4, tilt * 40),
                (-10, tilt * 6),
            ],
            "e9e2f2",
            shade="a99cc4",
            shift=(-6, 0),
        )
    pen.dot(-16, 0, 12, "ffd25e", shade="c98a34", shift=(-4, -4))
    for y in (-46, -14, 22, 52):
        pen.line([(-46, y), (-86 + abs(y) * 0.4, y + 2)], "fffaf0", width=3, opacity=0.85)


def _lid(pen: Pen) -> None:
    pen.blob("-104,-96 -80,-122 0,-138 80,-122 104,-96 0,-90", "f2a85c", shade="bd6d42", shift=(-10, -9))
    pen.line("-74,-116 -30,-128 10,-130", "ffdba6", width=4)
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
    pen.line("4,-40 4,-150", "2a1a3a", width=7, smooth=False)
    pen.line("4,-40 4,-150", "b9764c", width=3, smooth=False)
    pen.blob("10,-146 46,-116 60,-62 34,-54 10,-52", "ffe3a0", shade="e8b070", shift=(-8, -3))
    pen.line("12,-98 54,-92", "e0605f", width=6)
    pen.blob("0,-136 -22,-100 -34,-58 -14,-54 0,-54", "fff1d6", shade="d8bfae", shift=(-5, -3))
    pen.blob("4,-150 16,-156 34,-150 18,-144", "f2574a", width=2)
    pen.blob("-38,-40 -40,-58 -34,-64 -26,-58 -18,-64 -10,-58 -12,-38", "6d5a80", shade="4f4064", width=2.5)
    for x in (-31, -20):
        pen.dot(x, -50, 2.8, "ffe27a", width=0)
    pen.dot(70, -26, 17, None, width=13)
    pen.dot(70, -26, 17, None, ink="f7f1fa", width=7)
    cup = pen.blob(
        "-62,-44 0,-40 62,-44 56,-8 34,22 0,28 -34,22 -56,-8", "fdf9ff", shade="c9bcdc", shift=(-12, -8)
    )
    pen.line("-66,-30 0,-25 66,-30", "2bb0a2", width=6, clip=cup)
    pen.line("-66,-21 0,-16 66,-21", "2bb0a2", width=2, clip=cup)
    for x in (-36, -12, 12, 36):
        pen.dot(x, -4, 4, "f2574a", width=0, clip=cup)
