"""Whether a photo's light rises as that of a prediction: log curves, tone mapping, merged exposures show.

Over tiles, log(seen) = a + g log(predicted) + b r^2 by least squares, r the distance from the picture's
middle in picture heights (vignetting). g is 1 where light is as it was, about 1/2 where a log curve was read
as sRGB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LINEAR = (0.8, 1.25)
"""Exponents that are taken for 1: stray light and masks move it on clean photos."""

_DARK = 0.15
"""Tiles darker than this share of the brightest are left out: a little stray light weighs much in them."""
_FEWEST = 12
_SPAN = 0.3
"""Standard deviation of log(predicted) that is needed: a picture of one brightness tells no curve."""


@dataclass(frozen=True)
class Curve:
    """The exponent g, its standard error, and how many tiles it rests on."""

    exponent: float
    error: float
    tiles: int

    @property
    def linear(self) -> bool:
        """Whether it can be 1: within `LINEAR`, or not three standard errors out of it."""
        return LINEAR[0] - 3 * self.error < self.exponent < LINEAR[1] + 3 * self.error


def curve_of(seen: NDArray, predicted: NDArray, away: NDArray) -> Curve | None:
    """Return the curve of a photo; None where its tiles are too few or too much alike.

    Parameters:  seen, predicted : (tiles,) mean light of each; away : (tiles,) r^2
    """
    held = (predicted > _DARK * np.max(predicted)) & (seen > 0)
    if held.sum() < _FEWEST:
        return None
    x, y = np.log(predicted[held]), np.log(seen[held])
    if x.std() < _SPAN:
        return None
    terms = np.stack([x, np.ones_like(x), away[held]], axis=1)
    for _ in range(3):  # two thirds of the tiles settle it: overexposed and stray ones do not
        found = np.linalg.lstsq(terms, y, rcond=None)[0]
        off = np.abs(terms @ found - y)
        near = off <= max(3 * 1.4826 * float(np.median(off)), 1e-6)
        terms, y = terms[near], y[near]
    left = terms @ found - y
    square = float((left**2).sum()) / max(1, len(y) - 3)
    error = float(np.sqrt(square * np.linalg.pinv(terms.T @ terms)[0, 0]))
    return Curve(float(found[0]), error, len(y))
