"""The eye's temporal sensitivity against the published formula's values."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.metrics.flicker.eye import PEAK_HZ, sensitivity, weight_db

# Worked out from the formula of the Information Display Measurements Standard, section 10.6 (Watson &
# Ahumada, SID Digest 42, 2011), outside this project, to the digits shown.
PUBLISHED = {
    1: 37.998,
    5: 142.276,
    10: 169.300,
    15: 121.743,
    20: 73.974,
    25: 44.785,
    29.97: 27.240,
    30: 27.156,
    40: 9.100,
    50: 2.730,
    59.94: 0.7873,
    60: 0.7814,
}


@pytest.mark.parametrize(("hertz", "value"), PUBLISHED.items())
def test_values(hertz: float, value: float) -> None:
    assert sensitivity(hertz) == pytest.approx(value, rel=2e-4)  # the last digit given


def test_at_rest_the_two_filters_are_a_plain_difference() -> None:
    """f = 0: both brackets are 1, so S = 148.7 (1 - 0.882)."""
    assert sensitivity(0) == pytest.approx(148.7 * 0.118)


def test_the_peak_is_where_it_is_said_to_be() -> None:
    """173.107 at 8.585 Hz, and no frequency beside it has more."""
    assert sensitivity(PEAK_HZ) == pytest.approx(173.107, rel=1e-5)
    around = [sensitivity(hertz) for hertz in np.arange(0.5, 70, 0.05)]
    assert max(around) <= sensitivity(PEAK_HZ)
    assert weight_db(PEAK_HZ) == 0


def test_fusion() -> None:
    """S = 1 at 58.038 Hz: there full modulation is only just seen."""
    assert sensitivity(58.038) == pytest.approx(1, abs=2e-4)


def test_another_weighting_is_not_taken_for_this_one() -> None:
    """The table of older flicker meters (from memory: 0 dB to 20 Hz, -3 at 30, -40 from 60) is 13 dB off.

    Its straight lines also miss the loss of sensitivity at low frequencies.
    """
    table = {10.0: 0.0, 20.0: 0.0, 30.0: -3.0, 40.0: -6.0, 50.0: -12.0, 60.0: -40.0}
    assert weight_db(30) == pytest.approx(-16.09, abs=0.01)
    assert table[30.0] - weight_db(30) == pytest.approx(13.1, abs=0.1)
    assert max(abs(weight_db(hertz) - value) for hertz, value in table.items()) > 10
