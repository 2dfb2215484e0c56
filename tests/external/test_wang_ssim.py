"""`structural_similarity` and PSNR against Wang's settings and closed forms.

Source: Wang, Bovik, Sheikh, Simoncelli, "Image quality assessment: from error visibility to structural
similarity", IEEE Trans. Image Processing 13(4), 2004: 11x11 Gaussian window of sigma 1.5, K1 0.01,
K2 0.03, mean over the positions where the window fits. The settings are from memory; scikit-image's
documentation names the same ones as those of that paper. How got: scikit-image 0.26.0 from PyPI called
with them, a second computation written out here with SciPy 1.17.1, and closed forms that follow from
the definition for constant and for two-level pictures.
"""

from __future__ import annotations

import numpy as np
import pytest
from external.chains import Array
from skimage import data
from skimage.metrics import peak_signal_noise_ratio
from skimage.metrics import structural_similarity as scikit_ssim

from scalesim.core.affine import IDENTITY
from scalesim.core.geometry import Geometry
from scalesim.core.raster import Raster
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence
from scalesim.metrics.fidelity.likeness import psnr_db, structural_similarity

C1, C2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2


def ours(a: Array, b: Array) -> float:
    """Return our SSIM of two pictures in 8-bit codes."""
    return structural_similarity(a / 255.0, b / 255.0)


def by_scikit_image(a: Array, b: Array) -> float:
    return float(
        scikit_ssim(
            a.astype(float),
            b.astype(float),
            data_range=255,
            gaussian_weights=True,
            sigma=1.5,
            use_sample_covariance=False,
        )
    )


def written_out(a: Array, b: Array) -> float:
    """Return the published formula with its window, by SciPy's convolution where the window fits."""
    from scipy.signal import convolve2d

    line = np.exp(-(np.arange(-5, 6) ** 2) / (2 * 1.5**2))
    window = np.outer(line, line) / line.sum() ** 2

    def mean(x: Array) -> Array:
        return np.asarray(convolve2d(x, window, mode="valid"))

    ma, mb = mean(a), mean(b)
    va, vb, vab = mean(a * a) - ma * ma, mean(b * b) - mb * mb, mean(a * b) - ma * mb
    top = (2 * ma * mb + C1) * (2 * vab + C2)
    return float(np.mean(top / ((ma * ma + mb * mb + C1) * (va + vb + C2))))


def noisy_camera() -> tuple[Array, Array]:
    """Return scikit-image's `camera` and the same with noise N(0, 10), clipped and rounded to 8 bits."""
    clean = data.camera().astype(np.float64)
    noise = np.random.default_rng(0).normal(0, 10, clean.shape)
    return clean, np.clip(np.round(clean + noise), 0, 255)


def test_camera_with_noise() -> None:
    """0.606348, from scikit-image with the settings above, and the formula written out."""
    clean, noisy = noisy_camera()
    assert ours(clean, noisy) == pytest.approx(0.606348, abs=1e-6)
    assert ours(clean, noisy) == pytest.approx(by_scikit_image(clean, noisy), abs=1e-9)
    small = slice(100, 228)
    assert ours(clean[small], noisy[small]) == pytest.approx(
        written_out(clean[small], noisy[small]), abs=1e-6
    )


def test_other_settings_are_caught() -> None:
    """scikit-image's defaults (flat 7x7 window, sample covariance) give 0.609783 on the same pair."""
    clean, noisy = noisy_camera()
    default = float(scikit_ssim(clean, noisy, data_range=255))
    assert default == pytest.approx(0.609783, abs=1e-6)
    assert abs(ours(clean, noisy) - default) > 1e-3


def test_camera_lifted_and_inverted() -> None:
    """camera + 10 unclipped 0.971179; 255 - camera -0.094260: scikit-image with the settings above."""
    clean = data.camera().astype(np.float64)
    assert ours(clean, clean + 10) == pytest.approx(0.971179, abs=1e-6)
    assert ours(clean, 255 - clean) == pytest.approx(-0.094260, abs=1e-6)


@pytest.mark.parametrize(
    ("a", "b", "value"),
    [
        (100, 110, 0.995476444),
        (0, 10, 0.061054905),
        (0, 255, 0.000099990),
        (128, 64, 0.800063481),
        (16, 235, 0.135643202),
    ],
)
def test_constants(a: float, b: float, value: float) -> None:
    """Two flat pictures: (2ab + C1) / (a^2 + b^2 + C1)."""
    assert (2 * a * b + C1) / (a * a + b * b + C1) == pytest.approx(value, abs=1e-9)
    assert ours(np.full((32, 32), float(a)), np.full((32, 32), float(b))) == pytest.approx(value, abs=1e-6)


def checkerboard() -> Array:
    """Return 28 and 228 in turn: under any such window the mean is 128 and the variance 10000, nearly."""
    return 128.0 + 100.0 * (1 - 2 * (np.indices((48, 48)).sum(axis=0) % 2))


@pytest.mark.parametrize(("gain", "value"), [(0.5, 0.800931997), (-1.0, -0.994164825), (1.0, 1.0)])
def test_contrast(gain: float, value: float) -> None:
    """Contrast g about the mean: (2 g s^2 + C2) / ((1 + g^2) s^2 + C2), s^2 = 10000; g = -1 inverts."""
    board = checkerboard()
    assert (2 * gain * 1e4 + C2) / ((1 + gain**2) * 1e4 + C2) == pytest.approx(value, abs=1e-9)
    assert ours(board, 128 + gain * (board - 128)) == pytest.approx(value, abs=1e-6)


def psnr(a: Array, b: Array) -> float:
    """Return our PSNR of two grey pictures in 8-bit codes, the second one being what landed."""
    raster = Raster(*a.shape)
    grey = [np.repeat(x[:, :, None] / 255.0, 3, axis=2) for x in (a, b)]
    geometry = Geometry.of_source(raster)
    assert geometry.samples == IDENTITY
    return psnr_db(Evidence(grey[0], raster, (grey[1],), grey[1], raster, geometry))[0]


@pytest.mark.parametrize(("error", "decibels"), [(1, 48.1308), (2, 42.1102), (5, 34.1514), (10, 28.1308)])
def test_psnr_of_a_uniform_error(error: float, decibels: float) -> None:
    """10 log10(255^2 / MSE) = 20 log10(255 / error)."""
    flat = np.full((64, 64), 100.0)
    assert psnr(flat, flat + error) == pytest.approx(decibels, abs=1e-4)


def test_psnr_of_camera_with_noise() -> None:
    """28.2273 dB by scikit-image, FFmpeg and ImageMagick; ours may first move the reference a hair."""
    clean, noisy = noisy_camera()
    assert float(peak_signal_noise_ratio(clean, noisy, data_range=255)) == pytest.approx(28.2273, abs=1e-4)
    assert psnr(clean, noisy) == pytest.approx(28.2273, abs=1e-4)


def test_equal_pictures_have_no_ratio_and_small_ones_no_window() -> None:
    """An infinite ratio is not a number; a picture below 11 lines holds no window."""
    flat = np.full((64, 64), 100.0)
    with pytest.raises(NotMeasurable):
        psnr(flat, flat)
    with pytest.raises(NotMeasurable):
        ours(flat[:10], flat[:10])
