"""One captured field against the chart's codes, and the source lines under each of its lines."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.core.encoding import code_to_light, light_to_code

Domain = Literal["code", "light"]
DOMAINS: tuple[Domain, ...] = ("code", "light")
_STEEPEST = 12.0
"""Code values rise without limit at black light; a little above the chart's dark level they rise by 8."""


@dataclass(frozen=True)
class FieldLines:
    """One field of a capture against the chart.

    Parameters:
        levels : (lines, cells) captured levels after the tone was taken off, code values
        usable : (lines,) bool, lines that may carry codes
        codes : (source lines, cells) of 0 and 1, float64
        coded : (source lines,) bool
        low, high : levels of codes 0 and 1
        floor, ceiling : levels beyond which the box or the capture clips
        blended : whether the recorder may have mixed each line with its neighbours above and below
    """

    levels: NDArray
    usable: NDArray
    codes: NDArray
    coded: NDArray
    low: float
    high: float
    floor: float = 0.0
    ceiling: float = 1.0
    blended: bool = False

    @property
    def lines(self) -> int:
        """Captured lines of the field."""
        return len(self.levels)

    def values(self, domain: Domain) -> NDArray:
        """Return the captured levels with code 0 at 0 and code 1 at 1, in code values or in light."""
        if domain == "code":
            return (self.levels - self.low) / (self.high - self.low)
        low, high = code_to_light(np.array([self.low, self.high]))
        return (code_to_light(self.levels) - low) / (high - low)

    def to_code(self, mixed: NDArray, domain: Domain) -> NDArray:
        """Return mixed codes as `values("code")` has them, clipped as the capture is."""
        if domain == "light":
            low, high = code_to_light(np.array([self.low, self.high]))
            mixed = (light_to_code(low + (high - low) * mixed) - self.low) / (self.high - self.low)
        floor, ceiling = (np.array([self.floor, self.ceiling]) - self.low) / (self.high - self.low)
        return np.clip(mixed, floor, ceiling)

    def slope(self, mixed: NDArray, domain: Domain) -> NDArray:
        """Return by how much `to_code` grows with mixed codes: 0 where the capture clips."""
        small = 1e-4
        rise = self.to_code(mixed + small, domain) - self.to_code(mixed - small, domain)
        return np.minimum(rise / (2 * small), _STEEPEST)


@dataclass(frozen=True)
class Windows:
    """The source lines under every captured line.

    Parameters:
        place : where line r's middle looks: place(r + 1/2)
        reach : source lines to either side
        rows : (n,) captured lines that see codes alone
        nearest : (n,) the source line each looks at
        fraction : (n,) where in that line, 0..1
        sources : (n, 2*reach + 1, cells)
    """

    place: Affine
    reach: int
    rows: NDArray
    nearest: NDArray
    fraction: NDArray
    sources: NDArray

    @property
    def distances(self) -> NDArray:
        """Return (n, width) distances of the source lines' middles from where each line looks."""
        offsets = np.arange(-self.reach, self.reach + 1)
        return offsets[None, :] + 0.5 - self.fraction[:, None]


def windows(field: FieldLines, place: Affine) -> Windows:
    """Return the windows of the lines that see nothing but codes within three steps."""
    reach = int(np.ceil(3 * place.scale)) + 2
    core = int(np.ceil(2.6 * place.scale)) + 1
    middles = place(np.arange(field.lines) + 0.5)
    # a hair more, so that lines that look at one place of their source lines are not split by rounding
    nearest = np.floor(middles + 1e-7).astype(int)
    inside = (nearest - core >= 0) & (nearest + core < len(field.codes)) & field.usable
    gaps = np.concatenate([[0], np.cumsum(~field.coded)])
    low = np.clip(nearest - core, 0, len(field.codes))
    high = np.clip(nearest + core + 1, 0, len(field.codes))
    rows = np.flatnonzero(inside & (gaps[high] == gaps[low]))
    columns = np.clip(nearest[rows, None] + np.arange(-reach, reach + 1), 0, len(field.codes) - 1)
    fraction = (middles - nearest)[rows]
    return Windows(place, reach, rows, nearest[rows], fraction, field.codes[columns])
