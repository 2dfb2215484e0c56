"""The club's lag log: what `lag` tells of it is what was drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from scalesim.demo.evening import BOXES, lag_csv
from scalesim.io.tables.lag import read_lag
from scalesim.jobs.demo.steps import lag_evening
from scalesim.jobs.demo.tear import tear_evening


def test_three_boxes_of_three_kinds(tmp_path: Path) -> None:
    """A sync processor without a frame buffer adds no lag: common practice, no published source."""
    found = lag_evening()
    switch, grey, converter = (each.study for each in found.devices)
    assert switch.found.kind == "constant" and switch.quantiles[2] < 0.1
    assert grey.found.kind == "constant" and grey.quantiles[2] == pytest.approx(18.4, abs=0.05)
    assert converter.found.kind == "drift"
    assert converter.drift_us_per_s == pytest.approx(20, abs=0.2)
    assert converter.wrap_s == pytest.approx(834.17, rel=0.01)  # worked example: 20 µs/s wraps in 834.17 s
    path = tmp_path / "lag.csv"
    path.write_text(lag_csv())
    assert read_lag(path).names == BOXES


def test_the_tear_rolls_as_the_two_clocks_say() -> None:
    """262-line 240p (CTA-861, VIC 8 and 9) beside 59.94 Hz drifts 1908.4 us/s: 0.458 of 240 lines."""
    found = tear_evening()
    assert found.roll is not None and found.roll.lines == pytest.approx(-240 * 1908.4e-6, abs=0.02)
    assert found.counts["torn"] > 570 and found.counts["repeated"] == found.counts["mixed"] == 0
