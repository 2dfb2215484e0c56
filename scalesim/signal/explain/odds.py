"""How sure it is that one prediction explains a photo better than another.

Odds stop at what trials bear. Of 48 simulated photos (tests/camera/explained_trials.py) 36 were told, all
rightly, and one tie left out the right chain; after shake was fitted, 15 drawn anew were told, all of them
rightly. With that tie counted as wrong the rule of succession gives 52 to 2, or 26 to 1; at 95 % the 51 that
were told bear no fewer than 16 to 1.
"""

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
