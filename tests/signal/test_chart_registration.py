"""Bars found along the line: against Pillow's float-window resizing and closed forms."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from PIL import Image
from scipy.ndimage import gaussian_filter1d

from scalesim.signal.kernel.along_line import Steps, likenesses, moved_bars, register_bars

RNG = np.random.RandomState(2)
BARS = Steps(np.linspace(0, 1, 65), np.where(RNG.permutation(64) < 32, 0.12, 0.88))


def picture(scale: float, shift: float, samples: int = 720, blur: float = 0.8) -> np.ndarray:
    """Return lines of noise with ten lines of bars: capture place x shows bars' place scale*x + shift."""
    drawn = np.repeat(BARS.levels, 20)[None].astype(np.float32)
    size = drawn.shape[1]
    wide = np.pad(drawn, ((0, 0), (size, size)), constant_values=0.1)
    box = (size + shift * size, 0, size + (shift + scale) * size, 1)
    line = np.asarray(Image.fromarray(wide).resize((samples, 1), Image.Resampling.BICUBIC, box=box))
    lines = RNG.uniform(0, 1, (80, samples))
    lines[30:40] = gaussian_filter1d(line, blur, axis=1) + RNG.normal(0, 0.01, (10, samples))
    return lines


@pytest.mark.parametrize(
    ("scale", "shift"), [(1, 0), (1.04, -0.03), (0.91, 0.06), (0.75, 0.125), (1.2, -0.1)]
)
def test_scale_and_shift(scale: float, shift: float) -> None:
    """Within 1e-4 of the width at both ends, from crops of a quarter to margins of a tenth."""
    found = register_bars(picture(scale, shift), BARS)
    assert not found.mirrored
    assert found.likeness > 0.95
    assert found.shift == pytest.approx(shift, abs=1e-4)
    assert found.scale + found.shift == pytest.approx(scale + shift, abs=1.5e-4)


def test_a_mirror_is_seen_as_one() -> None:
    """Left and right exchanged: told from the likeness, which the unmirrored pattern never reaches."""
    lines = picture(1.0, 0.0)
    assert register_bars(lines[:, ::-1], BARS).mirrored
    assert not register_bars(lines, BARS).mirrored


def test_no_bars_no_likeness() -> None:
    """Noise, and other bars, stay well below what bars give."""
    noise = RNG.uniform(0, 1, (80, 720))
    assert register_bars(noise, BARS).likeness < 0.6
    other = Steps(BARS.edges, np.where(np.random.RandomState(9).permutation(64) < 32, 0.12, 0.88))
    assert register_bars(picture(1.0, 0.0), other).likeness < 0.75


def test_only_the_lines_of_the_band_are_like_the_bars() -> None:
    """Ten lines near 1, the others below 0.5; a pattern moved by one bar is not alike."""
    lines = picture(1.02, -0.01)
    found = register_bars(lines, BARS)
    like = likenesses(lines, BARS, found)
    assert like[30:40].min() > 0.95
    assert np.delete(like, np.arange(30, 40)).max() < 0.5
    moved = moved_bars(np.roll(lines[30:40], 2, axis=1), BARS, found)
    assert moved.shift - found.shift == pytest.approx(-2 / 720 * found.scale, abs=2e-4)


def test_sample_means_are_exact() -> None:
    """Two steps of 0 and 1 with their edge inside a sample: that sample is the share beyond the edge."""
    steps = Steps(np.array([0.0, 0.45, 1.0]), np.array([0.0, 1.0]))
    assert steps.sampled(1.0, 0.0, 10) == pytest.approx([0, 0, 0, 0, 0.5, 1, 1, 1, 1, 1], abs=1e-12)
    assert steps.sampled(1.0, 0.0, 10, blur=1.0)[4] == pytest.approx(0.5, abs=1e-6)
    assert steps.shown(2.0, -0.5, 100) == slice(25, 75)


@pytest.mark.parametrize("sigma", [0.8, 1.2, 2.0, 3.0])
@pytest.mark.parametrize("noise", [0.0, 0.02])
def test_blur_along_the_line_is_what_opencv_blurred_by(sigma: float, noise: float) -> None:
    """Any sigma, not one of a few: within 2 %, or within three of the standard errors that are stated.

    A line beside the bars holds a fifth of something else, as where a band begins between two lines.
    """
    bars = np.repeat(BARS.levels, 10)[None].repeat(9, axis=0)
    bars[0] = 0.8 * bars[0] + 0.2 * RNG.uniform(0, 1, bars.shape[1])
    lines = RNG.uniform(0, 1, (80, bars.shape[1]))
    lines[30:39] = cv2.GaussianBlur(bars, (0, 0), sigmaX=sigma, sigmaY=0.01)
    found = register_bars(lines + RNG.normal(0, noise, lines.shape), BARS)
    assert 0 < found.blur_error < 0.05
    assert found.blur == pytest.approx(sigma, abs=max(0.02 * sigma, 3 * found.blur_error))
    assert (found.scale, found.shift) == pytest.approx((1, 0), abs=1e-4 if noise else 1e-5)


def test_no_blur_is_said_with_what_would_have_been_told() -> None:
    """Bars of whole samples in noise: blur 0, and a blur of the stated size is told from it."""
    bars = np.repeat(BARS.levels, 10)[None].repeat(9, axis=0)
    lines = RNG.uniform(0, 1, (80, bars.shape[1]))
    lines[30:39] = bars + RNG.normal(0, 0.03, bars.shape)
    found = register_bars(lines, BARS)
    assert found.blur == 0
    assert 0.1 <= found.blur_error <= 0.6
    lines[30:39] = cv2.GaussianBlur(bars, (9, 1), sigmaX=found.blur_error + 0.2, sigmaY=0.01)
    lines[30:39] += RNG.normal(0, 0.03, bars.shape)
    assert register_bars(lines, BARS).blur > 0
