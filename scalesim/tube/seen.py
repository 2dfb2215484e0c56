"""The picture at the shape of the tube: whole lines, nearest neighbour, no beam and no blur."""

from __future__ import annotations

from fractions import Fraction
from math import ceil

import numpy as np
from numpy.typing import NDArray

from scalesim.core.raster import Raster, visible_slices

_TARGET_HEIGHT = 960
"""Tall enough to see single lines (4 dots each of 240), small enough for a page."""


def seen(landed: NDArray, raster: Raster, tube: Fraction) -> NDArray:
    """Return what the tube shows of the landed picture, enlarged to the tube's shape.

    Only the visible window is shown. Every line is the same whole number of dots tall: the number that
    comes nearest to 960 dots in all, or more where the lines would else have fewer dots than samples,
    so that no sample is left out. Along the lines the nearest sample is shown.

    Parameters:  landed : (landed_lines, samples, 3); tube : width over height
    Returns:     (height, width, 3), same dtype
    """
    lines, samples = visible_slices(raster, landed.shape[0], landed.shape[1])
    picture = landed[lines, samples]
    every_sample = ceil(picture.shape[1] / (picture.shape[0] * float(tube)) - 1e-9)
    height_of_line = max(1, round(_TARGET_HEIGHT / picture.shape[0]), every_sample)
    height = picture.shape[0] * height_of_line
    width = max(1, round(height * float(tube)))
    columns = ((np.arange(width) + 0.5) * picture.shape[1] / width).astype(np.int64)
    return np.repeat(picture[:, columns], height_of_line, axis=0)
