"""Whether lines fall off faster than beams do: a camera that sharpened draws them so.

A1 and A2 are the first and second harmonic of a folded line over its mean. A Gaussian beam has
A_h = 2 exp(-2 pi^2 s^2 h^2), so that A2 = 2 (A1/2)^4; a mixture of beams of several widths, however blurred,
has more (Jensen's inequality, x^4 being convex). Sharpening raises A1 by more than that allows. So do two
fields that land up to a quarter of a line apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalesim.signal.glass.profile import Profile

LEAST = 0.95
"""Of A2 over 2 (A1/2)^4: below, it is no beam. Pixels take 0.01 off at 5 pixels a line, noise the rest."""

SECOND = 0.05
"""Least A2 that is not lost in noise and mask."""


@dataclass(frozen=True)
class Harmonics:
    """A1 and A2 of a line, and their ratio, 1 for a Gaussian beam; n : pixels."""

    first: float
    second: float
    pixels: int

    @property
    def ratio(self) -> float:
        """A2 over what a Gaussian beam of this A1 has."""
        return self.second / (2 * (self.first / 2) ** 4)


def harmonics(profiles: Sequence[Profile]) -> Harmonics | None:
    """Return the harmonics of the brighter half's lines; None where there are none, or A2 is too low to tell.

    Parameters:  profiles : as `profile.profiles` gives them, the brighter half first
    """
    if not profiles:
        return None
    light = np.asarray(profiles[0].light)
    first, second = (2 * float(abs(np.fft.rfft(light)[h])) / float(light.sum()) for h in (1, 2))
    return Harmonics(first, second, profiles[0].n) if second >= SECOND else None
