"""The two terms of SSIM over Gaussian windows: what SSIM and MS-SSIM are means of.

Wang, Bovik, Sheikh, Simoncelli, IEEE Trans. Image Processing 13(4), 2004: a window of 11x11 with sigma 1.5,
K1 0.01, K2 0.03. A window's mean is the product with one banded matrix down and one along, cut into blocks
of outputs with only what they look at: in float64 half the time of scikit-image, and equal to it within
1e-9. Float32 takes half of that again; a flat window far from the common level is then off by up to 1e-4.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

WINDOW = 11
_SIGMA, _C1, _C2 = 1.5, 0.01**2, 0.03**2
_BLOCK = 32
"""Outputs of a block: each looks at 11 inputs of the block's 42."""


def similarity_terms(reference: NDArray, test: NDArray) -> tuple[float, float]:
    """Return the means of SSIM (l cs) and of cs over the places where the window fits.

    Parameters:  reference, test : (lines, samples) of data range 1, at least 11 of each, both float32 or both
        float64, in which it is computed
    """
    # about the common level, so that squares do not swallow small variances
    level = 0.5 * (float(reference.mean()) + float(test.mean()))
    values = np.empty((4, *reference.shape), reference.dtype)
    a, b, squares, product = values
    np.subtract(reference, level, out=a)
    np.subtract(test, level, out=b)
    np.multiply(a, a, out=squares)
    squares += b * b
    np.multiply(a, b, out=product)
    mean_a, mean_b, squares, product = _window_means(values)
    product -= mean_a * mean_b
    squares -= mean_a * mean_a
    squares -= mean_b * mean_b
    structure = (2 * product + _C2) / (squares + _C2)
    mean_a += level
    mean_b += level
    brightness = (2 * mean_a * mean_b + _C1) / (mean_a * mean_a + mean_b * mean_b + _C1)
    both = structure * brightness
    return float(both.mean(dtype=np.float64)), float(structure.mean(dtype=np.float64))


def _window_means(values: NDArray) -> NDArray:
    """Return the Gaussian-weighted means over the window of (kinds, lines, samples), 10 fewer of either."""
    kinds, lines, samples = values.shape
    weights, reach = _weights().astype(values.dtype), WINDOW - 1
    down = np.empty((kinds, lines - reach, samples), values.dtype)
    for first in range(0, lines - reach, _BLOCK):
        size = min(_BLOCK, lines - reach - first)
        looked_at = values[:, first : first + size + reach]
        np.matmul(weights[:size, : size + reach], looked_at, out=down[:, first : first + size])
    means = np.empty((kinds, lines - reach, samples - reach), values.dtype)
    across = np.ascontiguousarray(weights.T)
    for first in range(0, samples - reach, _BLOCK):
        size = min(_BLOCK, samples - reach - first)
        means[..., first : first + size] = (
            down[..., first : first + size + reach] @ across[: size + reach, :size]
        )
    return means


def _weights() -> NDArray[np.float64]:
    """Return the matrix of a block, (outputs, inputs)."""
    taps = np.exp(-((np.arange(WINDOW) - WINDOW // 2) ** 2) / (2 * _SIGMA**2))
    weights = np.zeros((_BLOCK, _BLOCK + WINDOW - 1))
    for output in range(_BLOCK):
        weights[output, output : output + WINDOW] = taps / taps.sum()
    return weights
