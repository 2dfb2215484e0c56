"""The grid of lines: its period by a robust straight line through the leading edges of all line pulses."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.waveform.slicing import Pulses

FEWEST_LINES = 8
_LOCKED, _COARSE_US = 0.3, 0.3
_NEAR = 0.06
"""Of a line: an edge further from the grid than this is not one of its edges."""


@dataclass(frozen=True, eq=False)
class LineGrid:
    """Where lines begin: `start_us + n * period_us`.

    Parameters:
        period_error_us : standard error of the period; jitter_us : rms of the edges about the grid
        jitter_peak_us : peak to peak
        lines : edges it rests on; share : of the lines between the first and the last that have their edge
        edges_us, residual_us : (lines,) those edges and how late each is
        sync_us : median width of a line pulse
    """

    start_us: float
    period_us: float
    period_error_us: float
    jitter_us: float
    jitter_peak_us: float
    lines: int
    share: float
    edges_us: NDArray
    residual_us: NDArray
    sync_us: float

    def phase(self, times_us: NDArray | float) -> NDArray:
        """Return where times lie in their line, 0..1 from its beginning."""
        return np.mod((np.asarray(times_us) - self.start_us) / self.period_us, 1.0)


def line_grid(pulses: Pulses, interval_us: float) -> LineGrid | None:
    """Return the grid of the line pulses; None when there are too few, or they follow no grid.

    Parameters:  interval_us : between the record's samples
    """
    begin, width = pulses.begin_us, pulses.width_us
    if len(begin) < FEWEST_LINES:
        return None
    rough = _rough_period(begin)
    sync = _sync_width(begin, width, rough)
    if sync is None:
        return None
    edges = begin[(width > 0.7 * sync) & (width < 1.4 * sync)]
    if len(edges) < FEWEST_LINES:
        return None
    numbers, edges = _numbered(edges, rough)
    slope, offset = _fitted(numbers, edges)
    for _ in range(3):
        numbers = np.rint((edges - offset) / slope)
        residual = edges - offset - numbers * slope
        spread = max(1.4826 * float(np.median(np.abs(residual - np.median(residual)))), 1e-4)
        kept = np.abs(residual) < min(max(5 * spread, 0.02 * slope), _NEAR * slope)
        if kept.sum() < FEWEST_LINES:
            return None
        slope, offset = _fitted(numbers[kept], edges[kept])
    numbers, edges = numbers[kept], edges[kept]
    residual = edges - offset - numbers * slope
    count = len(edges)
    jitter = float(np.sqrt(np.sum(residual**2) / max(1, count - 2)))
    spread = float(np.sqrt(np.sum((numbers - numbers.mean()) ** 2)))
    span = float(numbers[-1] - numbers[0]) + 1
    # samples in step with the lines see every edge alike, and a drift only when it passes a whole sample
    locked = _LOCKED * interval_us / span if interval_us > _COARSE_US else 0.0
    return LineGrid(
        offset,
        slope,
        float(np.hypot(jitter / spread if spread else 0.0, locked)),
        jitter,
        float(np.ptp(residual)),
        count,
        min(1.0, len(np.unique(numbers)) / span),
        edges,
        residual,
        sync,
    )


def _rough_period(begin: NDArray) -> float:
    """Return the commonest distance of pulses: whole lines are far more than half lines."""
    steps = np.diff(begin)
    period = float(np.median(steps))
    near = steps[np.abs(steps - period) < 0.05 * period]
    return float(near.mean()) if len(near) else period


def _sync_width(begin: NDArray, width: NDArray, period: float) -> float | None:
    """Return the width of pulses that are a whole line from the next."""
    whole = np.abs(np.diff(begin) - period) < 0.05 * period
    return float(np.median(width[:-1][whole])) if whole.any() else None


def _numbered(edges: NDArray, period: float) -> tuple[NDArray, NDArray]:
    """Return line numbers and edges; an edge that is not whole lines after the one before is left out."""
    steps = np.diff(edges) / period
    odd = np.abs(steps - np.rint(steps)) > _NEAR
    kept = np.r_[True, ~odd]
    edges = edges[kept]
    # the period sharpens as lines are counted, so that a long record stays in step
    numbers = np.zeros(len(edges))
    slope, offset, known = period, float(edges[0]), 1
    size = 16
    while known < len(edges):
        stop = min(len(edges), known + size)
        numbers[known:stop] = np.rint((edges[known:stop] - offset) / slope)
        slope, offset = _fitted(numbers[:stop], edges[:stop])
        known, size = stop, 2 * size
    return numbers, edges


def _fitted(numbers: NDArray, edges: NDArray) -> tuple[float, float]:
    """Return slope and offset of the least-squares line."""
    middle_n, middle_e = numbers.mean(), edges.mean()
    spread = numbers - middle_n
    total = float(np.sum(spread**2))
    slope = float(np.sum(spread * (edges - middle_e)) / total) if total else float(np.diff(edges).mean())
    return slope, float(middle_e - slope * middle_n)
