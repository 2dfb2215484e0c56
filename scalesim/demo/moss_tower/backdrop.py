"""The distant layers of `moss_tower`: sky, sun, clouds, peaks, far tower and forest, back to front."""

from __future__ import annotations

import numpy as np

from scalesim.draw.pixelart import (
    Frame,
    Levels,
    clouded,
    foliage,
    grid,
    grown,
    oval,
    paint,
    polygon,
    ramp,
    rgb,
    ridge,
    roundness,
    segment,
    shade,
    speckle,
    tone,
)

LINES, SAMPLES = 240, 320
_SUN_LINE, _SUN_SAMPLE = 118, 62
_SKY = ramp("fff3c4 ffdfa3 fdc291 f39d8d d57c95 a8659b 7a559b 554a90 3d3f7f 2d3269 222654")
_CLOUD = ramp("7d5a9c a9699c d9859a f5a995 ffd0a0 fff0c8")
_PEAKS = ramp("6a5499 8a609c b3729a d68d98")
_NEAR_PEAKS = ramp("4a4583 5f4f90 7d5c98 a06c99")
_FAR_TOWER = ramp("3c3a74 4d4583 66518f 8a609a b97898 e8a294")
_FOREST = ramp("1c2a55 22406a 2a5c74 3b7c78 66a07c a8c487")


def backdrop() -> Frame:
    """Draw everything behind the playing field, uint8 (240, 320, 3)."""
    frame = _sky()
    _clouds(frame)
    _peaks(frame, _PEAKS, base=138, rise=46, seed=11)
    _far_tower(frame)
    _peaks(frame, _NEAR_PEAKS, base=160, rise=34, seed=29)
    _forest(frame)
    _birds(frame)
    return frame


def _sky() -> Frame:
    """Blend the evening sky from the sun outwards, in dithered bands."""
    y, x = grid(LINES, SAMPLES)
    height = np.clip((150 - y) / 150, 0, 1)
    away = np.hypot((x - _SUN_SAMPLE) * 0.62, y - _SUN_LINE) / 150
    frame = shade(0.42 * height + 0.66 * away - 0.06, _SKY, dither=0.75)
    _stars(frame, height)
    paint(frame, oval(LINES, SAMPLES, (_SUN_LINE, _SUN_SAMPLE, 24.7, 24.7)), rgb("ffdf9a"))
    paint(frame, oval(LINES, SAMPLES, (_SUN_LINE, _SUN_SAMPLE, 23.4, 23.4)), rgb("fffbe4"))
    # Bars of haze cross the sun, one line each: the hardest thing here for a scaler that drops lines.
    for line, half in ((118, 20), (124, 24), (127, 17), (131, 26), (134, 20), (137, 24)):
        frame[line, _SUN_SAMPLE - half : _SUN_SAMPLE + half] = rgb("fdc291")
    return frame


def _stars(frame: Frame, height: Levels) -> None:
    """Scatter single-dot stars over the dark part of the sky."""
    stars = (speckle(LINES, SAMPLES, 5) > 0.9955) & (height > 0.5)
    stars[:, :150] = False
    paint(frame, stars, rgb("d9c4e8"))


def _clouds(frame: Frame) -> None:
    """Pile up lit clouds on the right and draw thin streaks over the left."""
    heap = [(104, 236, 15, 24), (96, 258, 20, 22), (108, 280, 16, 26), (112, 214, 9, 20), (88, 246, 12, 13)]
    heap += [(104, 176, 7, 16), (108, 158, 5, 16), (101, 188, 6, 9), (112, 190, 7, 30)]
    heap += [(62, 18, 6, 15), (66, 36, 5, 16), (66, 2, 6, 16), (58, 27, 5, 8)]
    level, mask = roundness(LINES, SAMPLES, heap)
    y, _ = grid(LINES, SAMPLES)
    puff = clouded(LINES, SAMPLES, 4.0, 8, stretch=1.6) - 0.5
    flat_base = (y > 114 + 6 * puff) | ((y > 67) & (y < 80))
    paint(frame, mask & ~flat_base, shade(level * 0.95 + 0.22 * puff, _CLOUD, dither=0.35))
    for line, start, end, step in ((52, 96, 168, 2), (55, 120, 188, 2), (76, 108, 150, 3), (79, 92, 128, 3)):
        frame[line, start:end] = _CLOUD[step]
        frame[line + 1, start + 9 : end - 14] = _CLOUD[step]


def _peaks(frame: Frame, colours: Frame, *, base: int, rise: int, seed: int) -> None:
    """Draw one range of mountains whose left slopes catch the light."""
    y, x = grid(LINES, SAMPLES)
    coarse = ridge(SAMPLES, 52, seed)
    skyline = base - rise * (coarse - 0.25) - 5 * (ridge(SAMPLES, 12, seed + 1) - 0.5)
    depth = (y - skyline[None, :]) / rise
    # Facets run down and to the right from the ridge, so the slope is read along a slant.
    crag = clouded(LINES, SAMPLES, 9, seed + 2, stretch=0.7) - 0.5
    foot = np.clip(x - 0.55 * rise * depth + 9 * crag, 0, SAMPLES - 1).astype(np.intp)
    slope = np.gradient(ridge(SAMPLES, 52, seed) * -rise - 7 * ridge(SAMPLES, 15, seed + 3))[foot]
    level = 0.42 - 0.34 * np.clip(slope / 0.35, -1, 1) + 0.42 * depth
    paint(frame, depth >= 0, shade(level, colours, dither=0.5))


def _far_tower(frame: Frame) -> None:
    """Draw the tower of the title in the haze, its storeys stepping in towards the top."""
    y, x = grid(LINES, SAMPLES)
    bottom = 170
    for top, half in ((114, 17), (82, 14), (56, 11), (32, 8)):
        centre = 150 + (114 - top) * 0.06
        level = 0.86 - 0.95 * (x - centre + half) / (2 * half)
        body = (np.abs(x - centre) <= half) & (y < bottom) & (y >= top)
        course = ((y % 4) == 0) * 0.1 + (y < top + 4) * 0.25
        paint(frame, body, shade(level - course, _FAR_TOWER, dither=0.6))
        rim = (np.abs(x - centre) <= half + 2) & (y >= top - 5) & (y < top)
        notch = ((x - centre + 40).astype(np.intp) % 5 < 3) | (y > top - 3)
        paint(frame, rim & notch, shade(level + 0.22 * (y > top - 4) - 0.08, _FAR_TOWER, dither=0.0))
        for side in (-0.45, 0.1, 0.55):
            column = int(centre + side * half)
            frame[top + 11 : top + 15, column] = rgb("ffdf9a")
        bottom = top - 5
    roof = polygon(LINES, SAMPLES, [(28, 144), (28, 166), (7, 155)])
    paint(frame, roof, shade(1.0 - (x - 145) / 18, _FAR_TOWER, dither=0.4))
    segment(frame, (2, 155), (8, 155), rgb("3c3a74"))
    for line, reach in ((2, 9), (3, 11), (4, 8), (5, 5)):
        frame[line, 156 : 156 + reach] = rgb("e2606a")


def _forest(frame: Frame) -> None:
    """Draw the rounded tops of the wood below the peaks, further rows paler than nearer ones."""
    for row, (line, lift) in enumerate(((168, 2), (182, 1), (196, 0))):
        rng = np.random.RandomState(70 + row)
        crowns = []
        for sample in range(-8, SAMPLES + 10, 15):
            size = 9 + 5 * rng.random_sample()
            rise = 7 * rng.random_sample()
            crowns.append((line - rise, sample + 6 * rng.random_sample(), size, size * 1.05))
        mask = foliage(frame, crowns, _FOREST[lift : lift + 4], 80 + row, outline="1c2a55")
        covered = np.maximum.accumulate(mask, axis=0) & ~mask
        paint(frame, covered & ~grown(mask), tone(_FOREST, lift))


def _birds(frame: Frame) -> None:
    """Put a loose flock before the sun."""
    for line, sample in ((92, 86), (96, 94), (89, 97), (100, 83), (86, 107)):
        for dy, dx in ((0, -2), (1, -1), (2, 0), (1, 1), (0, 2)):
            frame[line + dy - 1, sample + dx] = rgb("5f4f90")
