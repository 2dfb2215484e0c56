"""The map of `marrow_fens`: what lies on each tile (i to the lower right, j to the lower left)."""

from __future__ import annotations

from functools import cache

import numpy as np

from scalesim.demo.marrow_fens import town
from scalesim.draw import texture

HOUSES = {
    (-2, -5): (town.THATCH, True),
    (-2, -3): (town.TILES, False),
    (2, -5): (town.SLATE, False),
    (2, -3): (town.THATCH, True),
    (4, -3): (town.TILES, False),
    (-4, -3): (town.MOSS, False),
    (-6, -3): (town.THATCH, False),
    (2, 0): (town.THATCH, False),
    (-2, 0): (town.SLATE, True),
    (4, 0): (town.MOSS, False),
    (-4, 0): (town.TILES, False),
    (-2, 8): (town.THATCH, True),
    (2, 8): (town.TILES, False),
    (2, 10): (town.THATCH, False),
    (-2, 10): (town.MOSS, False),
    (6, 0): (town.THATCH, True),
    (8, -3): (town.SLATE, False),
    (-2, -8): (town.TILES, False),
    (10, 0): (town.TILES, False),
    (-8, 0): (town.THATCH, True),
    (11, -3): (town.THATCH, False),
    (-4, 8): (town.SLATE, False),
    (5, 8): (town.MOSS, True),
}


MILL = (6, -7)


BOATS = {(-6, 4): False, (4, 5): True, (8, 4): False, (-11, 3): True, (-8, 6): True}


@cache
def kind(i: int, j: int) -> str:
    """Return what lies on a tile: water, path, peat, bog berries, reeds or grass."""
    river = 4.3 + 0.9 * np.sin(i / 3.2)
    if abs(j - river) < 1.75:
        return "bridge" if i == 0 else "water"
    if (i, j) in HOUSES or (i, j) == MILL:
        return "grass"
    if (i == 0 and -12 <= j <= 12) or (j == -1 and -10 <= i <= 14):
        return "path"
    if (-11 <= i <= -8 and -8 <= j <= -3) or (-7 <= i <= -5 and -8 <= j <= -6):
        return "peat"
    if (8 <= i <= 12 and -9 <= j <= -6) or (7 <= i <= 9 and 8 <= j <= 9):
        return "berries"
    damp = float(texture.cloudy(np.array([i * 0.23 + 40]), np.array([j * 0.23 + 11]), 17, 3)[0])
    near = abs(i) < 6 and -7 < j < 11
    return (
        "water" if damp < (0.3 if near else 0.44) else "reeds" if damp < (0.36 if near else 0.54) else "grass"
    )
