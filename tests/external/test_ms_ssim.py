"""`multi_scale_similarity` against two independent computations.

Source: Wang, Simoncelli, Bovik, "Multi-scale structural similarity for image quality assessment",
Asilomar 2003; the weights from several public implementations, the 2x2 mean and decimation as the
authors' later code has it (from memory). How got: the package sewar 0.4.10 from PyPI, an independent
implementation on SciPy's 2-D convolution, and the formula written out here with SciPy 1.17.1. sewar
pairs lines -1 and 0, 1 and 2 ... where this project pairs 0 and 1, 2 and 3 ...: on a picture turned
by 180 degrees, of sides that stay odd at each halving, the two are the same, and are compared there.
"""

from __future__ import annotations

import numpy as np
import pytest
from external.chains import Array
from scipy.ndimage import gaussian_filter

from scalesim.metrics.fidelity.ms_ssim import multi_scale_similarity

WEIGHTS = (0.0448, 0.2856, 0.3001, 0.2363, 0.1333)
ODD = (16 * 11 + 1, 16 * 12 + 1)


def pictures(shape: tuple[int, int], seed: int) -> tuple[Array, Array]:
    """Return a picture with detail at all scales, and a blurred and noisy one of it, 0..1."""
    random = np.random.RandomState(seed)
    noise = sum(gaussian_filter(random.rand(*shape), s) * s for s in (1, 2, 4, 8))
    clean = (noise - noise.min()) / np.ptp(noise)
    return clean, np.clip(gaussian_filter(clean, 1.0 + seed) + random.normal(0, 0.03, shape), 0, 1)


def written_out(a: Array, b: Array) -> float:
    """Return the product as published (2003, above), each mean by an 11x11 convolution where it fits."""
    from scipy.signal import convolve2d

    line = np.exp(-(np.arange(-5, 6) ** 2) / (2 * 1.5**2))
    window = np.outer(line, line) / line.sum() ** 2
    product = 1.0
    for scale, weight in enumerate(WEIGHTS):

        def mean(x: Array) -> Array:
            return np.asarray(convolve2d(x, window, mode="valid"))

        ma, mb = mean(a), mean(b)
        va, vb, vab = mean(a * a) - ma * ma, mean(b * b) - mb * mb, mean(a * b) - ma * mb
        terms = (2 * vab + 9e-4) / (va + vb + 9e-4)
        if scale == len(WEIGHTS) - 1:
            terms = terms * (2 * ma * mb + 1e-4) / (ma * ma + mb * mb + 1e-4)
        product *= float(terms.mean()) ** weight
        a, b = (x[: len(x) // 2 * 2, : x.shape[1] // 2 * 2] for x in (a, b))
        a, b = (x.reshape(len(x) // 2, 2, -1, 2).mean(axis=(1, 3)) for x in (a, b))
    return product


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_against_sewar(seed: int) -> None:
    """The same within 1e-5 when both pair the same lines."""
    full_ref = pytest.importorskip("sewar.full_ref")
    a, b = pictures(ODD, seed)
    other = float(full_ref.msssim(a[::-1, ::-1].copy(), b[::-1, ::-1].copy(), MAX=1.0))
    assert multi_scale_similarity(a, b) == pytest.approx(other, abs=1e-5)
    # as they stand, other lines are paired: near, and no more
    assert multi_scale_similarity(a, b) == pytest.approx(float(full_ref.msssim(a, b, MAX=1.0)), abs=0.02)


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_against_the_formula(seed: int) -> None:
    """Sides that halve evenly four times: within 1e-5 of the formula written out."""
    a, b = pictures((16 * 12, 16 * 15), seed)
    assert multi_scale_similarity(a, b) == pytest.approx(written_out(a, b), abs=1e-5)


def test_another_variant_is_caught() -> None:
    """Guard: decimation without the mean, and weights in reverse, are not what is computed."""
    a, b = pictures((16 * 12, 16 * 15), 1)
    right = multi_scale_similarity(a, b)
    assert (
        abs(multi_scale_similarity(np.kron(a, np.ones((2, 2))), np.kron(b, np.ones((2, 2)))) - right) > 1e-3
    )
    assert abs(written_out(a + 0.1, b) - right) > 1e-3
