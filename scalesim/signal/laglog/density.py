"""How likely readings are under each shape of spread, as log densities per ms.

Each reading is known to a step q of the instrument only, so a density is the probability of its step, divided
by q. A share of `ASTRAY` of the readings may be anything (a flash that was missed, a slip of the pen): they
lie flat over the range of the readings, at least two frames.
"""

from __future__ import annotations

from math import log, sqrt

import numpy as np
from numpy.typing import NDArray

ASTRAY = 0.05
LEAST_NOISE_MS = 0.01
"""No bench reads lag better than this; it keeps densities finite where all readings are equal."""


def normal(offset: NDArray, spread: float, step: float) -> NDArray:
    """Return the density of normal readings at an offset from their middle.

    Parameters:  offset : ms; spread : standard deviation, ms; step : of the readings, ms
    """
    if step < spread / 4:
        wide = sqrt(spread**2 + step**2 / 12)
        return np.exp(-0.5 * (offset / wide) ** 2) / (wide * sqrt(2 * np.pi))
    from scipy.special import ndtr

    found: NDArray = (ndtr((offset + step / 2) / spread) - ndtr((offset - step / 2) / spread)) / step
    return found


def flat(offset: NDArray, width: float, edge: float, step: float) -> NDArray:
    """Return the density of readings anywhere in 0..width, the edges softened by noise.

    Parameters:  offset : ms from the low end; edge : standard deviation of the noise, ms
    """
    from scipy.special import ndtr

    soft = sqrt(edge**2 + step**2 / 12)
    found: NDArray = (ndtr(offset / soft) - ndtr((offset - width) / soft)) / width
    return found


def log_likelihood(density: NDArray, reach: float) -> float:
    """Return the log likelihood of readings with these densities, some of them astray over `reach` ms."""
    return float(np.log((1 - ASTRAY) * density + ASTRAY / reach).sum())


def bic(found: float, parameters: float, count: int) -> float:
    """Return the Bayesian information criterion (Schwarz 1978): less is better."""
    return parameters * log(max(count, 2)) - 2 * found
