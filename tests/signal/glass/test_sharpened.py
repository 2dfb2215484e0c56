"""Lines that fall off faster than beams: closed forms, and OpenCV's unsharp mask."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from scipy.stats import norm

from scalesim.signal.glass.profile import BINS, Profile
from scalesim.signal.glass.sharpened import LEAST, harmonics

PLACES = (np.arange(BINS) + 0.5) / BINS - 0.5


def beam(*sigmas: float) -> np.ndarray:
    """Light of a comb of Gaussian lines over one pitch, equal parts of each width."""
    return np.mean(
        [norm.pdf(PLACES[:, None] + np.arange(-4, 5), scale=s).sum(axis=1) for s in sigmas], axis=0
    )


def profile(light: np.ndarray) -> Profile:
    return Profile(tuple(light), 1.0, None, 0.9, 10_000, 0.0)


def test_a_gaussian_beam_has_its_harmonics() -> None:
    found = harmonics([profile(beam(0.18))])
    assert found is not None
    assert found.first == pytest.approx(2 * np.exp(-2 * np.pi**2 * 0.18**2), rel=1e-3)
    assert found.ratio == pytest.approx(1, abs=0.01)


def test_a_mixture_of_beams_has_more_and_a_sharpened_one_less() -> None:
    mixed = harmonics([profile(beam(0.12, 0.2, 0.25))])
    assert mixed is not None and mixed.ratio > 1.05
    fine = np.tile(beam(0.18), 9).astype(np.float32)[:, None]  # 8 pixels a line, five samples a pixel
    sharp = fine + 0.6 * (fine - cv2.GaussianBlur(fine, (1, 0), sigmaX=0.01, sigmaY=6.0))
    found = harmonics([profile(sharp[4 * BINS : 5 * BINS, 0].clip(0))])
    assert found is not None and found.ratio < LEAST


def test_fat_lines_tell_nothing() -> None:
    assert harmonics([profile(beam(0.3))]) is None and harmonics([]) is None
