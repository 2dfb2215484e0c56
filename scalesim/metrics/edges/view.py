"""Source and output across one axis, and which output lines look at the source alike (see `kernel`)."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine

_MOST_CLASSES, _EIGHTHS = 16, 8


@dataclass(frozen=True, eq=False)
class View:
    """Source and output across one axis, where the display shows them.

    Parameters:
        source : (source lines, visible strips) code values
        landed : (output lines, visible strips) code values
        look : map from output lines to source lines
        seen : the visible output lines
        pitch : scan lines per output line: 1, or 1/2 when interlaced
        doublings : how often n may double: along the line filters are wider than across the lines
    """

    source: NDArray
    landed: NDArray
    look: Affine
    seen: slice
    pitch: float = 1.0
    doublings: int = 2

    @property
    def per_scan_line(self) -> float:
        """Source lines per scan line."""
        return abs(self.look.scale) / self.pitch


@dataclass(frozen=True, eq=False)
class Classes:
    """Which output lines look at the source alike.

    Parameters:  look : map from output lines to source lines; period : output lines after which it repeats, 0
                 when it does not; fields : 2 when even and odd lines are of different fields, else 1
    """

    look: Affine
    period: int
    fields: int

    @classmethod
    def of(cls, view: View) -> Classes:
        """Return the classes of a view."""
        fields = 2 if view.pitch != 1 else 1
        near = Fraction(abs(view.look.scale)).limit_denominator(_MOST_CLASSES)
        drift = abs(float(near) - abs(view.look.scale)) * len(view.landed)
        return cls(view.look, lcm(near.denominator, fields) if drift < 0.05 else 0, fields)

    @property
    def count(self) -> int:
        """How many classes there are."""
        return self.period or self.fields * _EIGHTHS

    def __call__(self, lines: NDArray) -> NDArray:
        """Return the class of output lines."""
        if self.period:
            return lines % self.period
        centre = self.look(lines + 0.5) + 1e-6
        eighth = np.floor((centre - np.floor(centre)) * _EIGHTHS).astype(np.int64)
        return np.minimum(eighth, _EIGHTHS - 1) * self.fields + lines % self.fields

    def first(self, lines: NDArray) -> NDArray:
        """Return the source line an output line looks at."""
        return np.floor(self.look(lines + 0.5) + 1e-6).astype(np.int64)


def inside(view: View, classes: Classes, reach: int) -> NDArray:
    """Return the visible output lines whose taps, `reach` source lines either way, all lie on the source."""
    lines = np.arange(max(0, view.seen.start), min(len(view.landed), view.seen.stop))
    first = classes.first(lines)
    return lines[(first >= reach) & (first < len(view.source) - reach)]
