"""The hover racers of `comet_rally`: hull, crew, turbine, flame, and their reflection in the lake."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scalesim.draw import letters as pixelfont
from scalesim.draw import painting, shapes, texture
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, Point, colour


@dataclass(frozen=True)
class Livery:
    """The paint of one racer: hexadecimal tones, the number on the fin and the name on the pod."""

    light: str
    main: str
    dark: str
    trim: str
    suit: str
    number: str
    name: str


CORAL = Livery("fff0dc", "ef5f4c", "9c2f4e", "22b5ac", "2a7f96", "7", "WICK & TALLOW LAMP OIL")
MOSSY = Livery("f2f4d8", "6fae4e", "3a6a54", "f2b23c", "8a4f9a", "12", "OLD PERRIN SALT")
PLUM = Livery("f6e2f4", "8a5fc8", "4a357e", "ffcf5a", "c8505a", "31", "QUILL BROTHERS")

_HULL: list[Point] = [
    (-408, -34),
    (-340, -84),
    (-150, -102),
    (50, -90),
    (220, -62),
    (372, -30),
    (462, 4),
    (330, 22),
    (80, 46),
    (-190, 50),
    (-384, 22),
]


def racer(target: Plane, x: float, y: float, livery: Livery, *, scale: float = 1.0, flicker: int = 0) -> None:
    """Draw a racer 870 units long facing right, hull centred on (x, y)."""
    pen = Pen(target, x, y, scale, ink="24143a", width=max(1.2, 2.6 * scale))
    _flame(pen.to(-392, -12), flicker, 1.0)
    pen.box(-210, -36, 20, 26, livery.dark, radius=30)
    _fin(pen, livery)
    _crew(pen, livery)
    _hull(pen, livery)
    for px, py in ((-322, 46), (256, 26)):
        pen.poly(
            [(px - 34, py), (px + 34, py - 6), (px + 24, py + 20), (px - 24, py + 24)], "3b3152", radius=4
        )
        pen.oval(px, py + 24, 26, 6, "aefcff", width=0)
        painting.glow(target, *pen.at((px, py + 38)), 120 * scale, colour("30d8e8"), 0.55)
    _flame(pen.to(-262, 44), flicker + 1, 0.8)
    _pod(pen, livery)


def _flame(pen: Pen, flicker: int, size: float) -> None:
    long = (300 + 22 * (flicker % 3)) * size
    painting.glow(pen.target, *pen.at((-70 * size, 0)), 230 * size * pen.scale, colour("ff7a3a"), 0.55)
    for reach, high, tone, share in (
        (1.0, 30, "ff6a4a", 0.35),
        (0.72, 23, "ffb04a", 0.6),
        (0.5, 16, "fff0b0", 0.85),
        (0.3, 10, "ffffff", 1.0),
    ):
        pen.blob(
            [
                (10, -high * size),
                (-long * reach * 0.4, -high * size * 0.8),
                (-long * reach, 0),
                (-long * reach * 0.4, high * size * 0.8),
                (10, high * size),
            ],
            tone,
            width=0,
            opacity=share,
        )
    for k in range(3):
        pen.oval((-46 - 44 * k) * size, 0, 9 * size, (13 - 3 * k) * size, "d8fbff", width=0, opacity=0.9)


def _fin(pen: Pen, livery: Livery) -> None:
    fin = pen.poly(
        "-372,-70 -446,-196 -366,-204 -296,-160 -214,-86",
        livery.main,
        radius=7,
        shade=livery.dark,
        shift=(-10, -12),
    )
    pen.line("-460,-176 -330,-176 -250,-120", livery.light, width=9 * pen.scale, smooth=False, clip=fin)
    pen.line("-460,-160 -330,-160 -256,-110", livery.trim, width=4 * pen.scale, smooth=False, clip=fin)
    pen.dot(-340, -122, 27, livery.light, width=max(1.0, 2 * pen.scale))
    stamp(pen, livery.number, -340, -122, 5, livery.dark)
    pen.line("-372,-206 -398,-286", width=max(1.0, 2.5 * pen.scale), smooth=False)
    pen.blob(
        "-398,-286 -424,-292 -452,-280 -480,-286 -470,-272 -446,-264 -420,-274 -394,-270",
        livery.trim,
        shade=livery.dark,
        shift=(0, -6),
    )


def _crew(pen: Pen, livery: Livery) -> None:
    """Draw the pilot with a scarf in the wind, and a navigator with long ears behind."""
    nav = pen.to(-106, -112, scale=1.1)
    for lift in (0, 14):
        nav.blob(
            [(-12, -34 + lift), (-46, -48 + lift), (-92, -40 + lift), (-84, -28 + lift), (-44, -28 + lift)],
            "c98a54",
            shade="8f5a44",
            shift=(0, -6),
        )
    nav.blob("-26,20 -26,-6 0,-16 26,-4 26,20", livery.main, shade=livery.dark)
    nav.blob("-30,-26 -14,-50 14,-50 30,-30 38,-14 12,0 -18,-2", "e0a566", shade="a86e4c", shift=(-5, -6))
    nav.oval(36, -20, 6, 5, "3a2038", width=1.5)
    nav.line("24,-8 32,-5 38,-9")
    nav.line("-28,-36 2,-36 26,-32", "5a3c4a", width=7 * pen.scale)
    nav.dot(16, -33, 12, "ffd25e", shade="e08a3a", shift=(-4, -4))
    pilot = pen.to(78, -96)
    pilot.blob(
        "-18,-22 -50,-40 -84,-34 -126,-62 -128,-42 -86,-14 -50,-20 -18,-4",
        "ffd25e",
        shade="e0913a",
        shift=(0, -7),
    )
    pilot.blob("-34,24 -32,-10 0,-22 34,-8 44,24", livery.suit, shade="244a68", shift=(-8, -5))
    pilot.limb("14,-2 50,12 84,10", [22, 19, 16], livery.suit, shade="244a68", shift=(-2, -6))
    pilot.blob("-20,-16 4,-26 26,-14 16,-4 -14,-4", "ffd25e", shade="e0913a", shift=(0, -5))
    face = pilot.blob("-16,-50 10,-58 34,-46 40,-30 28,-18 2,-16 -14,-26", "d99a70", shade="b06f58")
    pilot.line("18,-24 28,-23 35,-27", width=max(1.0, 2.5 * pen.scale), clip=face)
    pilot.blob(
        "-28,-40 -20,-70 6,-82 32,-70 40,-50 14,-52 0,-38 -6,-22 -22,-22",
        livery.light,
        shade="c9a9b0",
        shift=(-5, -7),
    )
    pilot.line("-20,-66 8,-76 30,-66", livery.trim, width=6 * pen.scale)
    pilot.line("-26,-46 2,-48 22,-46", "5a3c4a", width=7 * pen.scale)
    pilot.oval(27, -44, 14, 11, "7ff0f0", shade="2a9ab0", shift=(-3, -5))
    pilot.oval(24, -48, 5, 3, "ffffff", width=0)


def _hull(pen: Pen, livery: Livery) -> None:
    spine = pen.at((0, -100))[1]
    keel = pen.at((0, 50))[1]
    paint = texture.down_gradient(
        spine, colour(livery.light), keel, shapes.mix(colour(livery.light), colour("a8788f"), 0.75)
    )
    hull = pen.blob(_HULL, paint)
    belly = shapes.blob(pen.way("-430,0 -200,12 60,6 300,-10 480,-6 440,60 0,90 -430,70"))
    pen.show(belly, livery.main, width=0, clip=hull)
    pen.show(shapes.moved(belly, 0, 30 * pen.scale), livery.dark, width=0, clip=hull)
    pen.line("-430,-8 -200,4 60,-2 300,-18 480,-14", livery.trim, width=7 * pen.scale, clip=hull)
    pen.line("-430,-22 -200,-9 60,-15 300,-28 480,-20", livery.dark, width=max(1.0, 2 * pen.scale), clip=hull)
    for a, b in (
        ((-250, -100), (-262, 50)),
        ((190, -80), (206, 40)),
        ((318, -60), (330, 30)),
        ((-120, -110), (-126, 60)),
    ):
        pen.line([a, b], "5a3c5a", width=max(0.8, 1.4 * pen.scale), smooth=False, clip=hull, opacity=0.8)
    for k in range(5):
        pen.line(
            [(-228 + 20 * k, -76), (-238 + 20 * k, -40)],
            "6a4a66",
            width=max(1.0, 5 * pen.scale),
            smooth=False,
            clip=hull,
        )
    for px, py in ((330, -16), (352, -13), (300, -18), (210, -46), (196, 20), (-270, 14)):
        pen.dot(px, py, 3, "6a4a66", width=0)
    # The low sun behind us lights the upper edge.
    pen.line("-338,-78 -150,-96 -104,-95", "ffffff", width=max(1.0, 4 * pen.scale), clip=hull)
    pen.line("140,-72 222,-56 372,-25 440,-4", "ffffff", width=max(1.0, 4 * pen.scale), clip=hull)
    pen.show(shapes.blob([pen.at(p) for p in _HULL]), None)
    # Cockpit rim and windshield.
    pen.blob(
        "-178,-92 -110,-106 60,-100 168,-80 160,-66 50,-82 -60,-88 -170,-80",
        "4a3458",
        shade="32223f",
        shift=(0, -5),
    )
    pen.blob("124,-84 142,-128 156,-132 178,-100 186,-76", "a8f2f4", opacity=0.6)
    pen.line("146,-122 164,-92", "ffffff", width=max(1.0, 3 * pen.scale))
    # Nose lamp and canard.
    pen.oval(404, 2, 18, 8, "fff6c8", turn=10)
    painting.glow(pen.target, *pen.at((420, 2)), 110 * pen.scale, colour("ffe9a0"), 0.6)
    pen.poly("232,-6 330,2 296,40 214,34", livery.main, radius=6, shade=livery.dark, shift=(-6, -14))
    pen.line("226,30 292,36", livery.light, width=max(1.0, 4 * pen.scale))


def _pod(pen: Pen, livery: Livery) -> None:
    top = pen.at((0, -16))[1]
    low = pen.at((0, 108))[1]
    paint = texture.down_gradient(
        top, shapes.mix(colour(livery.main), (1.0, 0.95, 0.8), 0.35), low, colour(livery.dark)
    )
    pod = pen.poly("-236,20 -180,0 52,-4 74,14 74,74 52,92 -180,86 -236,66", paint, radius=12)
    pen.poly("-264,18 -236,10 -236,78 -264,70", "4a3d5e", radius=4, shade="2f2644", shift=(0, -16))
    pen.line("-200,4 40,0", "ffd9b8", width=max(1.0, 5 * pen.scale), clip=pod)
    for px in (-160, -8):
        pen.line(
            [(px, -20), (px + 3, 110)], "4a1f40", width=max(0.8, 1.5 * pen.scale), smooth=False, clip=pod
        )
    pen.box(-156, 30, -12, 58, livery.light, radius=4, width=max(0.8, 1.5 * pen.scale), clip=pod)
    stamp(pen, livery.name, -84, 44, 1, livery.dark)
    for k in range(6):
        pen.line(
            [(8 + 8 * k, 22), (2 + 8 * k, 66)],
            "5a2444",
            width=max(0.8, 3 * pen.scale),
            smooth=False,
            clip=pod,
        )
    pen.oval(82, 44, 25, 60, "d8d2e4", shade="8f86ac", shift=(-8, -8))
    pen.oval(86, 44, 18, 48, "2c2140")
    mouth = shapes.ellipse(*pen.at((86, 44)), 18 * pen.scale, 48 * pen.scale)
    for k in range(10):
        a = k * 0.628
        pen.line(
            [(88, 44), (88 + 20 * float(np.cos(a)), 44 + 52 * float(np.sin(a)))],
            "8f86ac",
            width=max(0.8, 3 * pen.scale),
            smooth=False,
            clip=mouth,
        )
    pen.oval(90, 44, 8, 15, "ffd25e", width=max(0.8, 1.5 * pen.scale))
    painting.glow(pen.target, *pen.at((86, 44)), 90 * pen.scale, colour("ffb45a"), 0.35)


def stamp(pen: Pen, text: str, x: float, y: float, size: int, tone: str) -> None:
    """Paint small text centred on a figure point, dots of whole samples, only where it can be read."""
    dots = int(size * pen.scale + 0.25)
    if dots < 1:
        return
    mask = pixelfont.text_mask(text, scale=dots)
    px, py = pen.at((x, y))
    top, left = int(py - 3.5 * dots + 0.5), int(px - mask.shape[1] / 2 + 0.5)
    lines, samples = pen.target.shape[:2]
    up, near = max(0, -top), max(0, -left)
    mask = mask[up : max(lines - top, 0), near : max(samples - left, 0)]
    if mask.size:
        pen.target[top + up : top + up + mask.shape[0], left + near : left + near + mask.shape[1]][mask] = (
            shapes.colour(tone)
        )


def with_reflection(
    target: Plane, x: int, y: int, livery: Livery, *, scale: float, water: int, flicker: int
) -> None:
    """Draw a racer and, upside down below line `water`, its broken and dimmed reflection."""
    left, right = max(0, int(x - 800 * scale)), min(target.shape[1], int(x + 560 * scale))
    top = max(0, int(y - 310 * scale))
    deep = min(target.shape[0] - water, water - top)
    if right <= left or deep <= 0:
        racer(target, x, y, livery, scale=scale, flicker=flicker)
        return
    before = target[top:water, left:right].copy()
    racer(target, x, y, livery, scale=scale, flicker=flicker)
    upright = target[top:water, left:right]
    changed = np.abs(upright - before).max(axis=2, keepdims=True)
    cover = np.clip(changed * 6, 0, 1)[::-1][:deep]
    image = upright[::-1][:deep]
    k = np.arange(deep)
    # Ripples: every line is pushed aside, more with depth, and every fourth or so lets the sky through.
    aside = np.round((2 + k * 0.05) * np.sin(k * 0.55 + np.sin(k * 0.13) * 3)).astype(int)
    share = (0.80 * (1 - k / deep) * (0.62 + 0.38 * np.sin(k * 0.8 + 1))).astype(np.float32)[:, None, None]
    cols = np.clip(np.arange(right - left)[None] + aside[:, None], 0, right - left - 1)
    image, cover = image[k[:, None], cols], cover[k[:, None], cols]
    below = target[water : water + deep, left:right]
    tint = np.array((0.78, 0.72, 0.95), np.float32)
    below += cover * share * (image * tint - below)
