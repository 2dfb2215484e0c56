"""The picture behind the menu of `ninth_lock_menu`: a sailing barge on a moonlit estuary.

Drawn at full size with one-dot ordered dithering, stays and shrouds one dot thick at many slants, and
water in strokes one line high.
"""

from __future__ import annotations

import numpy as np

from scalesim.draw.pixelart import (
    Frame,
    clouded,
    grid,
    grown,
    oval,
    paint,
    polygon,
    ramp,
    rgb,
    ridge,
    segment,
    shade,
    speckle,
)

LINES, SAMPLES = 480, 720
HORIZON = 286
_MOON_LINE, _MOON_SAMPLE = 128, 486
_SKY = ramp("080d20 0c1630 112244 183258 22466e 335f84 50809a 7ba4ac b4c8b8 e8e4c4")
_SEA = ramp("060b1c 0a152c 0f2240 173456 254e70 437890 8cb4b4 e8e4c4")
_SAIL = ramp("2a1226 4a1e30 74323a 9c4c42 c47652 e8a870 fbdca0")
_INK = "060916"
_MAST = 572

Point = tuple[float, float]


def backdrop() -> Frame:
    """Draw the estuary, uint8 (480, 720, 3)."""
    frame = _sky()
    _shore(frame)
    _barge(frame)
    _sea(frame)
    return frame


def _sky() -> Frame:
    """Blend the night sky towards moon and horizon, with stars, thin clouds and the moon."""
    y, x = grid(LINES, SAMPLES)
    away = np.hypot(y - _MOON_LINE, (x - _MOON_SAMPLE) * 0.8)
    veil = clouded(LINES, SAMPLES, 9, 3, stretch=9) * clouded(LINES, SAMPLES, 40, 4, stretch=3)
    level = 0.06 + 0.42 * (y / HORIZON) ** 2 + 0.42 * np.exp(-away / 52) + 0.16 * veil
    frame = shade(level, _SKY, dither=0.9)
    # No stars behind the heading, where they would read as specks on the letters.
    heading = (y > 20) & (y < 86) & ((x < 350) | (y > 56))
    star = np.where(heading, 0.0, speckle(LINES, SAMPLES, 6))
    paint(frame, (star > 0.9988) & (y < 240), rgb("7ba4ac"))
    for line, sample in np.argwhere((star > 0.99990) & (y < 220)):
        frame[max(line - 2, 0) : line + 3, sample] = rgb("50809a")
        frame[line, max(sample - 2, 0) : sample + 3] = rgb("50809a")
        frame[line, sample] = rgb("fffbe4")
    _moon(frame)
    return frame


def _moon(frame: Frame) -> None:
    """Hang the moon, with seas dithered on its face and bars of cloud across it."""
    y, x = grid(LINES, SAMPLES)
    disc = oval(LINES, SAMPLES, (_MOON_LINE, _MOON_SAMPLE, 35.6, 35.6))
    seas = clouded(LINES, SAMPLES, 15, 9) + 0.4 * clouded(LINES, SAMPLES, 5, 10)
    rim = np.hypot(y - _MOON_LINE + 8, x - _MOON_SAMPLE + 8) / 50
    face = 1.25 - 0.5 * rim**2 - 0.55 * (seas > 0.78) * (seas - 0.5)
    paint(frame, disc, shade(face, ramp("8cb4b4 b4c8b8 d8d8bc f0e8c8 fffbe4"), dither=0.9))
    for line, start, end in (
        (142, 428, 500),
        (146, 446, 540),
        (147, 452, 520),
        (153, 470, 566),
        (112, 496, 548),
    ):
        frame[line, start:end] = rgb("50809a")


def _shore(frame: Frame) -> None:
    """Draw two low hills, a town with lit windows, a light-tower and the gates of the lock."""
    y, x = grid(LINES, SAMPLES)
    for seed, rise, base, code in ((21, 52, 270, "2b5478"), (23, 34, 280, "17375a")):
        top = base - rise * (ridge(SAMPLES, 170, seed) - 0.3)
        paint(frame, (y >= top[None, :]) & (y < HORIZON), rgb(code))
    rng = np.random.RandomState(25)
    for sample in range(392, 470, 8):
        wide, high = 7 + rng.randint(4), 7 + rng.randint(12)
        frame[HORIZON - high : HORIZON, sample : sample + wide] = rgb("0c1d38")
        for step in range(4):
            frame[HORIZON - high - step - 1, sample + step : sample + wide - step] = rgb("0c1d38")
        frame[HORIZON - high + 3, sample + 2 + rng.randint(3)] = rgb("ffd27a")
    tower = polygon(LINES, SAMPLES, [(234, 412), (234, 420), (HORIZON, 424), (HORIZON, 408)])
    paint(frame, tower, rgb("0c1d38"))
    frame[246:254, 410:422][tower[246:254, 410:422]] = rgb("2b5478")
    frame[226:234, 410:422] = rgb("0c1d38")
    frame[228:232, 413:419] = rgb("ffe9a8")
    frame[223:226, 412:420] = rgb("0c1d38")
    beam = (x > 421) & (np.abs(y - 229.5 + (x - 421) * 0.1) < 1 + (x - 421) * 0.055)
    for end, code in ((520, "22466e"), (484, "335f84"), (452, "7ba4ac")):
        paint(frame, beam & (x < end) & ((y + x) % 2 == 0), rgb(code))


def _shaped(frame: Frame, corners: list[Point], low: float, high: float) -> None:
    """Fill a sail: light grows from the left edge, seams run across, an outline holds it."""
    mask = polygon(LINES, SAMPLES, corners)
    y, x = grid(LINES, SAMPLES)
    left, right = min(c[1] for c in corners), max(c[1] for c in corners)
    belly = np.sin(np.clip((x - left) / (right - left), 0, 1) * 2.6)
    seam = ((y + 0.35 * x) % 11) < 1
    level = low + (high - low) * (1 - (x - left) / (right - left)) * 0.7 + 0.3 * (high - low) * belly
    paint(frame, grown(mask), rgb(_INK))
    paint(frame, mask, shade(level - 0.14 * seam, _SAIL, dither=0.9))


def _barge(frame: Frame) -> None:
    """Draw the barge under full sail."""
    sails: tuple[tuple[list[Point], float, float], ...] = (
        ([(150, _MAST - 4), (268, 502), (262, 566)], 0.34, 0.98),
        ([(112, _MAST - 2), (272, 466), (268, 498), (150, _MAST - 8)], 0.45, 1.05),
        ([(146, _MAST + 4), (124, 636), (250, 654), (264, _MAST + 4)], 0.12, 0.78),
        ([(92, _MAST + 3), (140, _MAST + 3), (122, 628)], 0.30, 0.90),
        ([(206, 672), (198, 692), (262, 698), (264, 672)], 0.08, 0.5),
    )
    for corners, low, high in sails:
        _shaped(frame, corners, low, high)
    _spars(frame)
    hull = polygon(LINES, SAMPLES, [(264, 468), (272, 478), (270, 690), (263, 704), (290, 692), (290, 488)])
    paint(frame, hull, rgb(_INK))
    segment(frame, (265, 470), (272, 480), rgb("e8a870"))
    segment(frame, (272, 480), (271, 688), rgb("c47652"))
    segment(frame, (276, 484), (275, 692), rgb("335f84"))
    frame[262:271, 596:640] = rgb(_INK)
    frame[264:267, 602:634:8] = rgb("ffd27a")
    frame[264:267, 603:635:8] = rgb("ffd27a")


def _spars(frame: Frame) -> None:
    """Draw masts, sprit, stays and the rope ladders of the shrouds."""
    ink, rope, glint = rgb(_INK), rgb("1a2c48"), rgb("e8a870")
    for shift in range(4):
        segment(frame, (84, _MAST - 1 + shift), (268, _MAST - 1 + shift), ink)
    segment(frame, (96, _MAST - 1), (266, _MAST - 1), glint)
    for shift in (0, 1):
        segment(frame, (258, _MAST + 4 + shift), (118, 640 + shift), ink)
        segment(frame, (190, 670 + shift), (268, 670 + shift), ink)
        segment(frame, (262 + shift, 470), (254 + shift, 436), ink)
    for start, end in (
        ((88, _MAST), (255, 438)), ((112, _MAST), (262, 466)), ((88, _MAST + 2), (262, 702)),
        ((120, 640), (192, 671)), ((192, 671), (262, 702)), ((122, 638), (264, 690)),
    ):  # fmt: skip
        segment(frame, start, end, rope)
    for foot in (546, 554, 562):
        segment(frame, (138, _MAST), (270, foot), ink)
    for line in range(160, 270, 6):
        left = _MAST + (546 - _MAST) * (line - 138) / 132
        right = _MAST + (562 - _MAST) * (line - 138) / 132
        segment(frame, (line, left), (line, right), ink)
    segment(frame, (81, _MAST + 1), (90, _MAST + 1), ink)
    for step, reach in enumerate((16, 20, 17, 12, 6)):
        frame[82 + step, _MAST + 2 : _MAST + 2 + reach] = rgb("c8504a")


def _sea(frame: Frame) -> None:
    """Mirror the scene in broken one-line strokes and lay the moon's path on the water."""
    y, x = grid(LINES, SAMPLES)
    depth = np.clip((y - HORIZON) / (LINES - HORIZON), 0, 1)
    stroke = (
        clouded(LINES, SAMPLES, 1.0, 31, stretch=16) * 0.6
        + clouded(LINES, SAMPLES, 1.6, 32, stretch=40) * 0.4
    )
    path = np.exp(-(((x - _MOON_SAMPLE) / (18 + 90 * depth)) ** 2))
    level = (
        0.42
        - 0.36 * depth
        + 0.34 * (stroke - 0.5)
        + 0.55 * path * (stroke > 0.5 + 0.12 * depth) * (1 - 0.5 * depth)
    )
    water = shade(level, _SEA, dither=0.6)
    rows = np.clip(2 * HORIZON - np.arange(LINES), 0, LINES - 1)
    shake = np.rint(9 * (stroke - 0.5) * (0.3 + 2 * depth)).astype(np.intp)
    mirror = frame[rows][np.arange(LINES)[:, None], np.clip(x.astype(np.intp) + shake, 0, SAMPLES - 1)]
    ship = (mirror.max(axis=2) < 40) | (mirror[..., 0].astype(np.int16) > mirror[..., 2].astype(np.int16) + 8)
    ship &= (x > 440) & (depth < 0.75) & (stroke > 0.3 + 0.35 * depth) & (y > HORIZON + 2)
    dimmed = (mirror.astype(np.uint16) * 5 // 8).astype(np.uint8)
    water[ship] = dimmed[ship]
    paint(frame, y >= HORIZON, water)
    frame[HORIZON, :] = rgb("7ba4ac")
    frame[HORIZON, 486:700] = rgb("335f84")
