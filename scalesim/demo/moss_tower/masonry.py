"""The built part of `moss_tower`: the near tower with its windows, and blocks of mossy ground."""

from __future__ import annotations

import numpy as np

from scalesim.demo.moss_tower.backdrop import LINES, SAMPLES
from scalesim.demo.moss_tower.sprites import INK
from scalesim.draw.pixelart import (
    Frame,
    Levels,
    Mask,
    clouded,
    grid,
    grown,
    paint,
    ramp,
    rgb,
    shade,
    speckle,
    tone,
)

STONE = ramp("1a1230 2b2444 443860 665075 92707f bf9280 e5bd90 fbe4b3")
MOSS = ramp("0f2440 12464c 1c6a50 37934f 70bb4d b6de68 f2f8a6")
TOWER_LEFT = 206  # sample of the tower's edge


def _bricks(bend: Levels, light: Levels, *, course: int, width: int, seed: int) -> Frame:
    """Lay bricks: `bend` is the distance along the wall, `light` the level of its plain surface."""
    y, _ = grid(*light.shape)
    row = (y // course).astype(np.intp)
    along = bend + (row % 2) * width / 2
    brick = np.floor(along / width).astype(np.intp)
    tint = speckle(64, 256, seed)[row % 64, brick % 256] - 0.5
    down, across = y % course, along % width
    bevel = np.where(down == 0, 0.13, 0.0) + np.where(across < 1, 0.07, 0.0)
    lines, samples = light.shape
    wear = clouded(lines, samples, 2.4, seed + 1, stretch=1.4) - 0.5
    level = light + 0.2 * tint + bevel + 0.12 * wear
    joint = (down >= course - 1) | (across >= width - 1)
    return shade(np.where(joint, light - 0.26, level), STONE, dither=0.3)


def tower(frame: Frame) -> None:
    """Build the near tower as a lit cylinder, with an arch, a window and climbing moss."""
    y, x = grid(LINES, SAMPLES)
    turn = np.clip((x - 290) / 84, -1, 1)
    light = 0.66 - 0.62 * np.abs(turn + 0.55) ** 1.25 + 0.02 * np.cos(y / 40)
    wall = x >= TOWER_LEFT
    paint(frame, wall, _bricks(np.arcsin(turn) * 84 + 200, light, course=8, width=15, seed=3))
    frame[:, TOWER_LEFT] = rgb(INK)
    _string_course(frame, 66)
    _window(frame, 37, 292)
    _window(frame, 37, 240)
    _moss_on_wall(frame, wall)


def _string_course(frame: Frame, line: int) -> None:
    """Put a projecting band of dressed stone round the tower."""
    for step, shade_step in enumerate((7, 6, 5, 5, 3, 1)):
        frame[line + step, TOWER_LEFT - 3 :] = STONE[shade_step]
    frame[line + 1 : line + 5, TOWER_LEFT - 3 :: 17] = STONE[2]
    frame[line - 1, TOWER_LEFT - 3 :] = rgb(INK)
    frame[line - 1 : line + 6, TOWER_LEFT - 4] = rgb(INK)
    shadow = frame[line + 6 : line + 9, TOWER_LEFT:]
    shadow[:] = STONE[1]


def _window(frame: Frame, line: int, sample: int) -> None:
    """Cut a pointed window with a warm light and a cross of lead."""
    y, x = grid(LINES, SAMPLES)
    glow = shade(1.0 - np.hypot(y - line - 14, x - sample) / 22, ramp("8f2f52 d9603f f29a3f ffd766 fff6c0"))
    for reach, step in ((3, 6), (2, 3), (1, 0)):
        paint(frame, _arch(line, sample, reach), tone(STONE, step))
    paint(frame, _arch(line, sample, 0), glow)
    frame[line - 8 : line + 19, sample] = rgb("56283a")
    frame[line + 6, sample - 7 : sample + 8] = rgb("56283a")
    frame[line + 20 : line + 22, sample - 11 : sample + 12] = STONE[6]
    frame[line + 22, sample - 11 : sample + 12] = STONE[1]


def _arch(line: int, sample: int, reach: int) -> Mask:
    """Return the mask of a round-headed opening, made larger on all sides by `reach`."""
    y, x = grid(LINES, SAMPLES)
    half = 7.5 + reach
    head = np.hypot((y - line) * 0.85, x - sample) <= half
    shaft = (np.abs(x - sample) <= half - 0.5) & (y >= line) & (y < line + 19 + reach)
    return head & (y < line + 1) | shaft


def _moss_on_wall(frame: Frame, wall: Mask) -> None:
    """Let moss hang from the string course and gather in the joints of the shaded side."""
    y, x = grid(LINES, SAMPLES)
    patch = clouded(LINES, SAMPLES, 15, 41, stretch=1.2) + 0.35 * clouded(LINES, SAMPLES, 4, 42) - 0.17
    hang = 13 * clouded(1, SAMPLES, 1, 43, stretch=6)[0][None, :] + 3 * speckle(1, SAMPLES, 44) - 3
    fringe = (y >= 68) & (y < 69 + hang) & (x >= TOWER_LEFT - 2)
    foot = wall & (y > 205 - 9 * clouded(1, SAMPLES, 1, 46, stretch=7)[0][None, :])
    grown_over = wall & (patch > 0.74) & (y > 74) | fringe | foot
    leaf = clouded(LINES, SAMPLES, 2.1, 45, stretch=1.2)
    light = (
        0.62
        - 0.004 * (x - TOWER_LEFT)
        + 0.8 * (leaf - 0.5)
        - 0.02 * np.where(fringe, y - 72, 5)
        - 0.25 * foot
    )
    paint(frame, grown(grown_over) & (x >= TOWER_LEFT - 3), rgb("0f2440"))
    paint(frame, grown_over, shade(light, MOSS, dither=0.0))


def block(frame: Frame, top: int, bottom: int, left: int, right: int, seed: int) -> None:
    """Build a piece of solid ground: dressed blocks, an outline, and a mat of moss on top."""
    y, x = grid(LINES, SAMPLES)
    body = (y >= top) & (y < bottom) & (x >= left) & (x < right)
    light = 0.64 - 0.46 * (y - top) / max(bottom - top, 34) - 0.10 * (x - left) / max(right - left, 1)
    stones = _bricks(x - left + 1, light, course=11, width=19, seed=seed)
    paint(frame, grown(body), rgb(INK))
    paint(frame, body, np.roll(stones, top % 11, axis=0))
    hang = 3 + np.rint(5 * clouded(1, SAMPLES, 1, seed + 2, stretch=3.2) + 2 * speckle(1, SAMPLES, seed + 3))
    mat = (y >= top - 2) & (y < top + hang) & (x >= left - 2) & (x < right + 2)
    blade = (
        (y >= top - 3 - 2 * (speckle(1, SAMPLES, seed + 4) > 0.62))
        & (y < top)
        & (x >= left - 1)
        & (x <= right)
    )
    blade &= speckle(1, SAMPLES, seed + 5) > 0.4
    paint(frame, grown(mat | blade), rgb("0f2440"))
    tuft = clouded(LINES, SAMPLES, 2.0, seed + 6, stretch=1.1) - 0.5
    level = np.minimum(0.86 - 0.085 * (y - top + 2) + 0.35 * tuft, np.where(y < top - 2, 0.7, 1.0))
    paint(frame, mat | blade, shade(level, MOSS, dither=0.0))
    paint(frame, (mat & (y == top - 2)), tone(MOSS, 5))
