"""Large photos: a part of the cells tells the phase; a pattern that failed is not fitted again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from skimage import data

from scalesim.errors import NotMeasurable
from scalesim.signal.glass import find, fit
from scalesim.signal.glass.demodulate import Frame
from scalesim.signal.glass.find import find_lines

ROWS, COLUMNS, PERIOD = 900, 1200, 4.0


def _true(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Lines of 4 pixels with a tilt, a perspective and a barrel's share."""
    a, b = x / COLUMNS - 0.5, y / ROWS - 0.5
    return y / PERIOD + 6 * a + 8 * b * b + 4 * a * b + 1.5 * b * (a * a + b * b)


@pytest.mark.parametrize("enough", [10**9, 2_000, 700])
def test_a_part_of_the_cells_tells_the_phase_of_all(enough: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The truth is drawn; noise of 0.3 rms on a carrier of 1. Seven cells are left out of eight each way."""
    monkeypatch.setattr(fit, "ENOUGH", enough)
    y, x = np.mgrid[:ROWS, :COLUMNS].astype(np.float64)
    phase = _true(x, y)
    noise = 0.3 * np.random.RandomState(1).standard_normal(phase.shape)
    wave = (np.cos(2 * np.pi * phase) + noise).astype(np.float32)
    frame = Frame.of(ROWS, COLUMNS)
    start = np.zeros(10)
    start[1:3] = frame.scale * (1 / PERIOD) * 1.002, 0.0  # CUBIC: 1, y, x, ...
    found = fit.fitted(wave, np.ones_like(wave), start, PERIOD)
    off = frame.field(found.coefficients) - phase
    off -= np.round(2 * off.mean()) / 2  # lines are counted from any of them, halves are alike when squared
    assert np.abs(off).max() < 0.01
    assert found.used.mean() > 0.95 and found.coherence > 0.99


@pytest.mark.parametrize(("apart", "fits"), [(1.002, 1), (1.03, 2)])
def test_a_pattern_that_failed_is_not_fitted_again(
    apart: float, fits: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stripes that lie anew in every part of the photo, before scikit-image's astronaut; the pattern is found
    at two reductions, a little or more apart."""
    y, x = np.mgrid[:384, :480]
    light = data.astronaut()[:384, :480, 1].astype(np.float32) / 255
    light *= (1 + 0.8 * np.sin(2 * np.pi * (y / 6.4 + 0.37 * (y // 90) + 0.29 * (x // 120)))).astype(
        np.float32
    )
    pattern, found = find.candidates(light, None, None)[0]
    other = replace(pattern, coefficients=pattern.coefficients * apart)
    tried: list[float] = []
    fitted = find._fitted

    def seen(light: Any, pattern: Any, views: Any, *, squared: bool) -> Any:
        tried.append(pattern.period)
        return fitted(light, pattern, views, squared=squared)

    monkeypatch.setattr(find, "candidates", lambda *_: [(pattern, found), (other, found)])
    monkeypatch.setattr(find, "_fitted", seen)
    with pytest.raises(NotMeasurable, match="does not run through"):
        find_lines(light)
    assert len(tried) == fits
