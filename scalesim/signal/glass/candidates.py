"""Where scan lines may be: even patterns of a photo, looked for at several reductions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.carrier import TILE, Peaks, peaks
from scalesim.signal.glass.consensus import Pattern, patterns
from scalesim.signal.glass.sums import rows_summed

SHORTEST = 2.3
"""Pixels a line: below, lines cannot be told from what demosaicing makes."""
LEVELS = (1, 2, 4, 12)
"""Reductions that are looked at: each sees lines of 2.3 pixels and more of its own, best those of 4 or so."""
LONGEST = 15.0
WORKING = 5.0
"""Pixels a line that a photo is reduced to, where it has more."""
CROPS, CROP = 4, 192
MOST_CANDIDATES = 4
MOST_LINES = 700
"""Lines that a 15 kHz tube can show over a photo's height: 576 and what a wide view adds."""
SHARE = 0.35


def reduced(light: NDArray[np.float32], factor: int) -> NDArray[np.float32]:
    """Return the means of factor x factor pixels."""
    if factor == 1:
        return light
    rows, columns = (n // factor * factor for n in light.shape)
    light = light[:rows, :columns]
    down = rows_summed(light, factor)
    across = down.reshape(len(down), -1, factor).sum(axis=2)
    return np.asarray(across / np.float32(factor * factor), dtype=np.float32)


def candidates(
    light: NDArray[np.float32],
    pitch: tuple[float, float] | None,
    box: tuple[int, int, int, int] | None,
) -> list[tuple[Pattern, Peaks]]:
    """Return the patterns that may be lines, likeliest first, each with the peaks it was found in.

    Parameters:  as of `find_lines`
    """
    made: list[tuple[Pattern, Peaks]] = []
    side = min(light.shape) if box is None else min(box[2] - box[0], box[3] - box[1])
    levels = [level for level in LEVELS if level == 1 or side / level > 1.5 * TILE]
    if pitch is not None:
        levels = sorted({max(1, int(p / WORKING)) for p in (pitch[0] / 2, pitch[1])})
    for level in levels:
        found = _inside(light, level, box)
        for pattern in patterns(found):
            period = pattern.period
            least = SHORTEST * level if level == levels[0] else LONGEST * 0.6 * level / 4
            fits = light.shape[0] / period <= MOST_LINES
            if pattern.share >= SHARE and period >= least and fits and _possible(period, pitch):
                made.append((pattern, found))
    return sorted(made, key=lambda each: -each[0].score)[:MOST_CANDIDATES]


def _possible(period: float, pitch: tuple[float, float] | None) -> bool:
    if pitch is None:
        return True
    low, high = 0.85 * pitch[0], 1.15 * pitch[1]
    return low <= period <= high or low / 2 <= period <= high / 2


def _inside(light: NDArray[np.float32], level: int, box: tuple[int, int, int, int] | None) -> Peaks:
    """Return the peaks of the part of a photo that a box holds, in pixels of the photo."""
    if box is None:
        return sampled_peaks(light, level)
    left, top, right, bottom = box
    found = sampled_peaks(light[top:bottom, left:right], level)
    return replace(found, at=found.at + np.array([left, top]))


def sampled_peaks(light: NDArray[np.float32], level: int) -> Peaks:
    """Return the peaks of a photo reduced `level` times, of parts spread over it, in pixels of the photo."""
    rows, columns = light.shape[0] // level, light.shape[1] // level
    if rows * columns < 1.2 * (CROPS * CROP) ** 2:
        return _scaled([(peaks(reduced(light, level), longest=LONGEST), 0, 0)], level)
    parts = []
    for top in np.linspace(0, rows - CROP, CROPS).astype(int) * level:
        for left in np.linspace(0, columns - CROP, CROPS).astype(int) * level:
            part = light[top : top + CROP * level, left : left + CROP * level]
            parts.append((peaks(reduced(part, level), hop=TILE, most=4, longest=LONGEST), left, top))
    return _scaled(parts, level)


def _scaled(parts: list[tuple[Peaks, int, int]], level: int) -> Peaks:
    at, tiles, count = [], [], 0
    for found, left, top in parts:
        at.append((found.at + 0.5) * level - 0.5 + np.array([left, top]))
        tiles.append(found.tile + count)
        count += found.tiles
    f = np.concatenate([each.f for each, *_ in parts]) / level
    power = np.concatenate([each.power for each, *_ in parts])
    return Peaks(np.concatenate(at), f, power, np.concatenate(tiles), count)
