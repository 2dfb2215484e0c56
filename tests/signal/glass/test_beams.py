"""What beams that overlap do to widths and centres of light, against sums of Gaussians by SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.stats import norm

from scalesim.signal.glass.fit import _common
from scalesim.signal.glass.jitter import response
from scalesim.signal.glass.profile import FWHM, beam_of, without_camera


def _sum(x: float, sigma: float) -> float:
    return float(sum(norm.pdf(x - k, scale=sigma) for k in range(-4, 5)))


@pytest.mark.parametrize("sigma", [0.12, 0.18, 0.24, 0.28])
def test_the_width_of_a_sum_of_beams_gives_one_beam_s(sigma: float) -> None:
    half = brentq(lambda x: _sum(x, sigma) - _sum(0, sigma) / 2, 1e-3, 0.5)
    assert beam_of(2 * half) == pytest.approx(sigma, abs=0.001)
    blurred = np.hypot(sigma, 0.9 / 12)
    if blurred < 0.29:
        half = brentq(lambda x: _sum(x, blurred) - _sum(0, blurred) / 2, 1e-3, 0.5)
        assert without_camera(2 * half, 12.0, 0.9) == pytest.approx(FWHM * sigma, abs=0.004)


@pytest.mark.parametrize("sigma", [0.15, 0.2, 0.25, 0.32])
def test_centres_of_light_go_as_far_as_said(sigma: float) -> None:
    rng = np.random.RandomState(1)
    moved = 0.02 * rng.standard_normal(400)
    x = (np.arange(402 * 64) + 0.5) / 64 - 1.5
    light = np.zeros_like(x)
    for line, by in enumerate(moved):
        near = slice(max(0, 64 * (line - 2)), 64 * (line + 5))
        light[near] += norm.pdf(x[near] - line - by, scale=sigma)
    number = np.rint(x).astype(int)
    own = (number >= 5) & (number < 395)
    total = np.bincount(number[own], light[own])[5:]
    centre = np.bincount(number[own], (light * (x - number))[own])[5:] / total
    height = 2 * np.exp(-2 * np.pi**2 * sigma**2)
    assert np.std(centre) / np.std(moved[5:395]) == pytest.approx(response(height, 0.0), rel=0.04)


def test_what_moves_whole_lines_is_told_from_noise() -> None:
    rng = np.random.RandomState(2)
    own = 0.03 * rng.standard_normal((60, 1))
    noise = 0.02 * rng.standard_normal((60, 40))
    phase = np.arange(60.0)[:, None] + np.zeros(40)
    used = np.ones((60, 40), bool)
    assert np.sqrt(_common(own + noise, used, phase)) == pytest.approx(np.std(own), rel=0.1)
    assert np.sqrt(_common(noise, used, phase)) < 0.004
