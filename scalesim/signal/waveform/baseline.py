"""Sync tip and blanking of every line, the noise, and whether a converter cut them off."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.waveform.timing import Timing
from scalesim.signal.waveform.windows import cut_lines, trimmed_mean

TIP = (0.28, 0.8)
"""Of the sync pulse: where the tip has settled."""
PORCH = (8.0 / 63.556, 9.0 / 63.556)
"""Of a line: after the colour burst, before the earliest picture."""
_SAME_CODES = 0.6
_LINES_SMOOTHED = 45


@dataclass(frozen=True, eq=False)
class Baseline:
    """Levels of every line, in volts.

    Parameters:
        begins_us : (lines,) where they begin; blank, smooth : (lines,) back porch, and that without noise
        sync, sync_error : height of sync and its standard error; level, level_error : of blanking
        noise : rms of a sample; step : of the converter's codes, 0 when none can be seen
        clipped_low, clipped_high : the lower or upper end of the signal is cut off by the converter
    """

    begins_us: NDArray
    blank: NDArray
    smooth: NDArray
    sync: float
    sync_error: float
    level: float
    level_error: float
    noise: float
    step: float
    clipped_low: bool
    clipped_high: bool


def baseline_of(volts: NDArray, timing: Timing, *, has_sync: bool = True) -> Baseline | None:
    """Return the levels of a channel's lines; None when the record holds no whole line.

    Parameters:  has_sync : the channel carries the sync; else its sync figures are nan
    """
    grid = timing.grid
    begins = grid.edges_us - grid.residual_us
    if timing.pulses.inverted and has_sync:
        volts = -volts
    cut = [part * grid.period_us for part in PORCH]
    porch, whole = cut_lines(volts, timing.interval_us, begins, *cut)
    begins = begins[whole]
    if len(begins) < 4:
        return None
    blank = porch.mean(axis=1, dtype=np.float64)
    level, level_error = trimmed_mean(blank)
    sync = sync_error = float("nan")
    tip = porch
    if has_sync:
        tip, there = cut_lines(volts, timing.interval_us, begins, *(part * grid.sync_us for part in TIP))
        sync, sync_error = trimmed_mean(blank[there] - tip.mean(axis=1, dtype=np.float64))
    noise = _noise(tip, porch)
    step = _step(porch)
    low, high = _cut_off(volts, tip, porch, step, has_sync=has_sync)
    rounding = _rounding(blank, noise, step)
    return Baseline(
        begins,
        blank,
        _smoothed(begins, blank, grid.period_us),
        sync,
        float(np.hypot(sync_error, rounding * np.sqrt(2))),
        level,
        float(np.hypot(level_error, rounding)),
        noise,
        step,
        low,
        high,
    )


def _rounding(blank: NDArray, noise: float, step: float) -> float:
    """Return the error that a converter's steps leave in a mean; noise or hum across them takes it off."""
    if noise >= step / 3:
        return 0.0
    wander = float(np.percentile(blank, 95) - np.percentile(blank, 5))
    return float(step / np.sqrt(12)) * (0.2 if wander > 2 * step else 1.0)


def _smoothed(begins: NDArray, blank: NDArray, period_us: float) -> NDArray:
    """Return the blanking level followed along the lines: hum and a capacitor stay, noise goes."""
    from scipy.signal import savgol_filter

    numbers = np.rint((begins - begins[0]) / period_us).astype(int)
    even = np.interp(np.arange(numbers[-1] + 1), numbers, blank)
    size = min(_LINES_SMOOTHED, len(even) - 1 + len(even) % 2)
    if size < 5:
        return np.full(len(blank), blank.mean())
    return savgol_filter(even, size, 3)[numbers]


def _noise(*parts: NDArray) -> float:
    """Return the rms of samples about the mean of their own window."""
    spreads = [float(part.std(axis=1, ddof=1).mean()) for part in parts if part.shape[1] > 2]
    if spreads:
        return min(spreads)
    return min(float(np.median(np.abs(np.diff(part[:, 0])))) / 0.954 for part in parts)


def _step(values: NDArray) -> float:
    """Return the converter's step, from the distances of the values that occur; 0 when there are too many."""
    found = np.unique(values)
    if len(found) < 2 or len(found) > 512:
        return 0.0
    gaps = np.diff(found.astype(np.float64))
    gaps = gaps[gaps > 1e-6 * float(np.ptp(found))]
    return float(gaps.min()) if len(gaps) else 0.0


def _cut_off(
    volts: NDArray, tip: NDArray, porch: NDArray, step: float, *, has_sync: bool
) -> tuple[bool, bool]:
    """Return whether an end of the signal is cut off: it stands still where the porch moves."""
    wander = float(np.percentile(porch, 95) - np.percentile(porch, 5))
    if wander <= 2.5 * step or wander <= 0:
        return False, False
    lowest, highest = float(volts.min()), float(volts.max())
    low = has_sync and float((tip == lowest).mean()) > _SAME_CODES * 0.5
    high = float((volts == highest).mean()) > 0.01
    return bool(low), bool(high)
