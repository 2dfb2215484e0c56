"""How a photo's light rises with a prediction's: known powers with vignetting, noise and stray light."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.signal.explain.curve import curve_of


@pytest.mark.parametrize("power, linear", [(1.0, True), (0.52, False), (1.45, False)])
def test_a_power_is_found_again(power: float, linear: bool) -> None:
    """With vignetting of a third, noise of 5 % and stray light of 1 %; a tenth of the tiles overexposed."""
    random = np.random.RandomState(4)
    predicted, away = random.uniform(0.05, 1, 120), random.uniform(0, 0.6, 120)
    seen = 0.3 * predicted**power * np.exp(-0.5 * away) * np.exp(0.05 * random.standard_normal(120)) + 0.003
    seen[:12] = 0.3
    found = curve_of(seen, predicted, away)
    assert found is not None and found.exponent == pytest.approx(power, abs=0.07)
    assert found.linear == linear


def test_a_picture_of_one_brightness_tells_no_curve() -> None:
    one = np.full(60, 0.5)
    assert curve_of(one, one, np.zeros(60)) is None and curve_of(one[:5], one[:5], one[:5]) is None
