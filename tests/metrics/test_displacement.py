"""Residual displacement: known moves are told, and no move is told as none.

A band-limited periodic picture moved by any fraction of a line is exact by the shift theorem of the
Fourier transform (Bracewell, *The Fourier Transform and Its Applications*, from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from frames30 import FRAMES
from metrics.evidence import evidence_of

from scalesim.metrics.fidelity.likeness import displacement_lines
from scalesim.metrics.fidelity.reference import refined_shift, vertical_shift

SOME = ("moss_tower", "camera", "coffee")
BIAS = 0.01
BIAS_OF = {("resample lines=240 kernel=lanczos3", "ninth_lock_menu"): 0.03}
"""A menu of thin lines with a period, whose overshoot the ideal does not have: the one frame of 30 beyond."""


def band_limited(seed: int = 0, lines: int = 240, most: int = 80) -> np.ndarray:
    """Return (lines, 64) periodic luma of random phase, 1/f, up to `most` cycles per height."""
    random = np.random.RandomState(seed)
    spectrum = np.zeros((lines // 2 + 1, 64), complex)
    cycles = np.arange(1, most)[:, None]
    spectrum[1:most] = (
        random.normal(size=(most - 1, 64)) * np.exp(2j * np.pi * random.rand(most - 1, 64)) / cycles
    )
    spectrum[0] = 0
    return 0.5 + 8 * np.fft.irfft(spectrum, lines, axis=0)


def moved(picture: np.ndarray, lines: float) -> np.ndarray:
    """Return the picture moved down by the shift theorem."""
    spectrum = np.fft.rfft(picture, axis=0)
    turn = np.exp(-2j * np.pi * np.arange(len(spectrum)) / len(picture) * lines)
    return np.fft.irfft(spectrum * turn[:, None], len(picture), axis=0)


@pytest.mark.parametrize("lines", [-1.7, -0.5, -0.25, 0.0, 0.1, 0.333, 0.5, 0.9, 2.2])
def test_fractional_moves(lines: float) -> None:
    """Within 0.002 of a line when the reference itself can be moved."""
    picture = band_limited()
    found = refined_shift(lambda lower: moved(picture, lower), moved(picture, lines))
    assert found.lines == pytest.approx(lines, abs=0.002)
    assert found.lines != pytest.approx(lines + 0.01, abs=0.002)


def test_interpolating_the_reference_is_not_enough() -> None:
    """One pass over an interpolated reference is off by more than the limit above."""
    picture = band_limited(most=110)
    once = [vertical_shift(picture, moved(picture, lines)) for lines in (0.25, 0.333, 0.9)]
    assert max(abs((s or 0) - lines) for s, lines in zip(once, (0.25, 0.333, 0.9), strict=True)) > 0.002


@pytest.mark.parametrize(
    "name",
    [
        pytest.param(name, marks=() if name in SOME else pytest.mark.slow)
        for name, frame in FRAMES.items()
        if frame.mode.endswith("p")
    ],
)
@pytest.mark.parametrize(
    ("chain", "down"),
    [
        ("line-average lines=240", 0),
        ("resample lines=240 kernel=lanczos3", 0),
        ("line-average lines=240 encoding=light", 0),
        (
            "line-average lines=240 phase=1",
            -1,
        ),  # a source line further down is shown: the picture lies higher
    ],
)
def test_frames(name: str, chain: str, down: int) -> None:
    """Chains that shift nothing read 0, one that moves its sampling by a source line reads that."""
    frame = FRAMES[name].load()
    found = displacement_lines(evidence_of(frame, chain, mode=FRAMES[name].mode))[0]
    assert found == pytest.approx(down * 240 / frame.shape[0], abs=BIAS_OF.get((chain, name), BIAS))
