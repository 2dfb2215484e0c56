"""Strips: means along the line over 1/240 of the width, the same in source and output.

They beat noise and keep slanted detail apart; every metric that follows edges or outlines uses them.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import IDENTITY, Affine

Array = NDArray[Any]

STRIPS = 240
"""Strips over the width of the picture: 8 samples of 1920."""


def strip_width(samples: int) -> int:
    """Return the samples of one strip of a source line."""
    return max(1, round(samples / STRIPS))


def source_strips(luma: Array) -> Array:
    """Return the means along the line of a (lines, samples) picture, (lines, strips) float32.

    Samples left over at the right are dropped.
    """
    width = strip_width(luma.shape[1])
    count = luma.shape[1] // width
    return _means(luma[:, : count * width], width)


def _means(luma: Array, width: int) -> Array:
    """Return the means of `width` samples in a row; the samples are a multiple of it."""
    whole = np.ascontiguousarray(luma, dtype=np.float32)
    if width == 1:
        return whole
    # a product with equal weights: several times faster than a mean over so short an axis
    means = whole.reshape(-1, width) @ np.full(width, 1 / width, np.float32)
    return means.reshape(len(luma), luma.shape[1] // width)


def landed_strips(luma: Array, samples: Affine, width: int, strips: range) -> Array:
    """Return the same strips on an output picture: exact means over the samples each strip covers.

    Parameters:  luma : (lines, samples); samples : map of its samples to the source's;
                 width : samples of a strip of the source; strips : which strips
    Returns:     (lines, strips) float32
    """
    if samples == IDENTITY and strips.stop * width <= luma.shape[1]:
        return _means(luma[:, strips.start * width : strips.stop * width], width)
    edges = np.arange(strips.start, strips.stop + 1) * float(width)
    places = np.clip((edges - samples.offset) / samples.scale, 0, luma.shape[1])
    running = np.zeros((luma.shape[0], luma.shape[1] + 1))
    np.cumsum(luma, axis=1, out=running[:, 1:])
    whole = np.minimum(places.astype(np.int64), luma.shape[1] - 1)
    part = places - whole
    at_edges = running[:, whole] * (1 - part) + running[:, whole + 1] * part
    means: Array = np.diff(at_edges, axis=1) / np.maximum(np.diff(places), 1e-9)
    return means.astype(np.float32)
