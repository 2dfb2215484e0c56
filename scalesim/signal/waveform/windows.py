"""The same part of every line, cut out of a record."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def cut_lines(
    volts: NDArray, interval_us: float, begins_us: NDArray, start_us: float, stop_us: float
) -> tuple[NDArray, NDArray]:
    """Return the samples between two times of every line, and which lines the record holds whole.

    Parameters:  begins_us : (lines,) where lines begin; start_us, stop_us : after that
    Returns: (whole lines, samples) float32, at least one sample; (lines,) bool
    """
    # the first sample at or after the start; a record slower than the window gives the nearest one
    first = np.ceil((begins_us + start_us) / interval_us - 1e-6).astype(np.int64)
    count = max(1, int((stop_us - start_us) / interval_us + 1e-6))
    whole = (first >= 0) & (first + count <= len(volts))
    if count == 1:  # the one sample may lie behind a narrow window
        inside = first * interval_us <= begins_us + stop_us
        whole &= inside
    return volts[first[whole][:, None] + np.arange(count)[None, :]], whole


def trimmed_mean(values: NDArray, share: float = 0.1) -> tuple[float, float]:
    """Return the mean without a share at either end, and its standard error; (nan, nan) of nothing."""
    if not len(values):
        return float("nan"), float("nan")
    ordered = np.sort(values.astype(np.float64))
    cut = int(share * len(ordered))
    kept = ordered[cut : len(ordered) - cut]
    return float(kept.mean()), float(values.std() / np.sqrt(len(values)))
