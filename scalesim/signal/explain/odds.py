"""How sure it is that one prediction explains a photo better than another.

Odds stop at what trials bear. Of 48 simulated photos (tests/camera/explained_trials.py) 36 were told, all
rightly, 29 of them at the most odds, and one tie left out the right chain: by the rule of succession that is
37 to 2, about 19 to 1, and at 95 % no fewer than 11 to 1 for those told.
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
