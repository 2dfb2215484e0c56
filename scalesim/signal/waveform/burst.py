"""Whether a video waveform carries a colour burst: then it is composite, else luma or sync on green."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.waveform.baseline import Baseline
from scalesim.signal.waveform.timing import Timing
from scalesim.signal.waveform.windows import cut_lines

BURST = (5.8 / 63.556, 7.6 / 63.556)
"""Of a line: inside the burst of either system."""


def has_burst(volts: NDArray, timing: Timing, base: Baseline) -> bool:
    """Tell whether the back porch swings where a burst would stand, far more than the noise does."""
    cut, _ = cut_lines(
        volts, timing.interval_us, base.begins_us, *(part * timing.grid.period_us for part in BURST)
    )
    if cut.shape[1] < 2 or not len(cut):
        return False
    swing = float(np.median(cut.std(axis=1)))
    return swing > 2 * base.noise + 0.08 * abs(base.sync)
