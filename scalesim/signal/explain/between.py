"""Which of two predictions a photo lies nearer to, where the two differ.

What both leave unexplained says nothing of which is right: noise, the mask, a beam of another shape are in
both. So only the difference of the two is looked at. In each tile y = c + g (m + s d) is solved by least
squares, y what is seen, m the mean of both predictions and d the first less the second; with c, g and s, two
slopes of m (a place that is a little off) and its bend down (a beam that is a little wider) are free, so that
none of these can pass for a chain. s is +1/2 where the first made the photo and -1/2 where the second did.
This is the matched filter for a known difference in noise, with nuisances projected out (common practice;
S. M. Kay, "Fundamentals of Statistical Signal Processing: Detection Theory", 1998, chapter 7, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.explain.straight import TILE_SHAPE

ALIKE_OVER = 20.0
"""Pixels of a straightened photo of which one is independent: it has eight rows a line, and is blurred."""

MODEL = 0.3
"""Standard deviation of the share by what the model does not know: beams and masks of another shape."""

_MOST = 2.0
"""A tile's share counts no further out than this."""
_FEW, _PART = 4, 10
"""The greatest weight is that of the fourth tile, or the last of the first tenth: no tile alone decides."""


@dataclass(frozen=True)
class Between:
    """Where a photo lies between two predictions.

    Parameters:
        share : +1/2 at the first, -1/2 at the second, 0 half way; error : its standard error; tiles : n
    """

    share: float
    error: float
    tiles: int

    @property
    def likelihood(self) -> float:
        """Logarithm of how many times likelier the first made it: the share, at most 1/2, over its variance.

        The share is taken for a normal deviate about +1/2 or -1/2; to the tiles' own error comes `MODEL`.
        """
        return min(self.share, 0.5) / (self.error**2 + MODEL**2)


def between(first: NDArray, second: NDArray, seen: NDArray) -> Between:
    """Return where what is seen lies between two predictions.

    Parameters:  first, second, seen : (tiles, pixels) light, the pixels of tiles of `TILE_SHAPE`
    Standard error: the larger of the jackknife's over tiles and of what the light left over allows
    """
    one, other, y = (each.reshape(-1, *TILE_SHAPE).astype(np.float64) for each in (first, second, seen))
    m, d = (one + other) / 2, one - other
    down = np.gradient(m, axis=1)
    free = np.stack([m, np.ones_like(m), down, np.gradient(m, axis=2), np.gradient(down, axis=1)], axis=-1)
    free = free.reshape(len(m), -1, 5)
    gain, y = _without(free, y.reshape(len(m), -1))
    mixed, d = _without(free, d.reshape(len(m), -1))
    energy = (d * d).sum(axis=1)
    along = (y * d).sum(axis=1) / (energy + 1e-15)  # g s
    gain -= along * mixed  # what of the mean is in the difference
    left = ((y - along[:, None] * d) ** 2).mean(axis=1)
    lit = gain > 0
    if lit.sum() < 2:
        return Between(0.0, np.inf, int(lit.sum()))
    share = np.clip(along[lit] / gain[lit], -_MOST, _MOST)
    weight = energy[lit] * gain[lit] ** 2 / (left[lit] + 1e-12)
    least = float(np.sqrt(ALIKE_OVER / max(float(weight.sum()), 1e-9)))
    weight = np.minimum(weight, np.sort(weight)[-min(len(weight), max(_FEW, len(weight) // _PART))]) + 1e-15
    mean, spread = _jackknifed(share, weight)
    return Between(mean, max(spread, least), int(lit.sum()))


def _without(free: NDArray, values: NDArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the first coefficient of each tile's values on its free columns, and what those leave of it."""
    squares = np.einsum("tpi,tpj->tij", free, free)
    small = 1e-9 * np.trace(squares, axis1=1, axis2=2) + 1e-12
    squares += small[:, None, None] * np.eye(free.shape[2])
    found = np.linalg.solve(squares, np.einsum("tpi,tp->ti", free, values)[..., None])[..., 0]
    return found[:, 0], values - np.einsum("tpi,ti->tp", free, found)


def _jackknifed(values: NDArray, weights: NDArray) -> tuple[float, float]:
    """Return the weighted mean and its standard error by leaving out one value at a time."""
    count, total, whole = len(values), float((values * weights).sum()), float(weights.sum())
    mean = total / whole
    without = (total - values * weights) / (whole - weights)
    return mean, float(np.sqrt((count - 1) / count * ((without - mean) ** 2).sum()))
