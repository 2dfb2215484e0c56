"""Sharpness along a line: what the rated TV lines mean, measured with sines."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.tube.bands import Block
from scalesim.tube.response import response_blocks, response_sigma


def across(blocks: list[Block], line: np.ndarray, dots: int) -> np.ndarray:
    """Return a grey line of samples as dots."""
    out = np.empty(dots)
    for block in blocks:
        out[block.rows] = block.weights @ line.astype(np.float32)[block.columns]
    return out


def modulation(tv_lines: float, rated: float, samples: int, dots: int) -> float:
    """Return the modulation of a sine of so many TV lines on a 4:3 screen rated otherwise."""
    cycles = tv_lines / 2 * 4 / 3  # per picture width
    sine = 0.5 + 0.5 * np.cos(2 * np.pi * cycles * (np.arange(samples) + 0.5) / samples)
    sigma = response_sigma(rated) * samples / (4 / 3)
    dots_light = across(response_blocks(samples, np.linspace(0, samples, dots + 1), sigma), sine, dots)
    middle = slice(dots // 4, 3 * dots // 4)
    at = 2 * np.pi * cycles * (np.arange(dots) + 0.5) / dots
    basis = np.stack([np.cos(at), np.sin(at), np.ones(dots)], axis=1)[middle]
    fit = np.linalg.lstsq(basis, dots_light[middle], rcond=None)[0]
    return float(np.hypot(fit[0], fit[1]) / fit[2])


@pytest.mark.parametrize("rated", [280, 350, 800])
def test_rated_tv_lines_show_ten_percent(rated: int) -> None:
    """N TV lines are N/2 cycles per picture height (definition); fine samples and dots, so no boxes."""
    assert modulation(rated, rated, 10 * rated, 10 * rated) == pytest.approx(0.10, rel=0.02)
    assert modulation(rated, 2 * rated, 10 * rated, 10 * rated) == pytest.approx(0.10**0.25, rel=0.02)
    # a rating read as cycles rather than lines would be this, and is not the same
    assert modulation(2 * rated, rated, 10 * rated, 10 * rated) < 0.001


def test_gaussian_10_percent_point() -> None:
    """MTF10 of a Gaussian is 0.3415411 / sigma (closed form, by SciPy)."""
    assert 0.3415411 / response_sigma(350) == pytest.approx(350 / 2, rel=1e-6)


def test_samples_and_dots_are_boxes() -> None:
    """Held samples and dots multiply the response by sin(pi f) / (pi f) each, f in cycles per box."""
    cycles = 300 / 2 * 4 / 3
    boxes = np.sinc(cycles / 640) * np.sinc(cycles / 1440)
    gaussian = 0.10 ** ((300 / 350) ** 2)
    assert modulation(300, 350, 640, 1440) == pytest.approx(gaussian * boxes, rel=2e-3)
    assert modulation(300, 350, 640, 1440) != pytest.approx(gaussian, rel=2e-2)


def test_flat_stays_flat_and_ends_are_dark() -> None:
    """Inside, exactly; at the ends half the light, because there is none beyond."""
    blocks = response_blocks(640, np.linspace(0, 640, 1441), 1.0)
    light = across(blocks, np.ones(640), 1440)
    assert np.abs(light[20:-20] - 1).max() < 1e-6
    assert light[0] == pytest.approx(light[-1], abs=1e-6) and 0.5 < light[0] < 0.65


def test_a_lone_sample_keeps_its_light() -> None:
    line = np.where(np.arange(640) == 300, 1.0, 0.0)
    light = across(response_blocks(640, np.linspace(0, 640, 1441), 1.3), line, 1440)
    assert light.sum() * 640 / 1440 == pytest.approx(1, rel=1e-5)
    assert light.min() >= 0
