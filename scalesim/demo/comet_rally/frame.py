"""'Comet Rally over Glasswater', an invented hover race, as a woven 1080i frame: two fields in motion.

The even lines (parity 0) show the scene at field time 0, the odd lines the scene one field (1/60 s) later.
The near racer has moved 16 samples, its rivals 9 and 5, the pylons -6, the hills -2 and -1; sky and
instruments stand still. It tests deinterlacing: combing on what moves, full detail on what does not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.demo.comet_rally import racer as comet_racer
from scalesim.demo.comet_rally import sky as comet_sky
from scalesim.demo.comet_rally.sky import LINES, SAMPLES
from scalesim.draw import letters as pixelfont
from scalesim.draw import painting, shapes, texture
from scalesim.draw.pen import Pen
from scalesim.draw.shapes import Plane, colour

HORIZON = 600
RACER_SPEED = 16  # samples a field, to the right


def draw() -> NDArray[np.uint8]:
    """Return the woven frame, uint8 (1080, 1920, 3): even lines of `draw_at(0)`, odd of `draw_at(1)`."""
    frame = draw_at(0)
    frame[1::2] = draw_at(1)[1::2]
    return frame


def draw_at(field: int) -> NDArray[np.uint8]:
    """Return the whole progressive scene at field time `field` (1/60 s each), uint8 (1080, 1920, 3)."""
    target = comet_sky.still().copy()
    _hills(target, field)
    _gate(target, 1180 - 2 * field)
    _lake(target, field)
    _pylons(target, field)
    for x, y, scale, livery, water, speed in (
        (1536, 598, 0.2, comet_racer.PLUM, 620, 5),
        (340, 634, 0.42, comet_racer.MOSSY, 680, 9),
    ):
        comet_racer.with_reflection(
            target, x + speed * field, y, livery, scale=scale, water=water, flicker=field
        )
    _spray(target, 980 + RACER_SPEED * field, 905)
    comet_racer.with_reflection(
        target, 1010 + RACER_SPEED * field, 748, comet_racer.CORAL, scale=1.0, water=900, flicker=field
    )
    _boards(target)
    frame = shapes.to_bytes(target)
    _words(frame)
    return frame


def _hills(target: Plane, field: int) -> None:
    """Draw three ranges of table hills, bluer with distance; the nearer two move with the camera."""
    xs = np.arange(SAMPLES, dtype=np.float32) + np.float32(0.5)
    for seed, high, wide, top, low, speed in (
        (4, 120, 330, "c4688e", "f49a80", 0),
        (9, 150, 260, "8a4580", "d96a78", 1),
        (14, 120, 190, "552d68", "a2486c", 2),
    ):
        run = (xs + speed * field + 4000) / wide
        raw = texture.ridge(run, seed, 4)
        steps = np.clip(raw * 3.2 - 0.9, 0, 1.6)
        table = np.floor(steps * 2) / 2 + np.clip((steps * 2 - np.floor(steps * 2)) * 3, 0, 1) / 2
        tops = HORIZON + 4 - high * (0.15 + 0.55 * table)
        painting.mountains(
            target,
            tops.astype(np.float32),
            texture.down_gradient(HORIZON - high, colour(top), HORIZON, colour(low)),
            bottom=HORIZON,
        )
        # A lit edge, one line thick, on the side of the sun.
        for level in (0.35, 0.62):
            shelf = HORIZON + 4 - (HORIZON + 4 - tops) * level
            rows, cols = np.round(shelf).astype(int), np.arange(SAMPLES)
            keep = (HORIZON - rows > 14) & (texture.value_noise(run * 3, np.full(1, level * 9), seed) > 0.4)
            target[rows[keep], cols[keep]] = target[rows[keep], cols[keep]] * 0.6 + np.float32(
                0.4
            ) * np.array(colour("ffd0a0"), np.float32)


def _gate(target: Plane, x: float) -> None:
    """Draw the stone arch the course runs through, with its lamps and a banner."""
    pen = Pen(target, x, HORIZON, ink="3a1f50", width=2)
    outer = [
        (-190, 4),
        (-176, -130),
        (-120, -226),
        (-20, -268),
        (90, -250),
        (164, -180),
        (190, -90),
        (204, 4),
    ]
    inner = [(-112, 4), (-104, -90), (-66, -156), (-6, -186), (60, -172), (106, -120), (122, -60), (126, 4)]
    stone = shapes.polygon(
        [pen.at(p) for p in [*shapes.spline(outer, steps=5), *shapes.spline(inner, steps=5)[::-1]]]
    )
    pen.show(
        stone,
        texture.down_gradient(HORIZON - 260, colour("6a3670"), HORIZON, colour("b8566c")),
        shade="47265c",
        shift=(10, 8),
    )
    for k in range(9):
        pen.line(
            [(-200, -24 - 28 * k), (0, -30 - 28 * k), (210, -20 - 28 * k)],
            "3f2152",
            width=1.5,
            clip=stone,
            opacity=0.6,
        )
    for k in range(7):
        t = k / 6
        px, py = -96 + 206 * t, -106 + 60 * t * (1 - t)
        pen.dot(px, py, 4, "fff0b0", width=0)
        painting.glow(target, *pen.at((px, py)), 30, colour("ffb050"), 0.6)
    pen.line(
        [(-96 + 206 * k / 12, -112 + 60 * k / 12 * (1 - k / 12)) for k in range(13)], width=1.5, smooth=False
    )


def _lake(target: Plane, field: int) -> None:
    """Mirror the sky and hills in the lake and lay moving streaks over them, faster when nearer."""
    deep = LINES - HORIZON
    k = np.arange(deep)
    mirrored = np.clip(HORIZON - 1 - (k * 1.18).astype(int), 0, HORIZON - 1)
    target[HORIZON:] = target[mirrored] * np.array((0.80, 0.74, 0.92), np.float32)
    depth = (k / deep).astype(np.float32)[:, None]
    rate = np.round(3 + 24 * depth)
    xs = np.arange(SAMPLES, dtype=np.float32)[None] + rate * np.float32(field)
    rows = (46 * np.log1p(k / 12)).astype(np.float32)[:, None]
    noise = texture.value_noise(xs / (26 + 300 * depth), rows, 51)
    glint = np.clip((noise - 0.64) * 7, 0, 1)[..., None] * np.float32(0.55)
    gloom = np.clip((0.36 - noise) * 4, 0, 1)[..., None] * np.float32(0.42)
    lake = target[HORIZON:]
    lake += gloom * (np.array(colour("3a2a68"), np.float32) - lake)
    shine = (
        np.array(colour("ffd8a8"), np.float32) * (1 - depth[..., None])
        + np.array(colour("b58ad8"), np.float32) * depth[..., None]
    )
    lake += glint * (shine - lake)
    # The path of the sun, broken by ripples.
    sun = (
        np.exp(-(((np.arange(SAMPLES, dtype=np.float32)[None] - 1500) / (50 + 150 * depth)) ** 2))
        * (noise > 0.52)
        * (1 - depth)
        * 0.8
    )
    lake += sun[..., None] * (np.array(colour("fff0b8"), np.float32) - lake)
    target[HORIZON - 1 : HORIZON + 1] = np.array(colour("fff0c8"), np.float32)


def _pylons(target: Plane, field: int) -> None:
    """Draw the marker posts of the course with pennants; they pass at six samples a field."""
    pen = Pen(target, ink="24143a", width=2)
    for k in range(-1, 7):
        x = 120 + 330 * k - 6 * field
        pen.box(x - 4, 470, x + 4, 662, "f4e6e0", shade="a884a8", shift=(-3, 0))
        for n in range(6):
            pen.box(x - 4, 484 + 30 * n, x + 4, 499 + 30 * n, "ef5f4c", width=1)
        pen.oval(x, 664, 24, 6, "3b3152")
        pen.dot(x, 462, 8, "fff3c0", width=2)
        painting.glow(target, x, 462, 54, colour("ffbe60"), 0.7)
        pen.blob(
            [
                (x - 4, 478),
                (x - 30, 474),
                (x - 58, 484),
                (x - 82, 478),
                (x - 74, 496),
                (x - 50, 504),
                (x - 26, 498),
                (x - 4, 506),
            ],
            ("22b5ac", "ffd25e", "8a5fc8")[k % 3],
            shade=("14808c", "d9933c", "5a3f96")[k % 3],
            shift=(0, -8),
        )
        pen.line([(x + 4, 520), (x + 326, 520)], width=1.2, smooth=False)
    for k in range(10):
        share = 0.30 * (1 - k / 10)
        for n in range(-1, 7):
            x = 120 + 330 * n - 6 * field + (3 if k % 2 else -2)
            painting.paint(
                target,
                shapes.rounded_box(x - 5, 672 + 12 * k, x + 5, 680 + 12 * k, 3),
                colour("f4d0c8"),
                opacity=share,
            )


def _spray(target: Plane, x: float, y: float) -> None:
    """Draw the fan of water behind the near racer and its wake lines."""
    random = np.random.RandomState(19)
    pen = Pen(target, x, y)
    for k in range(9):
        pen.line(
            [(260 - 20 * k, 2 + k), (-200, 14 + 9 * k), (-1100, 24 + 17 * k)],
            "ffe9d8",
            width=1.2 + 0.3 * k,
            smooth=False,
            opacity=0.5 - 0.04 * k,
        )
    for _ in range(170):
        back = random.rand() ** 0.7
        px, py = -120 - 760 * back, 20 - random.rand() ** 1.8 * 190 * (0.25 + back) * (1.15 - back)
        r = random.uniform(1.2, 5.5) * (1 - 0.5 * back)
        pen.dot(px, py, r, "fff4ea", width=0, opacity=random.uniform(0.35, 0.9))
    for px, py, wide, high in ((-240, 14, 180, 22), (-480, 6, 230, 34), (-780, 0, 260, 30)):
        painting.soft_shadow(
            target, shapes.ellipse(x + px, y + py, wide, high), colour("ffe6e0"), blur=26, opacity=0.42
        )


def _boards(target: Plane) -> None:
    pen = Pen(target, ink="ffe0b0", width=1)
    pen.poly("40.5,40.5 430.5,40.5 406.5,128.5 40.5,128.5", "1b1236", opacity=0.62)
    pen.poly("1490.5,40.5 1879.5,40.5 1879.5,128.5 1514.5,128.5", "1b1236", opacity=0.62)
    pen.poly("1500.5,936.5 1879.5,936.5 1879.5,1039.5 1472.5,1039.5", "1b1236", opacity=0.7)
    for k in range(30):
        tone = "ef5f4c" if k > 25 else "ffd25e" if k > 18 else "22e0d0"
        pen.poly(
            [
                (1532 + 11 * k, 1004 - 0.8 * k),
                (1539 + 11 * k, 1004 - 0.8 * k),
                (1535 + 11 * k, 1024),
                (1528 + 11 * k, 1024),
            ],
            tone if k < 27 else "4a3a5e",
            width=0,
        )
    # The course as a line with the three racers on it.
    pen.line("640,72 1280,72", "ffe0b0", width=1, smooth=False)
    for k in range(17):
        pen.line([(640.5 + 40 * k, 66), (640.5 + 40 * k, 78)], "ffe0b0", width=1, smooth=False)
    for x, tone, r in ((836, "6fae4e", 6), (1102, "8a5fc8", 6), (960, "ef5f4c", 9)):
        pen.dot(x, 72, r, tone, ink="24143a", width=2)
    pen.dot(960, 72, 13, None, width=1.5)


def _words(frame: NDArray[np.uint8]) -> None:
    cream, gold, teal, dark = (255, 240, 220), (255, 210, 94), (60, 232, 216), (30, 16, 54)
    pixelfont.write(frame, "2", 52, 62, gold, scale=8, shadow=dark)
    pixelfont.write(frame, "nd of 3", 88, 112, cream, scale=3, shadow=dark)
    pixelfont.write(frame, "LAP 3/5", 54, 250, teal, scale=3)
    pixelfont.write(frame, "gap  -0.84 s", 92, 262, cream, scale=2)
    pixelfont.write(frame, "2'14\"86", 52, 1600, cream, scale=5, shadow=dark)
    pixelfont.write(frame, 'best lap 43"20', 102, 1602, gold, scale=2)
    pixelfont.write(frame, "618", 944, 1640, cream, scale=5, shadow=dark)
    pixelfont.write(frame, "knots", 956, 1752, teal, scale=3)
    pixelfont.write(frame, "GLASSWATER MILE", 88, 852, cream, scale=2, shadow=dark)
    pixelfont.write(frame, "Start", 84, 626, cream)
    pixelfont.write(frame, "Gate 4", 84, 1262, cream)
    pixelfont.write(frame, "Navigator: now, while the comet is low!", 1010, 60, cream, scale=2, shadow=dark)
