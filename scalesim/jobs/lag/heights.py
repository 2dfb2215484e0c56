"""Height in the picture: what the scan alone adds, so that lag is told for the middle."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError

WORDS = {"top": 0.0, "middle": 0.5, "centre": 0.5, "center": 0.5, "bottom": 1.0}
_ACTIVE = {50: Fraction(288 * 2, 625), 60: Fraction(240 * 2, 525)}
"""Active lines of all lines of a field at 15 kHz (ITU-R BT.1700: 288 of 312.5, 240 of 262.5 here)."""


def scan_ms(rate: Fraction) -> float:
    """Return how long a 15 kHz tube draws from the picture's top to its bottom, ms."""
    return float(1000 / rate * _ACTIVE[60 if rate > 55 else 50])


def height_of(text: str) -> float:
    """Return a height, 0 top to 1 bottom.

    Raises: ParameterError for what is neither a word nor a number from 0 to 1
    """
    word = text.strip().lower()
    if word in WORDS:
        return WORDS[word]
    try:
        found = float(word)
    except ValueError:
        found = -1.0
    if not 0 <= found <= 1:
        raise ParameterError(f"height: is '{text[:40]}'; write top, middle, bottom, or 0 (top) to 1 (bottom)")
    return found


def to_middle(lags: NDArray, heights: NDArray, scan: float) -> NDArray:
    """Return what the middle of the picture would read, ms: the scan reaches what lies lower later."""
    return np.asarray(lags + (0.5 - heights) * scan, dtype=np.float64)
