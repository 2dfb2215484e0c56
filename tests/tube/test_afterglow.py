"""Afterglow against the Fourier series of decaying impulses and plain bookkeeping of light."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from scalesim.core.raster import Raster
from scalesim.errors import ParameterError, ShapeError
from scalesim.tube.afterglow import ACTIVE_SHARE, exposure, lit_times, time_constant
from scalesim.tube.display import DISPLAYS
from scalesim.tube.screen import Screen

WHITE = np.ones((8, 2, 3), dtype=np.float32)
QUICK = (0.1, 0.1, 0.1)


def to_ten(tau_ms: float) -> tuple[float, float, float]:
    """Return the decay to 10 % of a time constant, for all three."""
    return (tau_ms * math.log(10),) * 3


def fundamental(tau_ms: float, period_ms: float) -> float:
    """The closed form."""
    return 2 / math.hypot(1, 2 * math.pi * tau_ms / period_ms)


@pytest.mark.parametrize(
    ("period_ms", "tau_ms", "amplitude"),
    [
        (16.683, 0.05, 1.9996),
        (16.683, 0.3, 1.9874),
        (16.683, 1.0, 1.8717),
        (16.683, 5.0, 0.9380),
        (33.367, 0.05, 1.9999),
        (33.367, 0.3, 1.9968),
        (33.367, 1.0, 1.9655),
        (33.367, 5.0, 1.4561),
    ],
)
def test_fundamental(period_ms: float, tau_ms: float, amplitude: float) -> None:
    """Short exposures one after another have the Fourier series of exp(-t / tau) repeated every T.

    Its amplitude at the repetition rate, over its mean, is 2 / sqrt(1 + (2 pi tau / T)^2).
    """
    assert fundamental(tau_ms, period_ms) == pytest.approx(amplitude, abs=1e-4)
    steps = 512
    short = period_ms / 1e3 / steps
    rate = 1e3 / period_ms
    wave = [
        exposure(itertools.repeat(WHITE[:1]), rate, short, to_ten(tau_ms), start_s=12 / rate + k * short)[
            0, 0, 0
        ]
        for k in range(steps)
    ]
    spectrum = np.abs(np.fft.rfft(wave)) / steps
    assert spectrum[0] == pytest.approx(1, rel=1e-3)
    assert 2 * spectrum[1] / spectrum[0] == pytest.approx(amplitude, abs=3e-4)
    # the decay to 10 % taken for the time constant is another wave
    assert fundamental(to_ten(tau_ms)[0], period_ms) < amplitude - 1e-4


def test_time_constant() -> None:
    """exp(-t10 / tau) is a tenth."""
    assert math.exp(-0.001 / time_constant(1.0)) == pytest.approx(0.1)


def test_a_long_shutter_sees_the_mean() -> None:
    """Sixty whole fields of two pictures in turn: their mean, whatever the decay."""
    fields = itertools.cycle([WHITE, 0.5 * WHITE])
    seen = exposure(fields, 60, 1.0, (5.0, 1.0, 0.1), start_s=1.0)
    assert np.abs(seen - 0.75).max() < 2e-3
    assert seen.dtype == np.float32 and seen.shape == WHITE.shape


def test_a_short_shutter_sees_a_band() -> None:
    """A quarter of a field open from its start: the rows lit in it are four times as bright, others dark."""
    lit = (np.arange(8) + 0.5) / 8
    seen = exposure(itertools.repeat(WHITE), 60, 0.25 / 60, QUICK, start_s=4 / 60, lit=lit)[:, 0, 1]
    assert seen[:2] == pytest.approx([4, 4], rel=1e-3)
    assert seen[2:].max() < 1e-3
    # all rows at once: no band
    assert np.ptp(exposure(itertools.repeat(WHITE), 60, 0.25 / 60, QUICK, start_s=4 / 60)) < 1e-6


def test_slow_red_outlasts_green() -> None:
    """Opened half a field after the flash, red (slow) is left and green is gone: exp(-t / tau)."""
    seen = exposure(itertools.repeat(WHITE), 50, 0.005, (20.0, 0.1, 0.1), start_s=1.01)[0, 0]
    tau = time_constant(20.0)
    left = (math.exp(-0.01 / tau) - math.exp(-0.015 / tau)) / (1 - math.exp(-0.02 / tau)) * 0.02 / 0.005
    assert seen[0] == pytest.approx(left, rel=1e-4)
    assert seen[1] == seen[2] < 1e-6


def test_rows_are_lit_from_the_top_down() -> None:
    """Over the active part of the field; a screen with overscan begins after the hidden lines."""
    display = DISPLAYS["livingroom-68cm-350"]
    times = lit_times(Screen(Raster(240, 8), display, height=100))
    assert times[0] == pytest.approx(ACTIVE_SHARE * (0.03 + 0.94 * 0.005))
    assert (np.diff(times) > 0).all() and times[-1] < ACTIVE_SHARE * 0.97
    # 240 of 262.5 and 288 of 312.5 lines, to one in a hundred
    assert pytest.approx(240 / 262.5, rel=0.01) == ACTIVE_SHARE == pytest.approx(288 / 312.5, rel=0.01)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"seconds": 0}, "seconds is 0"),
        ({"seconds": math.nan}, "seconds is nan"),
        ({"rate": -60}, "rate is -60"),
        ({"start_s": -1}, "0 or more"),
        ({"decay_ms": (1.0, 0.0, 1.0)}, "decay_ms is 0.0"),
    ],
)
def test_refused(changes: dict, words: str) -> None:
    good = {"rate": 60, "seconds": 0.1, "decay_ms": QUICK, "start_s": 0.0}
    with pytest.raises(ParameterError, match=words):
        exposure([WHITE], **{**good, **changes})


def test_too_few_fields() -> None:
    with pytest.raises(ShapeError, match="2 fields end at"):
        exposure([WHITE, WHITE], 60, 0.1, QUICK)
    with pytest.raises(ShapeError, match="0 fields"):
        exposure([], 60, 0.1, QUICK)
