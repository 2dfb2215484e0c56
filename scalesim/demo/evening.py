"""An evening's lag log of the club: three invented boxes, twenty minutes each, drawn with a seed."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

RATE = Fraction(60000, 1001)
BOXES = ("lantern switch", "grey box", "night converter")
_MINUTES = 20


def lag_csv() -> str:
    """Return the log as text: time_s, device, lag_ms.

    A sync processor that holds no picture, a box that holds one whole frame and is locked, and a converter
    whose clock runs free, 20 µs a second off: it wraps a frame every 834 s.
    """
    random = np.random.RandomState(20)
    frame = float(1000 / RATE)
    every = np.arange(0, 60 * _MINUTES, 2.0)
    times = np.clip(every + random.uniform(-0.3, 0.3, len(every)), 0, None).round(2)
    lags = {
        BOXES[0]: np.abs(random.normal(0.05, 0.03, len(times))),
        BOXES[1]: 18.4 + random.normal(0, 0.12, len(times)),
        BOXES[2]: 9.7 + (11.0 + 0.020 * times) % frame + random.normal(0, 0.2, len(times)),
    }
    rows = ["time_s,device,lag_ms"]
    for box, values in lags.items():
        rows += [f"{t:.2f},{box},{v:.2f}" for t, v in zip(times, values, strict=True)]
    return "\n".join(rows) + "\n"
