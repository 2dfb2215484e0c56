"""Spectra of windows against SciPy's chirp z-transform in float64."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import czt
from scipy.signal.windows import hann

from scalesim.core.affine import Affine
from scalesim.metrics.detail.waves import Band, Side, Windows, _waves_in

PICTURE = np.random.default_rng(2).random((90, 5)).astype(np.float32)


def by_scipy(first: int, lines: int, frequencies: np.ndarray) -> np.ndarray:
    """Return the spectra of some lines about their middle, their mean under the window taken out first."""
    weights = hann(2 * lines + 1)[1::2]  # at the middles of the lines
    part = PICTURE[first : first + lines].astype(np.float64)
    part = weights[:, None] * (part - weights @ part / weights.sum())
    step = frequencies[1] - frequencies[0]
    turned = czt(
        part, len(frequencies), np.exp(-2j * np.pi * step), np.exp(2j * np.pi * frequencies[0]), axis=0
    )
    return turned * np.exp(2j * np.pi * frequencies * (lines - 1) / 2)[:, None]


@pytest.mark.parametrize(("length", "folded"), [(24.0, True), (25.0, True), (24.5, False)])
def test_spectra(length: float, folded: bool) -> None:
    """Of an even and of an odd number of lines about the middle, and of lines that lie otherwise."""
    windows = Windows((3.0, 30.0), length)
    frequencies = np.linspace(1 / 24, 0.5, 12)
    waves = _waves_in(90, Affine(), windows, tuple(frequencies))
    assert [each.weights.shape[1] < each.lines for each in waves] == [folded, folded]
    side = Side.of(PICTURE, Affine(), windows, frequencies)
    if folded:
        exact = np.concatenate([by_scipy(int(at), int(length), frequencies) for at in windows.starts], axis=1)
    else:
        exact = np.concatenate([by_weights(at, length, frequencies) for at in windows.starts], axis=1)
    assert side.values == pytest.approx(exact, abs=3e-6)
    assert side.power == pytest.approx((np.abs(exact) ** 2).sum(axis=1), rel=1e-6)
    other = Side.of(PICTURE[::-1].copy(), Affine(), windows, frequencies)
    assert side.cross(other) == pytest.approx((exact.conj() * other.values).sum(axis=1), rel=1e-5)
    assert side.cross(side) == pytest.approx(side.power)


def by_weights(start: float, length: float, frequencies: np.ndarray) -> np.ndarray:
    """Return the same of any lines, term by term."""
    places = (np.arange(len(PICTURE)) + 0.5 - start) / length
    inside = (places > 0) & (places < 1)
    weights = 0.5 - 0.5 * np.cos(2 * np.pi * places[inside])
    part = PICTURE[inside].astype(np.float64)
    part = weights[:, None] * (part - weights @ part / weights.sum())
    return np.array([np.exp(-2j * np.pi * f * length * (places[inside] - 0.5)) @ part for f in frequencies])


@pytest.mark.parametrize("lines", [0, 1])
def test_windows_of_no_line_and_of_one(lines: int) -> None:
    """One line is all that its window's mean is made of."""
    windows = Windows((0.4 if lines else -9.0,), 0.8 if lines else 2.0)
    side = Side.of(PICTURE, Affine(), windows, np.array([0.1, 0.2]))
    assert np.abs(side.values).max() < 1e-6
    assert _waves_in(90, Affine(), windows, (0.1, 0.2))[0].lines == lines


def test_as_many_frequencies_as_windows_tell_apart() -> None:
    windows = Windows((0.0,), 40.0)
    found, below = Band(0.125, 0.5, "").frequencies(windows)
    assert below == 6 and len(found) == 6 + 16
    assert found[6] == 0.125 and found[-1] == 0.5
