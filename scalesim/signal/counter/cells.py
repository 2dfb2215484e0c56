"""Where the chart's cells lie along a captured line, and their levels line by line.

A capture's line is the source's, enlarged or reduced and moved: sample = middle + scale * (unit - 960). Each
cell is read at three places, its centre and 0.18 cell to either side, so that neither the blur of its edges
nor an error of a fifth of a cell in the map counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.counter.code import COPIES
from scalesim.charts.counter.layout import CELL, STRIP, UNITS, guard_levels, strip_centres

_AROUND = (-0.18, 0.0, 0.18)
_WIDE = 6.0
"""Samples of a cell from which on the nearest sample will do."""
_WHITE, _BLACK = guard_levels()


@dataclass(frozen=True)
class LineMap:
    """Where the chart lies along the lines of a capture: `middle` in samples, `scale` in samples per unit."""

    middle: float
    scale: float

    def places(self, units: NDArray) -> NDArray[np.float64]:
        """Return places in samples, edges at integers."""
        return np.asarray(self.middle + self.scale * (np.asarray(units, float) - UNITS / 2))


class CellReader:
    """Reads the levels of all cells of a picture.

    Parameters:  place : the map; samples : of a captured line
    """

    def __init__(self, place: LineMap, samples: int) -> None:
        centres = place.places(strip_centres().ravel()) - 0.5
        at = centres[:, None] + place.scale * CELL * np.array(_AROUND)
        if place.scale * CELL >= _WIDE:
            columns, weights = np.round(at), np.full(at.shape, 1 / len(_AROUND))
        else:
            left = np.floor(at)
            columns = np.concatenate([left, left + 1], axis=1)
            weights = np.concatenate([1 - (at - left), at - left], axis=1) / len(_AROUND)
        self._columns = np.clip(columns, 0, samples - 1).astype(np.intp).T.copy()
        self._weights = weights.T.astype(np.float32)

    def __call__(self, luma: NDArray[np.uint8]) -> NDArray[np.float32]:
        """Return the levels in codes, (lines, 2, 28) float32, of a picture's (lines, samples) luma."""
        taken = luma[:, self._columns.ravel()].reshape(luma.shape[0], *self._columns.shape)
        levels = np.einsum("ltc,tc->lc", taken, self._weights, dtype=np.float32, casting="unsafe")
        return levels.reshape(-1, COPIES, STRIP)


def guards(levels: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the white and the black of every line and copy, (lines, 2) each."""
    return levels[..., _WHITE].mean(axis=-1), levels[..., _BLACK].mean(axis=-1)


def inner(levels: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the levels of the code's cells alone, (..., 24)."""
    return levels[..., 2:-2]
