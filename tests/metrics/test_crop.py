"""What is hidden or pushed out, by arithmetic."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of

from scalesim.metrics.crop import cropped_percent

FRAME = np.zeros((720, 1280, 3))


@pytest.mark.parametrize(
    ("chain", "percent"),
    [
        ("line-drop lines=240", 0),
        ("line-drop lines=240 phase=1", 0),
        ("line-average lines=240", 0),
        ("overscan percent=10", 100 * (1 - 0.9 * 0.9)),
        ("line-average lines=240, overscan top=12 left=64", 100 * (1 - 228 / 240 * 1216 / 1280)),
        ("position lines=72", 10),
        ("position lines=72, position lines=-72", 10),
        ("position samples=-128", 10),
        ("size height=120", 100 * (1 - 1 / 1.2)),
        ("size height=80", 0),
        ("size height=80, overscan percent=10", 100 * (1 - 0.9)),
        ("fit how=crop", 25),
        ("fit how=letterbox", 0),
        ("fit how=squeeze", 0),
        ("line-average lines=200 step=3 phase=60", 100 * (1 - 600 / 720)),
        ("line-drop lines=200 step=3 phase=60", 100 * (1 - 600 / 720)),
        ("interlace", 0),
    ],
)
def test_cropped_percent(chain: str, percent: float) -> None:
    """Shares of height and width that remain, multiplied."""
    assert cropped_percent(evidence_of(FRAME, chain))[0] == pytest.approx(percent, abs=1e-9)
