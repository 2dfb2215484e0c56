"""MS-SSIM: identities of its parts, what it does to a picture that gets worse, and reasons for none."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of, grey
from metrics.slants import Array
from scipy.ndimage import gaussian_filter
from skimage.metrics import structural_similarity as scikit_ssim

from scalesim.errors import NotMeasurable
from scalesim.metrics.fidelity.ms_ssim import (
    LEAST_SIDE,
    WEIGHTS,
    halved,
    ms_ssim,
    multi_scale_similarity,
)
from scalesim.metrics.fidelity.windows import similarity_terms


@pytest.fixture(scope="module")
def scene() -> Array:
    """Smooth noise with detail at every scale, 0..1."""
    random = np.random.RandomState(4)
    layers = [gaussian_filter(random.rand(240, 320), s) * s for s in (1, 2, 4, 8, 16)]
    noise = np.sum(layers, axis=0)
    return np.asarray((noise - noise.min()) / np.ptp(noise))


def test_one_scale_is_ssim(scene: Array) -> None:
    """Its l cs is SSIM, by scikit-image with Wang's settings, also of sizes that are no whole blocks."""
    other = gaussian_filter(scene, 1.0)
    for part in (np.s_[:, :], np.s_[:11, :11], np.s_[:53, 3:78], np.s_[:42, :43]):
        a, b = scene[part], other[part]
        settings = {"gaussian_weights": True, "sigma": 1.5, "use_sample_covariance": False}
        expected = scikit_ssim(a, b, data_range=1.0, **settings)
        assert similarity_terms(a, b)[0] == pytest.approx(expected, abs=1e-9)


def test_cs_leaves_the_level_out(scene: Array) -> None:
    """Added light changes l, not cs."""
    both, structure = similarity_terms(scene, scene + 0.2)
    assert structure == pytest.approx(1, abs=1e-6)
    assert both < 0.95


def test_equal_pictures_are_one_and_worse_ones_less(scene: Array) -> None:
    """1 for itself; falling with blur and with noise."""
    assert multi_scale_similarity(scene, scene) == pytest.approx(1, abs=1e-6)
    noise = np.random.RandomState(0).normal(0, 1, scene.shape)
    for worse in (lambda a: gaussian_filter(scene, a), lambda a: scene + 0.02 * a * noise):
        found = [multi_scale_similarity(scene, worse(amount)) for amount in (0.5, 1.0, 2.0, 4.0)]
        assert found == sorted(found, reverse=True)
        assert found[-1] < 0.97


def test_flat_pictures_by_closed_form() -> None:
    """cs is 1 on flats; what is left is l of the last scale, (2ab + C1)/(a^2 + b^2 + C1), to its weight."""
    a, b, c1 = 100 / 255, 64 / 255, 1e-4
    expected = ((2 * a * b + c1) / (a * a + b * b + c1)) ** 0.1333
    found = multi_scale_similarity(np.full((176, 200), a), np.full((176, 200), b))
    # of a flat, float32 leaves about 1e-6 of C2 at every scale; how much depends on the processor
    assert found == pytest.approx(expected, abs=1e-5)


def test_negative_structure_is_zero_not_a_complex_number(scene: Array) -> None:
    """A negative has no structure in common."""
    assert multi_scale_similarity(scene, 1 - scene) == 0


def test_weights_and_halving() -> None:
    """The published weights sum to 1.0001; an odd last line is paired with itself."""
    assert sum(WEIGHTS) == pytest.approx(1.0001, abs=1e-12)
    assert halved(np.arange(6.0).reshape(2, 3)).tolist() == [[2.0, 3.5]]
    assert halved(np.arange(3.0)[:, None]).tolist() == [[0.5], [2.0]]


def test_smallest_picture() -> None:
    """176 is the least side for an 11-line window after four halvings."""
    assert LEAST_SIDE == 176
    small = np.random.RandomState(0).rand(LEAST_SIDE - 1, 300)
    with pytest.raises(NotMeasurable, match="at least 176"):
        multi_scale_similarity(small, small)
    assert (
        multi_scale_similarity(np.pad(small, ((0, 1), (0, 0))), np.pad(small, ((0, 1), (0, 0)))) <= 1 + 1e-6
    )


def test_of_a_chain() -> None:
    """The ideal's own scaler reads 1, a drop less, a small raster has a reason."""
    random = gaussian_filter(np.random.RandomState(11).rand(720, 640), 0.7)
    frame = np.repeat(((random - random.min()) / np.ptp(random))[:, :, None], 3, axis=2)
    ideal = ms_ssim(evidence_of(frame, "line-average lines=240 encoding=light"))[0]
    assert ideal == pytest.approx(1, abs=1e-5)
    assert ms_ssim(evidence_of(frame, "line-drop lines=240"))[0] < 0.99
    with pytest.raises(NotMeasurable):
        ms_ssim(evidence_of(grey(np.linspace(0, 1, 480)), "line-drop lines=120"))
