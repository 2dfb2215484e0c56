"""The water of `moss_tower`: the pool, the fall that feeds it, foam and mist."""

from __future__ import annotations

import numpy as np

from scalesim.demo.moss_tower.backdrop import LINES, SAMPLES
from scalesim.demo.moss_tower.masonry import STONE
from scalesim.draw.pixelart import (
    Blob,
    Frame,
    clouded,
    grid,
    grown,
    oval,
    paint,
    ramp,
    rgb,
    shade,
    speckle,
    tone,
)

SURFACE = 212  # line of the pool
_WATER = ramp("1c2f66 22508c 2f82b0 55b8cc 9ee4de effff6")


def pool(frame: Frame) -> None:
    """Fill the pool: dithered depth, one-line ripples, the tower's reflection and the sun's path."""
    y, x = grid(LINES, SAMPLES)
    water = y >= SURFACE
    ripple = clouded(LINES, SAMPLES, 1.0, 51, stretch=14)
    depth = (y - SURFACE) / (LINES - SURFACE)
    tower = np.clip((x - 200 - 8 * ripple) / 10, 0, 1) - np.clip((x - 226) / 8, 0, 1)
    tower += np.clip((x - 268) / 14, 0, 1)
    level = 0.60 - 0.52 * depth + 0.46 * (ripple - 0.5) - 0.2 * tower - 0.2 * (x < 140 + 6 * ripple)
    paint(frame, water, shade(level, _WATER, dither=0.25))
    path = np.abs(x - 170) < 2 + 22 * ripple * (1.1 - depth)
    for code, reach in (("d57c95", 0.50), ("fdc291", 0.60), ("fff3c4", 0.78)):
        paint(frame, water & path & (ripple > reach) & (y % 2 == 0), rgb(code))
    paint(frame, water & (ripple > 0.88) & (y % 3 == 1), rgb("9ee4de"))
    frame[SURFACE] = rgb("9ee4de")
    frame[SURFACE + 1, ::2] = rgb("55b8cc")


def waterfall(frame: Frame) -> None:
    """Pour the fall out of a dark arch, in strands, to foam and mist at its foot."""
    y, x = grid(LINES, SAMPLES)
    left, right, top = 232, 262, 100
    for reach, step in ((15, 6), (13, 4), (12, 0)):
        head = np.hypot(y - top, x - 247) <= reach + 4
        paint(frame, head & (y <= top + 4), tone(STONE, step))
    strand = 0.6 * clouded(1, SAMPLES, 1, 61, stretch=2.2)[0][None, :] + 0.4 * speckle(1, SAMPLES, 62)
    fall = clouded(LINES, SAMPLES, 22, 63, stretch=0.12)
    sway = np.rint(1.6 * clouded(LINES, 1, 17, 64)).astype(np.intp)
    sheet = (x >= left + sway) & (x < right - sway) & (y >= top) & (y < SURFACE + 4)
    round_edge = 1 - np.abs((x - 247) / 16) ** 3
    level = 0.16 + 0.42 * strand + 0.42 * fall * round_edge + 0.16 * (y < top + 3)
    paint(frame, grown(sheet), rgb("1c2f66"))
    paint(frame, sheet, shade(level, _WATER, dither=0.0))
    frame[top : top + 2, left + 1 : right - 1] = _WATER[5]
    _foam(frame)


def _foam(frame: Frame) -> None:
    """Heap foam at the foot of the fall and dither mist above it."""
    y, x = grid(LINES, SAMPLES)
    mist = 1.0 - np.hypot((y - SURFACE) / 22, (x - 247) / 34)
    grain = (y + x) % 2 == 0
    paint(frame, (mist > 0.12) & (y < SURFACE) & grain & ((y % 2 == 0) | (mist > 0.5)), rgb("9ee4de"))
    rng = np.random.RandomState(65)
    balls: list[Blob] = []
    for place in range(222, 274, 4):
        size = 2.5 + 3.5 * rng.random_sample() * (1 - abs(place - 247) / 40)
        balls.append(
            (SURFACE + 1 + 3 * rng.random_sample(), place + 3 * rng.random_sample(), size, size + 1.2)
        )
    for line, sample, high, wide in balls:
        paint(frame, oval(LINES, SAMPLES, (line + 1.5, sample, high, wide + 1)), rgb("55b8cc"))
    for line, sample, high, wide in balls:
        paint(frame, oval(LINES, SAMPLES, (line, sample, high, wide)), rgb("9ee4de"))
        paint(frame, oval(LINES, SAMPLES, (line - 0.8, sample - 0.8, high - 1.2, wide - 1.4)), rgb("effff6"))
