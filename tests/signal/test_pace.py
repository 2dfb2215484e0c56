"""Pace of fields: offsets and places worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.signal.waveform.pace import pace_of, places_of


def test_even_fields() -> None:
    pace = pace_of([0.501, 0.499, 0.5], 0.001)
    assert pace.how == "even" and pace.least == pytest.approx(0.5)
    assert places_of([0.001, 0.5, 0.999, 0.5], pace) == pytest.approx([0.0, -0.5], abs=1e-9)
    assert places_of([0.3, 0.3], pace_of([0.0], 0.001)) == pytest.approx([0.3])


@pytest.mark.parametrize("apart", np.linspace(-0.45, 0.45, 19))
def test_fields_by_turns(apart: float) -> None:
    """Fields A and B begin `apart` of a line from each other, whichever comes first."""
    begins = np.array([0.1, 0.1 + apart, 0.1, 0.1 + apart])
    offsets = (np.diff(begins) + 0.25) % 1.0 - 0.25
    pace = pace_of(list(offsets), 0.0005)
    if abs(apart) < 1e-9:
        assert pace.how == "even" and pace.step == pytest.approx(0.0)
        return
    assert pace.how == "in turn" and pace.least == pytest.approx(abs(apart))
    told = places_of(list(begins % 1.0), pace)
    assert sorted(each % 1.0 for each in told) == pytest.approx(sorted([0.1, (0.1 + apart) % 1.0]))


def test_fields_that_keep_no_pace() -> None:
    pace = pace_of([0.02, 0.09, -0.06, 0.01], 0.001)
    assert (pace.how, pace.low, pace.high) == ("uneven", -0.06, 0.09)
