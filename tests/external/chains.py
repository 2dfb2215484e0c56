"""What the outside checks share: pictures to send through a chain, and the chain's matrix of lines.

Pictures here are (lines, samples) grey in float64, so that what is left of a difference is the other
library's own rounding.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.raster import Raster

Array = NDArray[Any]


def noise(lines: int, samples: int, seed: int = 0) -> Array:
    """Return random grey values 0..1: nothing in it is alike, so a tap in a wrong place shows."""
    return np.random.RandomState(seed).uniform(0.0, 1.0, (lines, samples))


def through(text: str, grey: Array, phase: int = 0) -> Array:
    """Return picture number `phase` of a still grey frame after the linear stages of a chain."""
    operator = Chain(text).operator(Raster(*grey.shape))
    return operator(grey[:, :, None], phase)[:, :, 0]


def line_weights(text: str, lines: int, phase: int = 0) -> Array:
    """Return the dense matrix (lines out, lines in) of a chain on a progressive raster of `lines`."""
    operator = Chain(text).operator(Raster(lines, 16))
    matrix = operator.phases[phase % operator.period].lines
    assert matrix is not None
    return matrix.toarray()


def chosen_lines(text: str, lines: int, phase: int = 0) -> list[int]:
    """Return which input line each output line of a chain of pure choices is."""
    weights = line_weights(text, lines, phase)
    assert np.all(np.sort(weights, axis=1)[:, -2:] == (0.0, 1.0))
    return [int(column) for column in weights.argmax(axis=1)]


def largest_difference(a: Array, b: Array) -> float:
    """Return max |a - b| of two arrays of one shape."""
    assert a.shape == b.shape
    return float(np.max(np.abs(np.asarray(a, dtype=np.float64) - b)))
