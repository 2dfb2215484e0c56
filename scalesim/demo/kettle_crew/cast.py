"""The cast of `kettle_crew`: captain Pip, engineer Bramble, the teapot Spout and a gull."""

from __future__ import annotations

from scalesim.draw import shapes
from scalesim.draw.pen import Pen


def eye(
    pen: Pen, x: float, y: float, size: float, iris: str, look: tuple[float, float] = (2.0, -1.0)
) -> None:
    """Draw one cartoon eye looking along `look`."""
    white = pen.oval(x, y, size * 0.8, size, "fffdf4", width=2)
    pen.oval(x + look[0], y + look[1], size * 0.52, size * 0.66, iris, width=0, clip=white)
    pen.oval(x + look[0], y + look[1], size * 0.32, size * 0.44, "1d1028", width=0, clip=white)
    pen.dot(x + look[0] + size * 0.2, y + look[1] - size * 0.28, size * 0.2, "ffffff", width=0)


def pip(pen: Pen) -> None:
    """Draw the captain, standing on the origin, about 200 units tall, pointing up and to the right."""
    # Scarf tails in the wind, behind everything.
    pen.blob(
        "-14,-100 -52,-112 -92,-100 -128,-118 -122,-100 -92,-82 -54,-92",
        "e8483f",
        shade="b52a43",
        shift=(0, -6),
    )
    pen.blob(
        "-14,-98 -44,-88 -74,-66 -104,-70 -94,-54 -66,-48 -34,-72", "d93a40", shade="a3233f", shift=(0, -5)
    )
    for side in (-1, 1):
        pen.limb([(side * 13, -46), (side * 17, -14)], [22, 19], "4a4468", shade="383255")
        pen.blob(
            [
                (side * 17 - 14, -22),
                (side * 17 + 12, -22),
                (side * 17 + 14, -10),
                (side * 17 + 22, -3),
                (side * 17 + 18, 3),
                (side * 17 - 13, 3),
            ],
            "8a4a2c",
            shade="643023",
        )
        pen.box(side * 17 - 14, -27, side * 17 + 13, -18, "b5683a", radius=4)
    # The far arm on the hip, the coat over it.
    pen.limb("-24,-96 -52,-78 -30,-58", [22, 20, 17], "1f8f8c", shade="156a74")
    coat = pen.blob(
        "-24,-104 0,-109 24,-104 31,-74 45,-36 22,-29 0,-33 -24,-27 -47,-35 -32,-74",
        "2bb0a2",
        shade="1b8288",
        shift=(-9, -3),
    )
    pen.line("2,-106 4,-70 1,-34", width=2, clip=coat)
    pen.box(-36, -73, 36, -62, "7a4326", width=2, clip=coat)
    pen.box(-8, -76, 9, -59, "ffd25e", radius=3, width=2)
    for y in (-92, -81, -50):
        pen.dot(13, y, 3.6, "ffd25e", width=1.5)
        pen.dot(-9, y, 3.6, "ffd25e", width=1.5)
    pen.line("-44,-40 -22,-33 0,-39 22,-35 43,-41", "ffe3a0", width=3, clip=coat)
    pen.dot(-31, -57, 9.5, "d98d5f", width=2.5)
    # The near arm pointing up at the ship.
    pen.limb("22,-95 50,-113 74,-142", [23, 22, 19], "2bb0a2", shade="1b8288", shift=(-4, -4))
    pen.limb("69,-136 75,-144", [25, 25], "ffe3a0")
    hand = shapes.union(
        pen.tube("79,-149 84,-157", [17, 17]),
        pen.tube("85,-156 101,-178", [9, 7]),
        pen.tube("82,-152 72,-164", [8, 6]),
    )
    pen.show(hand, "d98d5f", shade="b86b49", shift=(-3, -3))
    pip_head(pen.to(4, -146))
    pen.blob("-32,-112 0,-119 33,-113 35,-101 0,-94 -33,-100", "f2574a", shade="b52a43", shift=(0, -6))


def pip_head(pen: Pen) -> None:
    """Draw the captain's head with its lid hat, centred on the origin."""
    # A cloud of curls behind the face.
    curls = shapes.union(
        *(
            shapes.circle(*pen.at((x, y)), r)
            for x, y, r in [
                (-40, -8, 22),
                (-48, 14, 17),
                (-36, 30, 14),
                (38, -10, 21),
                (46, 12, 16),
                (36, 28, 13),
                (0, -26, 36),
            ]
        )
    )
    pen.show(curls, "7c2f3c", shade="59203a", shift=(-5, -6))
    for x, y in ((-46, -6), (-40, 20), (44, -6), (40, 16)):
        pen.line([(x - 7, y + 3), (x, y - 6), (x + 7, y + 2)], "a8474a", width=2)
    pen.dot(-39, 9, 9, "d98d5f")
    face = pen.blob(
        "-38,-10 -20,-32 10,-34 36,-16 40,8 28,30 2,38 -26,31 -39,10",
        "eba877",
        shade="cc8360",
        shift=(-6, -5),
    )
    pen.blob(
        "-40,-14 -22,-36 12,-38 38,-18 32,-10 20,-20 8,-13 -4,-22 -18,-11 -28,-16",
        "7c2f3c",
        width=2.5,
        clip=None,
    )
    eye(pen, -7, 3, 11.5, "2f8f6a", (3, -2.5))
    eye(pen, 24, 2, 11, "2f8f6a", (3, -2.5))
    pen.line("-20,-12 -9,-17 3,-13", "59203a", width=4)
    pen.line("15,-15 25,-18 34,-13", "59203a", width=4)
    pen.line("10,9 14,13 9,15", "a85a45", width=2.5)
    mouth = pen.blob("-6,18 8,21 24,17 20,28 8,33 -2,28", "6b1830", width=2.5)
    pen.oval(10, 32, 10, 6, "f27a7a", width=0, clip=mouth)
    pen.poly("-6,17 8,21 24,17 21,23 -3,23", "fffdf4", width=0, clip=mouth)
    for x in (-23, 35):
        pen.oval(x, 17, 7, 4.5, "f07f6a", width=0, opacity=0.75, clip=face)
    for x, y in ((-26, 12), (-20, 14), (-24, 18)):
        pen.dot(x, y - 3, 1.4, "b0684a", width=0)
    # The kettle lid that is her hat.
    lid = pen.blob(
        "-48,-27 -36,-46 -8,-58 22,-55 42,-40 47,-25 0,-31", "e8924a", shade="b05e38", shift=(-8, -7)
    )
    pen.line("-30,-40 -14,-49 4,-51", "ffcf8a", width=4)
    pen.blob(
        "-54,-24 -30,-33 0,-36 32,-33 53,-22 44,-16 0,-26 -44,-16", "f0a85c", shade="c4713f", shift=(0, -5)
    )
    pen.line("-30,-31 0,-34 30,-31", "ffdfa6", width=2, clip=lid)
    pen.box(-4, -68, 7, -55, "b05e38")
    pen.dot(2, -72, 9, "ffd25e", shade="d99a34", shift=(-3, -3))


def bramble(pen: Pen) -> None:
    """Draw the badger engineer, standing on the origin, about 255 units tall, a spanner on his shoulder."""
    fur, dim = "6d6a80", "504c68"
    pen.blob("-70,-60 -98,-62 -116,-44 -104,-34 -78,-36", fur, shade=dim)
    for side in (-1, 1):
        pen.limb([(side * 30, -50), (side * 33, -12)], [46, 40], "3d5a8c", shade="2c4270")
        pen.blob(
            [
                (side * 34 - 26, -18),
                (side * 34 + 22, -18),
                (side * 34 + 34, -5),
                (side * 34 + 30, 4),
                (side * 34 - 26, 4),
            ],
            "54303c",
            shade="3b2030",
            shift=(-4, -5),
        )
    _spanner(pen)
    body = pen.blob(
        "-50,-168 0,-178 50,-168 76,-116 78,-70 56,-36 0,-28 -56,-36 -78,-70 -76,-116",
        "f4e6c8",
        shade="cdb6a8",
        shift=(-14, -6),
    )
    for y in range(-164, -30, 22):
        pen.line([(-84, y), (0, y + 9), (84, y)], "d1544a", width=8, clip=body)
    pen.line("70,-150 84,-116 84,-60", "8a3040", width=9, clip=body, opacity=0.5)
    apron = pen.blob(
        "-34,-150 0,-146 34,-150 44,-112 66,-84 58,-34 0,-20 -58,-34 -66,-84 -44,-112",
        "9a6238",
        shade="74462f",
        shift=(-10, -6),
    )
    pen.line("-52,-50 0,-38 52,-50", "c48a50", width=2, clip=apron)
    pen.blob("-24,-92 0,-89 24,-92 22,-60 0,-54 -22,-60", "b27642", width=2.5)
    pen.line("-14,-86 -16,-108", "d8d2e0", width=5)
    pen.line("4,-86 6,-104", "f0c050", width=5)
    pen.line("-34,-150 -40,-172", "74462f", width=8)
    pen.line("34,-150 40,-172", "74462f", width=8)
    # Near arm: fist on the spanner's shaft; far arm: thumb in the apron string.
    pen.limb("-60,-150 -92,-124 -84,-98", [38, 36, 32], "f4e6c8", shade="cdb6a8")
    pen.limb("-86,-108 -72,-84 -56,-82", [34, 32, 30], fur, shade=dim)
    pen.limb("62,-148 92,-124 84,-150", [40, 38, 34], "f4e6c8", shade="cdb6a8")
    pen.limb("84,-140 80,-164", [34, 30], fur, shade=dim)
    for k in range(3):
        pen.line([(68, -158 - 9 * k), (78, -160 - 9 * k)], width=2)
    _bramble_head(pen.to(2, -196))


def _spanner(pen: Pen) -> None:
    pen.limb("92,-108 66,-214 50,-268", [16, 14, 16], "b9c3d6", shade="8290ac", shift=(-3, 0))
    jaw = shapes.without(
        shapes.circle(*pen.at((43, -290)), 30 * pen.scale),
        shapes.capsule(pen.at((39, -294)), pen.at((24, -340)), 26 * pen.scale),
    )
    pen.show(jaw, "c9d3e4", shade="8290ac", shift=(-6, -5))
    pen.line("57,-226 75,-150", "eef4ff", width=2)


def _bramble_head(pen: Pen) -> None:
    for side in (-1, 1):
        pen.oval(side * 42, -36, 17, 19, "6d6a80", shade="504c68")
        pen.oval(side * 43, -34, 8, 10, "d9a0a0", width=2)
    head = pen.blob(
        "-54,-8 -44,-40 0,-56 44,-40 55,-8 62,22 34,38 0,44 -36,38 -62,22",
        "f6f1ea",
        shade="cfc4cf",
        shift=(-9, -7),
    )
    for side in (-1, 1):
        pen.blob(
            [
                (side * 12, -56),
                (side * 36, -50),
                (side * 47, -14),
                (side * 40, 14),
                (side * 22, 12),
                (side * 12, -18),
            ],
            "4c4662",
            width=0,
            clip=head,
        )
    pen.show(shapes.blob(pen.way("-54,-8 -44,-40 0,-56 44,-40 55,-8 62,22 34,38 0,44 -36,38 -62,22")), None)
    for side in (-1, 1):
        pen.dot(side * 25, -8, 14, "fdf6dc", width=0)
        pen.oval(side * 25 + 4, -8, 5.5, 7.5, "1d1028", width=0)
        pen.dot(side * 25 + 6, -11, 2.2, "ffffff", width=0)
        pen.dot(side * 25, -8, 15, None, ink="c98a2c", width=4)
        pen.dot(side * 25, -8, 17, None, width=1.5)
        pen.line([(side * 14, -32), (side * 26, -36), (side * 39, -28)], "f6f1ea", width=6)
    pen.line("-10,-10 0,-13 10,-10", "c98a2c", width=4)
    mouth = pen.blob("-14,24 0,28 14,24 10,36 0,39 -10,36", "6b1830", width=2.5)
    pen.oval(0, 38, 8, 5, "f27a7a", width=0, clip=mouth)
    for side in (-1, 1):
        pen.blob(
            [
                (0, 12),
                (side * 18, 10),
                (side * 36, 18),
                (side * 56, 12),
                (side * 44, 28),
                (side * 22, 30),
                (side * 2, 24),
            ],
            "ffffff",
            shade="d6ccd8",
            shift=(-2, -5),
            width=2.5,
        )
    pen.oval(0, 9, 13, 9.5, "3a2038", width=2.5)
    pen.oval(-3, 5.5, 4.5, 2.4, "a78aa6", width=0)


def spout(pen: Pen) -> None:
    """Draw the teapot creature in mid hop above the origin, about 110 units tall, facing right."""
    pen.limb("-14,-30 -22,-12 -34,-8", [12, 11, 10], "e9e2f2", shade="b8acd0")
    pen.oval(-38, -7, 12, 7, "e8924a", turn=30)
    pen.limb("16,-30 24,-18 36,-22", [12, 11, 10], "e9e2f2", shade="b8acd0")
    pen.oval(41, -25, 12, 7, "e8924a", turn=-30)
    pen.limb("-40,-88 -72,-92 -78,-62 -42,-48", [13, 14, 13, 12], "6f8fe0", shade="4e68bd")
    pen.limb("36,-56 62,-66 74,-96", [30, 20, 14], "f7f1fa", shade="c3b6d8", shift=(-3, -4))
    pen.oval(75, -99, 10, 5, "6f8fe0", turn=18)
    body = pen.blob(
        "-46,-58 -36,-92 0,-104 36,-92 47,-58 34,-30 0,-21 -34,-30", "fdf9ff", shade="c3b6d8", shift=(-9, -7)
    )
    pen.line("-50,-38 0,-27 50,-38", "6f8fe0", width=5, clip=body)
    for x, y in ((-30, -50), (-20, -43), (34, -46)):
        pen.dot(x, y, 4, "6f8fe0", width=0, clip=body)
    pen.blob("-36,-94 -18,-112 0,-116 20,-112 37,-93 0,-100", "6f8fe0", shade="4e68bd", shift=(-5, -5))
    pen.dot(1, -121, 8, "ffd25e", shade="d99a34", shift=(-3, -3))
    eye(pen, 2, -70, 10, "3f5fb0", (2.5, -3))
    eye(pen, 27, -72, 9.5, "3f5fb0", (2.5, -3))
    mouth = pen.blob("4,-53 16,-51 27,-55 22,-44 13,-42", "6b1830", width=2.5)
    pen.oval(15, -43, 6, 4, "f27a7a", width=0, clip=mouth)
    for x in (-11, 38):
        pen.oval(x, -57, 6, 4, "f5a3b5", width=0, clip=body)


def gull(pen: Pen) -> None:
    """Draw a stout gull in a sailor's cap sitting on the origin, facing left."""
    pen.line("-5,-8 -6,0", "e8924a", width=4)
    pen.line("7,-8 7,0", "e8924a", width=4)
    pen.poly("24,-34 52,-30 50,-22 24,-18", "5d6688", radius=2)
    pen.blob("-26,-30 -18,-54 4,-50 26,-38 34,-24 14,-8 -14,-8", "fffaf0", shade="cfc6dc", shift=(-5, -7))
    pen.blob("-2,-36 18,-38 40,-24 18,-16 2,-22", "a9b4d2", shade="828cb4", shift=(0, -5), width=2.5)
    pen.blob("-32,-58 -22,-74 -4,-72 2,-56 -10,-44 -26,-46", "fffaf0", shade="cfc6dc", shift=(-4, -5))
    pen.poly("-30,-60 -48,-54 -44,-50 -30,-52", "f2a33a", radius=2, width=2.5)
    pen.dot(-18, -60, 3.4, "1d1028", width=0)
    pen.line("-26,-67 -14,-66", width=2.5)
    pen.blob("-28,-72 -22,-84 -4,-84 4,-72 -12,-70", "fdf9ff", shade="c3b6d8", width=2.5)
    pen.line("-28,-71 -12,-68 4,-71", "3d5a8c", width=4)
