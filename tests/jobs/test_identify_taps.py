"""Filters against flicker whose taps are in no list, made by SciPy: named by what was measured."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import correlate1d

from scalesim.charts.kernel import kernel_chart
from scalesim.jobs.identify.identify import identify


def filtered(mode: str, taps: tuple[float, ...], noise: float) -> np.ndarray:
    """Return 480 lines, averages of the chart's where it has more, filtered by taps, in 8 bits with noise."""
    chart = kernel_chart(mode).frame.astype(np.float64)
    if len(chart) == 720:
        chart = np.repeat(chart, 2, axis=0).reshape(480, 3, *chart.shape[1:]).mean(axis=1)
        chart = (chart[:, ::2] + chart[:, 1::2]) / 2
    lines = correlate1d(chart, np.asarray(taps) / np.sum(taps), axis=0, mode="nearest")
    noisy = 255 * lines + np.random.RandomState(1).normal(0, noise, lines.shape)
    return (np.floor(np.clip(noisy, 0, 255) + 0.5) / 255).astype(np.float32)


@pytest.mark.parametrize(
    ("mode", "taps", "noise"),
    [("480p", "1/2/3/2/1", 0.0), ("720p60", "1/3/5/3/1", 0.0), ("720p60", "1/3/1", 2.0)],
)
def test_symmetric_taps_are_read_from_the_lines(mode: str, taps: str, noise: float) -> None:
    """The filter is named by its taps, and its chain, run by `predict`, makes what was captured."""
    frame = filtered(mode, tuple(float(tap) for tap in taps.split("/")), noise)
    found = identify([frame], mode, scan="interlaced")
    assert found.flicker_taps == taps and not found.undecided
    assert f"filters {'them' if mode == '720p60' else 'its lines'} by {taps}" in found.title
    assert found.check.rms_codes < 1 + noise


def test_taps_that_are_not_symmetric_are_no_flicker_filter() -> None:
    """1/4/9/2/1 weighs the line above more: a phase and symmetric taps come near, and are not named."""
    frame = filtered("480p", (1.0, 4.0, 9.0, 2.0, 1.0), 0.0)
    found = identify([frame], "480p", scan="interlaced")
    assert "flicker-filter" not in found.chain
    assert found.check.rms_codes < 1
