"""How visible a tear is: the step along it.

Where the two source pictures that meet at a tear are alike, nothing shows: a still scene hides every tear, a
sideways pan breaks each vertical seam by as far as the scene moved. Definition of this project: on the two
lines that meet, the luma of both source pictures is compared sample by sample; the step is the mean
difference, and what is seen of it the share of samples that differ by more than 8 codes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import luma

SEEN = 8 / 255
"""Difference of luma, code values, from which a sample counts as stepped: above most noise."""
LEAST_SHARE = 0.01
"""Share of the line that must step for a tear to show: 13 of 1280 samples, one thin seam."""
_FARTHEST = 96
_AROUND = 4
_BETTER = 0.5


@dataclass(frozen=True)
class TearStep:
    """The step along a tear.

    Parameters:
        step : mean difference of luma along it, of white, 0..1
        share : of its samples that differ by more than 8 codes, 0..1
        shift : samples by which seams are broken, below the tear to the right above 0; None where no
            sideways movement explains the difference
    """

    step: float
    share: float
    shift: int | None

    @property
    def shows(self) -> bool:
        """Whether the tear can be seen at all."""
        return self.share >= LEAST_SHARE


def tear_step(above: NDArray, below: NDArray, line: int) -> TearStep:
    """Return the step along a tear.

    Parameters:
        above, below : (lines, samples, 3) code values of the source pictures above and below the tear, on
            the raster where it stands
        line : first line, from 0, that shows `below`; 1 to lines - 1
    """
    meet = slice(line - 1, line + 1)
    apart = np.abs(luma(below[meet]) - luma(above[meet])).mean(axis=0)
    around = slice(max(line - _AROUND, 0), line + _AROUND)
    share = float((apart > SEEN).mean())
    shift = _shift(luma(above[around]), luma(below[around])) if share >= LEAST_SHARE else 0
    return TearStep(float(apart.mean()), share, shift)


def _shift(above: NDArray, below: NDArray) -> int | None:
    """Return by how many samples to the right `below` fits `above` best, None where no shift fits well."""
    reach = min(_FARTHEST, above.shape[1] // 4)
    middle = slice(reach, above.shape[1] - reach)
    fixed = above[:, middle]
    errors = [
        float(((below[:, reach + k : above.shape[1] - reach + k] - fixed) ** 2).mean())
        for k in range(-reach, reach + 1)
    ]
    best = int(np.argmin(errors)) - reach
    return best if best and errors[best + reach] < _BETTER * errors[reach] else None
