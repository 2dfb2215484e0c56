"""Fidelity: the ideal follows the chain's geometry, and what is left over is found and removed."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of, grey
from scipy.ndimage import gaussian_filter, shift

from scalesim.errors import NotMeasurable
from scalesim.metrics.fidelity.likeness import displacement_lines, psnr_db, ssim
from scalesim.metrics.fidelity.reference import vertical_shift


@pytest.fixture(scope="module")
def scene() -> np.ndarray:
    """A smooth random frame with detail in all directions."""
    noise = gaussian_filter(np.random.RandomState(11).rand(720, 640), 3)
    noise = (noise - noise.min()) / np.ptp(noise)
    return np.repeat(noise[:, :, None], 3, 2).astype(np.float32)


def test_area_mean_in_light_is_its_own_ideal(scene: np.ndarray) -> None:
    """The ideal is the area mean in light, so that chain equals it and PSNR has no value."""
    evidence = evidence_of(scene, "line-average lines=240 encoding=light")
    assert ssim(evidence)[0] == pytest.approx(1, abs=1e-6)
    with pytest.raises(NotMeasurable, match="infinite"):
        psnr_db(evidence)


@pytest.mark.parametrize(
    "placing", ["position lines=7.5", "size height=90 width=95", "fit how=letterbox", "fit how=crop"]
)
def test_placement_is_not_mistaken_for_quality(scene: np.ndarray, placing: str) -> None:
    """Moved or shrunk before the same scaler, the picture stays as like its ideal as before."""
    plain = ssim(evidence_of(scene, "line-average lines=240 encoding=light"))[0]
    placed = ssim(evidence_of(scene, f"{placing}, line-average lines=240 encoding=light"))[0]
    assert placed > plain - 0.01


def test_a_worse_scaler_is_less_like_the_ideal(scene: np.ndarray) -> None:
    """A blur far wider than the span costs likeness: the measure can fall."""
    good = ssim(evidence_of(scene, "line-average lines=240"))[0]
    bad = ssim(
        evidence_of(scene, "flicker-filter taps=1/1/1/1/1/1/1/1/1/1/1/1/1/1/1, line-average lines=240")
    )[0]
    assert bad < good - 0.01


@pytest.mark.parametrize("by", [-1.6, -0.5, 0.0, 0.25, 0.75, 2.2])
def test_vertical_shift_recovers_a_known_one(by: float) -> None:
    """Against scipy.ndimage.shift (cubic spline): positive is lower, within 0.02 line."""
    picture = gaussian_filter(np.random.RandomState(2).rand(120, 200), 2.0)
    picture = (picture - picture.min()) / np.ptp(picture)
    moved = shift(picture, (by, 0), order=3, mode="nearest")
    assert vertical_shift(picture, moved) == pytest.approx(by, abs=0.02)
    assert vertical_shift(moved, picture) == pytest.approx(-by, abs=0.02)


def test_no_detail_no_shift() -> None:
    """A flat picture cannot be registered, and says so."""
    with pytest.raises(NotMeasurable, match="no vertical detail"):
        displacement_lines(evidence_of(grey(np.full(720, 0.4)), "line-drop lines=240"))


def test_small_pictures_have_no_ssim() -> None:
    """Below the window's 11 lines there is a reason instead of a number."""
    with pytest.raises(NotMeasurable, match="window is 11"):
        ssim(evidence_of(np.zeros((8, 8, 3)), "line-drop lines=8"))


def test_nothing_left_is_no_likeness() -> None:
    """A picture pushed out altogether has a reason instead of a perfect score."""
    with pytest.raises(NotMeasurable, match="nothing of the picture is visible"):
        ssim(evidence_of(grey(np.full(720, 0.5)), "position lines=720"))


@pytest.mark.parametrize(
    "chain", ["line-drop lines=240", "line-average lines=240 phase=100", "position lines=40"]
)
def test_edges_of_the_raster_are_not_judged(chain: str) -> None:
    """White stays white: lines a scaler repeats, and bars beside the picture, cost no likeness."""
    assert ssim(evidence_of(grey(np.ones(720)), chain))[0] == pytest.approx(1, abs=1e-6)


def test_the_same_picture_has_the_same_likeness() -> None:
    """Of lines in threes, four chains give one and the same picture, and so one score."""
    frame = grey(np.repeat(np.random.RandomState(6).rand(240), 3))
    chains = (
        "line-drop lines=240 phase=1",
        "line-average lines=240",
        "line-average lines=480, line-drop lines=240 phase=1",
        "resample lines=240 phase=1/2 antialias=off",
    )
    for chain in chains:
        assert ssim(evidence_of(frame, chain))[0] == pytest.approx(1, abs=1e-6), chain


def test_a_drops_phase_is_displacement(scene: np.ndarray) -> None:
    """The first of three lines shows the picture a third of an output line lower, the last higher."""
    found = [displacement_lines(evidence_of(scene, f"line-drop lines=240 phase={p}"))[0] for p in range(3)]
    assert found == pytest.approx([1 / 3, 0, -1 / 3], abs=0.03)
