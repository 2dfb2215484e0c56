"""A photo straightened for comparison: lines level, mask blurred along them, cut into tiles."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.rectify.sampled import reduced, sampled
from scalesim.signal.rectify.view import View

ROWS_A_LINE = 8
_COLUMNS_A_LINE = 4
_MASK = 0.35
"""Blur along the lines, in distances of two lines: what a mask draws there is gone."""
_FINE = 2
TILE_LINES = 8
TILE_SHAPE = (TILE_LINES * ROWS_A_LINE, TILE_LINES * _COLUMNS_A_LINE)
"""Rows and columns of a tile."""


@dataclass(frozen=True, eq=False)
class Straight:
    """A photo's green light over the picture.

    Parameters:
        light : (lines * 8, columns) float32, NaN where the photo holds nothing
        lines : field lines over the picture's height; aspect : width over height of the picture
        pixels : of the photo from line to line, in the picture's middle
    """

    light: NDArray[np.float32]
    lines: int
    aspect: float
    pixels: float

    @property
    def along(self) -> float:
        """Standard deviation of the blur along the lines, in shares of the picture's width."""
        return _MASK / (self.lines * self.aspect)

    def places(self) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
        """Return (v, u) of every pixel: field-line pitches from the top, shares of the width."""
        rows, columns = self.light.shape
        v = (np.arange(rows, dtype=np.float32) + 0.5) / ROWS_A_LINE
        u = (np.arange(columns, dtype=np.float32) + 0.5) / columns
        down, across = np.meshgrid(v, u, indexing="ij")
        return down, across

    def tiles(self) -> list[tuple[slice, slice]]:
        """Return the tiles that the photo holds whole, eight lines high and as wide."""
        high, wide = TILE_SHAPE
        rows, columns = self.light.shape
        cuts = [
            np.s_[top : top + high, left : left + wide]
            for top in range(0, rows - high + 1, high)
            for left in range(0, columns - wide + 1, wide)
        ]
        return [cut for cut in cuts if np.isfinite(self.light[cut]).all()]


def straightened(green: NDArray, view: View, lines: int, aspect: float = 4 / 3) -> Straight:
    """Return a photo straightened by a view.

    Parameters:  green : (rows, columns) linear light of the photo's green; lines : of one field
    """
    from scipy import ndimage

    pixels = view.lines_apart(lines)
    factor = max(1, int(pixels / 6))
    small, seen = (reduced(green, factor), view.reduced(factor)) if factor > 1 else (green, view)
    rows, columns = lines * ROWS_A_LINE, round(lines * aspect * _COLUMNS_A_LINE * _FINE)
    light = np.empty((rows, columns // _FINE), np.float32)
    band = 256
    for top in range(0, rows, band):
        v, u = np.meshgrid(
            (np.arange(top, min(top + band, rows)) + 0.5) / rows,
            (np.arange(columns) + 0.5) / columns,
            indexing="ij",
        )
        at = sampled(small, seen.to_photo(np.stack([u.ravel(), v.ravel()], axis=1))).reshape(v.shape)
        hole = ~np.isfinite(at)
        smooth = ndimage.gaussian_filter1d(np.where(hole, 0, at), _MASK * _COLUMNS_A_LINE * _FINE, axis=1)
        smooth[hole] = np.nan
        light[top : top + len(v)] = (
            smooth[:, : light.shape[1] * _FINE].reshape(len(v), -1, _FINE).mean(axis=2)
        )
    return Straight(light, lines, aspect, pixels)
