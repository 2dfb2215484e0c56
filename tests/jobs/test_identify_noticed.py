"""What `identify` notices beside the weights: a field of other levels, a border around the chart."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.charts.kernel import kernel_chart
from scalesim.jobs.identify.identify import identify

CHART = kernel_chart("720p60").frame[:, ::2]  # 640 samples
THIRDS = (CHART[0::3] + CHART[1::3] + CHART[2::3]) / 3


def in_codes(values: np.ndarray, noise: float = 2.0) -> np.ndarray:
    """Return a capture in 8 bits, with noise of some codes."""
    noisy = 255 * values + np.random.RandomState(3).normal(0, noise, values.shape)
    return (np.floor(np.clip(noisy, 0, 255) + 0.5) / 255).astype(np.float32)


@pytest.mark.parametrize(("gain", "words"), [(0.95, "less"), (1.03, "more"), (1.0, "")])
def test_a_field_of_other_contrast_is_told(gain: float, words: str) -> None:
    """The bottom field 5 % darker, or 3 % more; nothing where both are alike."""
    halves = [
        (CHART[np.clip(i, 0, 719)] + CHART[np.clip(i + 1, 0, 719)]) / 2
        for i in (np.arange(0, 720, 3), np.arange(1, 720, 3))
    ]
    frame = np.stack(halves, axis=1).reshape(-1, *CHART.shape[1:])
    frame[1::2] *= gain
    found = identify([in_codes(frame)], "720p60")
    said = [note for note in found.notes if "bottom field has" in note]
    assert len(said) == bool(words)
    if words:
        share = float(said[0].split(" has ")[1].split(" %")[0])
        assert words in said[0] and share == pytest.approx(100 * abs(gain - 1), abs=0.5)


def test_a_border_is_told_with_its_remedy() -> None:
    """Ten black lines above, six below, and black sides of 20 samples; nothing for a chart that fills it."""
    wide = np.zeros((256, 680, 3), np.float32)
    wide[10:250, 20:660] = THIRDS
    (said,) = [note for note in identify([in_codes(wide)], "720p60").notes if "beyond the chart" in note]
    assert "10 lines above, 6 lines below, 2.9 % of the width at the left" in said and "--trim auto" in said
    notes = identify([in_codes(THIRDS)], "720p60").notes
    assert not any("beyond the chart" in note for note in notes)
