"""The one scale of colours for every signed difference: blue is less, white is none, orange is more.

Lightness falls evenly to both sides, and the hues stay apart for every common colour vision.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LESS, NONE, MORE = (0.00, 0.23, 0.52), (0.97, 0.97, 0.97), (0.76, 0.32, 0.00)
STEPS = 255
"""An odd number, so that no difference has a colour of its own: the middle one."""


def palette() -> NDArray:
    """Return the scale's colours, (255, 3) uint8 codes, from less to more."""
    share = np.linspace(-1, 1, STEPS)[:, None]
    middle, ends = np.array(NONE), np.where(share < 0, np.array(LESS), np.array(MORE))
    return np.floor((middle + (ends - middle) * np.abs(share)) * 255 + 0.5).astype(np.uint8)


def steps_of(values: NDArray, limit: float) -> NDArray:
    """Return the number of the scale's colour for each value, uint8; beyond +-limit those of the ends."""
    return np.floor((np.clip(values / limit, -1, 1) + 1) / 2 * (STEPS - 1) + 0.5).astype(np.uint8)


def colours() -> tuple[tuple[int, int, int], ...]:
    """Return the palette as plain numbers."""
    return tuple((int(r), int(g), int(b)) for r, g, b in palette())
