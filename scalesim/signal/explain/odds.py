"""How sure it is that one prediction explains a photo better than another."""

from __future__ import annotations

import math

from scalesim.signal.explain.between import Between

MOST = 20.0
CLEAR = 3.0
"""Odds below which two predictions are not told apart."""

UNEXPLAINED = 0.25
"""Share of the tiles' variance that the best prediction may leave and still be called an explanation."""


def odds_of(found: Between) -> float:
    """Return the odds, to 1, that the first of two predictions made a photo, not the second: 1 to `MOST`."""
    return min(MOST, math.exp(max(0.0, min(found.likelihood, 99.0))))
