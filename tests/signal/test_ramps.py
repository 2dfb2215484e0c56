"""Tone from a ramp: closed forms, and clipped steps left out."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.signal.kernel.ramps import Tone, fit_tone

LEVELS = np.linspace(0.04, 0.96, 16)


@pytest.mark.parametrize(("lift", "gain", "gamma"), [(0, 1, 1), (0.05, 0.8, 0.9), (-0.02, 1.0, 1.1)])
def test_lift_gain_and_gamma(lift: float, gain: float, gamma: float) -> None:
    """What was put on comes back, and `level` takes it off again."""
    captured = lift + gain * LEVELS**gamma
    tone = fit_tone(LEVELS, captured, captured.min() - 0.05, captured.max() + 0.05)
    assert (tone.lift, tone.gain, tone.gamma) == pytest.approx((lift, gain, gamma), abs=1e-5)
    assert tone.level(captured) == pytest.approx(LEVELS, abs=1e-5)


def test_clipped_steps_do_not_count() -> None:
    """At gain 1.2 the white end clips: the fit is the same; counting the clipped steps would not be."""
    unclipped = 1.2 * LEVELS
    captured = np.minimum(unclipped, 1.0)
    tone = fit_tone(LEVELS, captured, 0.0, 1.0)
    assert tone.gain == pytest.approx(1.2, abs=1e-4)
    assert tone.ceiling == 1.0
    assert abs(fit_tone(LEVELS, captured, -1.0, 2.0).gain - 1.2) > 0.03


def test_range_mistakes_by_their_numbers() -> None:
    """219/255 and 16/255 (ITU-R BT.709-6, item 5.3: black 16, white 235 of 8 bits), and the other way."""
    assert Tone(16 / 255, 219 / 255).range_mistake() == "limited shown as full"
    assert Tone(-16 / 219, 255 / 219).range_mistake() == "full stretched as limited"
    assert Tone(16 / 255, 0.95).range_mistake() is None
    assert Tone(16 / 255, 219 / 255, 1.2).range_mistake() is None


def test_too_few_steps_are_said_to_be_no_fit() -> None:
    """Four visible steps: an infinite residual, not a guess."""
    captured = np.where(np.arange(16) < 4, LEVELS, np.nan)
    assert np.isinf(fit_tone(LEVELS, captured, 0.0, 1.0).residual)
