"""Sharpness along a line, from the rated TV lines.

N TV lines per picture height are N black and white lines in a length equal to the picture's height:
N/2 cycles per picture height (definition). A rating is where the lines of a chart can just be told
apart; this is taken here as a modulation of 10 %, common practice, no published source. Electron beam
and amplifier together are taken as a Gaussian in light, exp(-2 pi^2 sigma^2 f^2), which is 10 % at
f = 0.3415411 / sigma.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from scalesim.tube.bands import Block, blocks_of

RATED_MODULATION = 0.10
"""Modulation of a sine at the rated TV lines over that of a flat field."""

_REACH = 5.0


def response_sigma(tv_lines: float) -> float:
    """Return the standard deviation of the Gaussian in picture heights."""
    return math.sqrt(-2.0 * math.log(RATED_MODULATION)) / (2.0 * math.pi * tv_lines / 2.0)


def response_blocks(samples: int, edges: NDArray, sigma: float) -> list[Block]:
    """Return the blocks that turn the samples of a line into dots.

    A sample is held over its own length (a box), blurred by the Gaussian and averaged over each dot,
    all exactly; beyond the ends of the line there is no light.

    Parameters:  edges : (dots + 1,) edges of the dots in samples; sigma : in samples
    """
    middles = (edges[1:] + edges[:-1]) / 2
    reach = _REACH * sigma + (edges[1] - edges[0]) / 2 + 0.5
    columns = np.floor(middles - reach)[:, None].astype(np.int64) + np.arange(int(2 * reach) + 2)
    far, near = edges[1:, None] - columns, edges[:-1, None] - columns
    total = _ramp(far, sigma) - _ramp(near, sigma) - _ramp(far - 1, sigma) + _ramp(near - 1, sigma)
    return blocks_of(columns, total / (edges[1:] - edges[:-1])[:, None], samples)


def _ramp(distance: NDArray, sigma: float) -> NDArray:
    """Return the integral of the Gaussian's integral: x Phi(x / sigma) + sigma^2 density(x)."""
    from scipy.special import ndtr

    z = distance / sigma
    ramp: NDArray = distance * ndtr(z) + sigma / math.sqrt(2.0 * math.pi) * np.exp(-0.5 * z**2)
    return ramp
