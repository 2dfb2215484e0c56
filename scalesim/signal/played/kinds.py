"""What moves from one source picture to the next: nothing, a pan, a scroll, a cut, or something else.

The mean line of a picture moves sideways in a pan, its mean column moves up or down in a scroll. The shift of
either that leaves the least difference explains a share of the change. Definitions of this project:

- still: the pictures differ by less than 0.3 codes in the mean;
- pan, scroll: a shift of half a sample or line or more explains 60 % of the squared change of the mean line,
or
  of the mean column; 85 % where the pictures differ by 10 codes or more in the mean;
- cut: they differ by that much, and neither shift explains it;
- other: what is left, such as things that move before a still background.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.played.reduced import Small

Kind = Literal["still", "pan", "scroll", "cut", "other"]
KINDS: tuple[Kind, ...] = ("still", "pan", "scroll", "cut", "other")
_STILL, _CUT = 0.3, 10.0
_EXPLAINS, _EXPLAINS_MUCH = 0.6, 0.85
_REACH = 48
_LEAST_SHIFT = 0.5
_FLAT = 0.02
"""Mean squared change of a profile, in codes, below which there is nothing to explain."""


def kind_of(before: Small, now: Small) -> Kind:
    """Return the kind of motion between two frames of one size."""
    changed = float(np.abs(now.lines - before.lines).mean())
    if changed < _STILL:
        return "still"
    across = _explained(before.across, now.across)
    down = _explained(before.lines.mean(axis=1), now.lines.mean(axis=1))
    if max(across, down) >= (_EXPLAINS if changed < _CUT else _EXPLAINS_MUCH):
        return "pan" if across >= down else "scroll"
    return "cut" if changed >= _CUT else "other"


def _explained(before: NDArray[np.float32], now: NDArray[np.float32]) -> float:
    """Return the share of the squared change of a profile that the best shift of it explains, 0 for none."""
    places = np.arange(len(before))
    reach = min(_REACH, len(before) // 4)
    inside = slice(reach, len(before) - reach)
    still = float(((now - before)[inside] ** 2).mean())
    if still < _FLAT:
        return 0.0
    shifts = np.arange(_LEAST_SHIFT, reach + 0.1, _LEAST_SHIFT)
    left = min(
        float(((now - np.interp(places - shift, places, before))[inside] ** 2).mean())
        for shift in (*-shifts, *shifts)
    )
    return 1 - left / still
