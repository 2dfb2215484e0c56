"""The mask: vertical red, green and blue stripes across one pitch, whole or broken into slots.

Plain geometry: each stripe is a third of the pitch wide and lets its own colour through alone. Slots
are stripes broken by bridges, a fifth of every vertical pitch (taken equal to the other), and every
second triad stands half a vertical pitch lower. What a mask holds back is made up for by a gain, so
that the mean light of a whole number of pitches is that without a mask. Common practice, no published
source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.tube.display import Display

_OPEN = 0.8
"""Share of a slot's vertical pitch that is open."""


def mask_light(display: Display, across: NDArray, down: NDArray) -> NDArray | None:
    """Return the factor of the light of each dot, (rows, dots, 3) float32 of mean 1; None without a mask.

    Parameters:
        across, down : (dots + 1,) and (rows + 1,) edges of the dots, millimetres from the top left of
            the visible picture
    """
    if display.mask == "none":
        return None
    x, y = across / display.mask_pitch_mm, down / display.mask_pitch_mm
    if display.mask == "stripes":
        stripes = np.stack([_open(x, 1.0, colour / 3, 1 / 3) for colour in range(3)], axis=-1)
        return np.broadcast_to(stripes.astype(np.float32), (len(y) - 1, *stripes.shape))
    total = np.zeros((len(y) - 1, len(x) - 1, 3))
    for triad in range(2):
        rows = _open(y, 1.0, triad / 2, _OPEN)
        for colour in range(3):
            total[..., colour] += rows[:, None] * _open(x, 2.0, triad + colour / 3, 1 / 3) / 2
    return total.astype(np.float32)


def _open(edges: NDArray, period: float, start: float, width: float) -> NDArray:
    """Return the open share of each dot, over that of a whole period; openings [start, start + width)."""
    turns, rest = np.divmod(edges - start, period)
    opened = turns * width + np.minimum(rest, width)
    share: NDArray = np.diff(opened) / np.diff(edges) * (period / width)
    return share
