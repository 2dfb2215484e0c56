"""The club's lag log: what `lag` tells of it is what was drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from scalesim.demo.evening import BOXES, lag_csv
from scalesim.io.tables.lag import read_lag
from scalesim.jobs.demo.demo import lag_evening


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
