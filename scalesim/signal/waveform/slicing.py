"""From samples to pulses: a slicer that follows hum and coupling, and keeps clear of chroma and noise.

A moving mean of 0.35 us takes off chroma and noise and turns an edge into a slope, whose half-way point is
the edge's own. The lowest part of every 70 us (which always holds a sync tip) is followed by a running
median, so hum and a capacitor's drift do not matter. The slice is half way between tip and back porch.

Source: thresholds and windows are those measured on simulated records (tests/benchmarks/bench_trace.py).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SMOOTH_US = 0.35
BLOCK_US = 70.0
"""A line and a bit: every block holds a sync tip, in vertical sync too."""
TIP_PERCENTILE = 4.0
SHORTEST_US = 0.9
"""A low part shorter than this is no pulse, a high part shorter than this no gap."""
SHARES = (0.5, 0.3, 0.2, 0.12, 0.75)
"""Of the whole swing: where sync may be sliced before its own height is known."""
ROUNDS = 4
"""Cuts until the height that pulses are cut by is their own."""
SYNC_US = (1.2, 10.0)
"""A width that line sync can have, at 15 and at 31 kHz."""


@dataclass(frozen=True, eq=False)
class Pulses:
    """Low parts of a waveform, in order.

    Parameters:
        begin_us, end_us : (pulses,) float64, half way down and half way up, after the first sample
        inverted : the record was turned upside down to find them
        amplitude : height of the pulses in volts
        length_us : of the record
    """

    begin_us: NDArray
    end_us: NDArray
    inverted: bool
    amplitude: float
    length_us: float

    @property
    def width_us(self) -> NDArray:
        """(pulses,) widths."""
        return self.end_us - self.begin_us

    def __len__(self) -> int:
        return len(self.begin_us)


def find_pulses(volts: NDArray, interval_us: float) -> Pulses | None:
    """Return the sync pulses of a waveform, whichever way up it is; None where nothing looks like sync.

    Parameters:  volts : (samples,) float32; interval_us : between samples, positive
    """
    smooth, step_us, delay_us = _smoothed(volts, interval_us)
    if len(smooth) < 2 or BLOCK_US / step_us < 4:
        return None
    best: tuple[float, Pulses] | None = None
    for inverted in (False, True):
        turned = -smooth if inverted else smooth
        above = turned - _tip(turned, step_us)
        swing = float(np.percentile(above, 99.5))
        if not swing > 0:
            continue
        for share in SHARES:
            found, height = _settled(above, share * swing, step_us, delay_us)
            score = _score(*found) if height > 0 else 0.0
            if best is None or score > best[0]:
                length = len(volts) * interval_us
                best = score, Pulses(found[0], found[1], inverted, height, length)
    return best[1] if best and best[0] > 0 else None


def _settled(
    above: NDArray, at: float, step_us: float, delay_us: float
) -> tuple[tuple[NDArray, NDArray], float]:
    """Return pulses cut half way up their own height, and that height; 0 where there is none."""
    height = 0.0
    for _ in range(ROUNDS):
        found = _cut(above, at, step_us, delay_us)
        measured = _height(above, found, step_us, delay_us)
        if measured is None:
            return found, 0.0
        if abs(measured - height) < 0.02 * measured:
            break
        height = measured
        at = height / 2
    return found, height


def _smoothed(volts: NDArray, interval_us: float) -> tuple[NDArray, float, float]:
    """Return the moving mean at every few samples, their interval, and the time of the first, in us."""
    from scipy.ndimage import uniform_filter1d

    size = max(1, round(SMOOTH_US / interval_us))
    # of a fast record, means of some samples first: eight of them make the window
    step = max(1, size // 8)
    coarse = volts if step == 1 else volts[: len(volts) // step * step].reshape(-1, step).mean(axis=1)
    window = max(1, round(size / step))
    mean = uniform_filter1d(coarse, window, mode="nearest") if window > 1 else np.asarray(coarse)
    # an even window lies half a step to the left
    delay = (step - 1) / 2 - (step / 2 if window % 2 == 0 else 0.0)
    return mean, step * interval_us, delay * interval_us


def _tip(smooth: NDArray, step_us: float) -> NDArray:
    """Return the level of the sync tips at every sample."""
    from scipy.ndimage import median_filter

    size = max(4, round(BLOCK_US / step_us))
    blocks = len(smooth) // size
    if blocks < 2:
        return np.full(len(smooth), np.percentile(smooth, TIP_PERCENTILE))
    cut = smooth[: blocks * size].reshape(blocks, size)
    rank = min(size - 1, int(size * TIP_PERCENTILE / 100))
    lowest = np.partition(cut, rank, axis=1)[:, rank].astype(np.float64)
    lowest = median_filter(lowest, 5, mode="nearest")
    middles = (np.arange(blocks) + 0.5) * size - 0.5
    return np.interp(np.arange(len(smooth)), middles, lowest)


def _cut(above: NDArray, at: float, step_us: float, delay_us: float) -> tuple[NDArray, NDArray]:
    """Return begin and end of every low part in us, slivers taken off; parts the record cuts off are out."""
    low = above < at
    turns = np.flatnonzero(low[1:] != low[:-1])
    left, right = above[turns].astype(np.float64), above[turns + 1].astype(np.float64)
    places = (turns + (at - left) / (right - left)) * step_us + delay_us
    down = low[turns + 1] if len(turns) else np.zeros(0, bool)
    if len(places) and not down[0]:
        places, down = places[1:], down[1:]
    if len(places) and down[-1]:
        places = places[:-1]
    begin, end = places[::2], places[1::2]
    if len(begin) < 2:
        return begin, end
    kept = begin[1:] - end[:-1] >= min(SHORTEST_US, 2 * step_us)  # a gap, not a spike inside a pulse
    begin, end = begin[np.r_[True, kept]], end[np.r_[kept, True]]
    wide = end - begin >= min(SHORTEST_US, 1.01 * step_us)
    return begin[wide], end[wide]


def _height(above: NDArray, pulses: tuple[NDArray, NDArray], step_us: float, delay_us: float) -> float | None:
    """Return how high the back porch lies above the tip, from pulses that can be line sync."""
    begin, end = pulses
    width = end - begin
    good = (width > SYNC_US[0]) & (width < SYNC_US[1])
    if good.sum() < 3:
        return None
    begin, end, width = begin[good], end[good], width[good]
    typical = float(np.median(width))
    after = _at(above, end + 0.75 * typical, step_us, delay_us)
    inside = _at(above, (begin + end) / 2, step_us, delay_us)
    height = float(np.median(after) - np.median(inside))
    return height if height > 0 else None


def _at(above: NDArray, times_us: NDArray, step_us: float, delay_us: float) -> NDArray:
    places = np.clip(np.rint((times_us - delay_us) / step_us).astype(int), 0, len(above) - 1)
    return above[places]


def _score(begin: NDArray, end: NDArray) -> float:
    """Return how many pulses stand at the commonest distance and have the commonest width: sync does."""
    if len(begin) < 4:
        return 0.0
    steps, widths = np.diff(begin), (end - begin)[:-1]
    period = float(np.median(steps))
    even = np.abs(steps - period) < 0.03 * period + 0.2
    typical = float(np.median(widths[even])) if even.any() else 0.0
    alike = even & (np.abs(widths - typical) < 0.25 * typical + 0.3)
    # sync is low for a small part of the line; a picture's outline upside down can be as regular
    duty = typical / period
    fits = 0.03 < duty < 0.18 and SYNC_US[0] < typical < SYNC_US[1] and alike.sum() > 0.5 * len(steps)
    return float(alike.sum()) if fits else 0.0
