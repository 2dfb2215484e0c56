"""How sure it is that one prediction explains a photo better than another.

Tile by tile, the logarithm of what one leaves over what the other leaves; its mean over the tiles in
standard errors, z. What is left is alike over neighbours and partly the model's own fault, so z is not the
normal deviate it would be of independent noise: it is divided by `SCALE` before the normal law makes it a
chance, and no odds above `MOST` are stated. Both were set so that on simulated photos (another camera than
this package's, in its tests) the odds that were stated were not more than what came true: of 11 the right
one of six predictions came first in 11, where the odds stated allow two that are wrong.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.explain.fit import EQUAL

SCALE, MOST = 2.0, 20.0
CLEAR = 3.0
"""Odds below which two predictions are not told apart."""

UNEXPLAINED = 0.25
"""Share of the tiles' variance that the best prediction may leave and still be called an explanation."""


def deviations(better: NDArray, worse: NDArray) -> float:
    """Return the mean log ratio of what two predictions leave in each tile, in standard errors.

    Parameters:  better, worse : (tiles,) mean squares left
    """
    ratio = np.log((worse + EQUAL) / (better + EQUAL))
    error = float(ratio.std(ddof=1)) / math.sqrt(len(ratio))
    return float(ratio.mean()) / error if error > 1e-9 else 0.0


def odds_of(better: NDArray, worse: NDArray) -> float:
    """Return the odds, to 1, that the first explains the photo better than the second: 1 to `MOST`."""
    z = deviations(better, worse) / SCALE
    chance = 0.5 * math.erfc(z / math.sqrt(2))
    return min(MOST, max(1.0, (1 - chance) / max(chance, 1e-12)))
