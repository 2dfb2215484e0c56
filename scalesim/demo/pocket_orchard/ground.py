"""The ground of `pocket_orchard`: grass, path, beds, pond and hedge."""

from __future__ import annotations

import numpy as np

from scalesim.demo.pocket_orchard.sprites import orchard_sprite
from scalesim.draw.pixelart import (
    Blob,
    Frame,
    clouded,
    foliage,
    grid,
    grown,
    oval,
    paint,
    ramp,
    rgb,
    segment,
    shade,
    speckle,
    stamp,
)

LINES, SAMPLES = 160, 240
GRASS = ramp("3c7042 5c9447 7fb04d a3c659")
LEAVES = ramp("1c3f3c 28604a 3f8a4c 74b44e b8d964 f2f29c")
_EARTH = ramp("6b4436 96684a bf8f60 dcb47e f2d7a4")
_SOIL = ramp("3d2430 5a3638 7a4c40 99674c")
_POND = ramp("2a4f7a 3a78a0 5aa8bc 90d4cc d8f5e4")


def meadow() -> Frame:
    """Cover the ground with grass in soft patches, tufts and small flowers."""
    patch = clouded(LINES, SAMPLES, 17, 1, stretch=1.5)
    frame = shade(0.25 + 0.6 * patch, GRASS, dither=0.25)
    rng = np.random.RandomState(2)
    for _ in range(210):
        line, sample = rng.randint(2, LINES - 3), rng.randint(2, SAMPLES - 4)
        for dy, dx in ((0, 0), (1, 1), (0, 2)):
            frame[line + dy, sample + dx] = GRASS[0 if dy else 3]
    for _ in range(46):
        line, sample, kind = rng.randint(4, 112), rng.randint(3, SAMPLES - 3), rng.randint(3)
        petal = rgb(("fff8e8", "ffd0d8", "ffe27a")[kind])
        for dy, dx in ((-1, 0), (1, 0), (0, -1), (0, 1)):
            frame[line + dy, sample + dx] = petal
        frame[line, sample] = rgb("e8a83a")
        frame[line + 2, sample] = GRASS[0]
    return frame


def shadow(frame: Frame, blob: Blob) -> None:
    """Lay a flat shadow on the ground."""
    darker = np.array([[0.62, 0.62, 0.78]])
    mask = oval(LINES, SAMPLES, blob)
    frame[mask] = (frame[mask] * darker).astype(np.uint8)


def path(frame: Frame) -> None:
    """Tread a sandy path from the door of the cottage across the picture."""
    y, x = grid(LINES, SAMPLES)
    wobble = 4 * (clouded(LINES, SAMPLES, 7, 3) - 0.5)
    main = np.abs(y - 85 - 3.5 * np.sin(x / 38)) < 8 + wobble
    spur = (np.abs(x - 52 - (y - 60) * 0.15) < 7 + wobble) & (y > 60) & (y < 86)
    up = (np.abs(x - 150 + (y - 60) * 0.2) < 6 + wobble) & (y < 84)
    path = main | spur | up
    light = 0.72 + 0.35 * (clouded(LINES, SAMPLES, 6, 4, stretch=2) - 0.5)
    paint(frame, grown(path), (60, 112, 66))
    paint(frame, path, shade(light, _EARTH, dither=0.3))
    rim = path & grown(~path)
    paint(frame, rim, shade(light - 0.28, _EARTH, dither=0))
    stones = path & ~rim & (speckle(LINES, SAMPLES, 5) > 0.988)
    paint(frame, np.roll(stones, 1, axis=0) & path, rgb("96684a"))
    paint(frame, stones, rgb("fbe9c4"))


def beds(frame: Frame) -> None:
    """Dig three beds with furrows one line apart, and plant them."""
    crops = ("cabbage", "pumpkin", "sprout")
    for row, crop in enumerate(crops):
        top, left, right = 92 + 14 * row, 10, 100
        frame[top - 1 : top + 14, left - 1 : right + 1] = rgb("3d2430")
        for line in range(top, top + 12):
            frame[line, left:right] = _SOIL[(2, 3, 1)[line % 3]]
        frame[top : top + 12, left + 14 : right : 15] = _SOIL[0]
        for place in range(6):
            art = orchard_sprite(crop)
            stamp(frame, art, top + 10 - art.solid.shape[0], left + 2 + 15 * place)


def pond(frame: Frame) -> None:
    """Sink a pond with a stony rim, ripples and lily pads."""
    y, x = grid(LINES, SAMPLES)
    edge = 0.12 * (clouded(LINES, SAMPLES, 5, 7) - 0.5)
    depth = 1 - np.hypot((y - 114) / 21, (x - 208) / 34) + edge
    paint(frame, depth > -0.16, rgb("3c7042"))
    stone = shade(
        0.5 + 1.2 * (clouded(LINES, SAMPLES, 3.2, 8) - 0.5), ramp("5f5a70 8a8494 b8aeb0 e2d6c8"), dither=0
    )
    paint(frame, depth > -0.12, stone)
    paint(frame, depth > 0, rgb("2a4f7a"))
    ripple = clouded(LINES, SAMPLES, 1.4, 9, stretch=7)
    paint(frame, depth > 0.06, shade(0.35 + 0.5 * (ripple - 0.5) + 0.25 * (depth < 0.3), _POND, dither=0.2))
    paint(frame, (depth > 0.12) & (ripple > 0.86), rgb("d8f5e4"))
    for line, sample in ((103, 196), (107, 220), (101, 212)):
        paint(frame, oval(LINES, SAMPLES, (line + 1, sample, 3, 6)), rgb("28604a"))
        paint(frame, oval(LINES, SAMPLES, (line, sample, 2.5, 5.4)), rgb("74b44e"))
        segment(frame, (line, sample), (line + 2, sample + 4), rgb("28604a"))
    for dy, dx in ((-1, 0), (0, -1), (0, 1), (1, 0)):
        frame[101 + dy, 195 + dx] = rgb("ffd0d8")
    frame[101, 195] = rgb("ffe27a")


def hedge(frame: Frame) -> None:
    """Close the orchard at the top with a clipped hedge."""
    domes: list[Blob] = [(2 + 2 * (i % 2), 88 + 9 * i, 8, 8) for i in range(18)]
    foliage(frame, domes, LEAVES[:5], 12, outline="1c3034")
