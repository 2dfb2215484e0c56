"""Which source picture stands on each line of a picture that a free-running clock puts out.

The law, exact in fractions. Output picture k is read out from ``k/g`` seconds on, its line r of N at
``(k + (r/N) scan)/g``. By then the source (rate f, `start` pictures ahead) is at place
``start + (k + (r/N) scan) f/g``, counted in its pictures, and a line as far down as r has been overtaken by
the writing once the place is `fill` ``r/N`` past the picture's beginning:

    n(k, r) = floor(start + (k + (r/N) scan) f/g - (r/N) fill)

- `fill` 0: the buffer changes to each new picture at once; in nearly every output picture there is one tear,
  which moves by ``g/f - 1`` heights from picture to picture.
- `fill` 1: one memory, written line by line while it is read: reading and writing move together, and the tear
  passes the whole picture within a few pictures, once in a wrap.
- a frame-locked double buffer takes n at its first line, for all lines.

With two fields, line r of a field of parity q shows the newest field of that parity: n is taken in steps
of two, from q on.

Source: definition of this project, from the reading and writing times of a frame memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class SlipLaw:
    """The law of one buffer between two clocks.

    Parameters:
        ratio : source pictures for each output picture, f/g, above 0
        lines : of a picture
        whole : a frame-locked double buffer: every line of a picture comes from one source picture
        start : how far the source is ahead when the first output picture begins, in source pictures
        fill : how long the source takes to write a picture, of its period; 0 changes it at once
        scan : how long the output takes to read a picture, of its period
        period : pictures of one cycle of fields: 1 progressive, 2 with two fields
    """

    ratio: Fraction
    lines: int
    whole: bool = False
    start: Fraction = Fraction(0)
    fill: Fraction = Fraction(0)
    scan: Fraction = Fraction(1)
    period: int = 1

    def shown(self, picture: int) -> NDArray:
        """Return (lines,) whole numbers: the source picture on each line of an output picture, all from 0.

        Lines read before anything was written show source picture 0 (or the first one of their parity).
        """
        phase = picture % self.period
        if self.whole:
            at_start = self.start + (picture - phase) * self.ratio
            return np.full(self.lines, self._newest(at_start, phase), dtype=np.int64)
        begin = self.start + picture * self.ratio
        slope = (self.scan * self.ratio - self.fill) / self.lines
        first = self._newest(begin, phase)
        last = self._newest(begin + slope * (self.lines - 1), phase)
        if first == last:
            return np.full(self.lines, first, dtype=np.int64)
        # over one denominator all is whole numbers: exact, and no fraction is made for each line
        parts = lcm(begin.denominator, slope.denominator)
        base, step = int(begin * parts) - phase * parts, int(slope * parts)
        cycle = self.period * parts
        found = [phase + self.period * max(0, (base + step * r) // cycle) for r in range(self.lines)]
        return np.array(found, dtype=np.int64)

    def _newest(self, place: Fraction, phase: int) -> int:
        return phase + self.period * max(0, (place - phase) // self.period)

    def span(self, picture: int) -> tuple[int, int]:
        """Return the lowest and the highest source picture that an output picture shows."""
        shown = self.shown(picture)
        return int(shown.min()), int(shown.max())

    def tears(self, picture: int) -> tuple[int, ...]:
        """Return the lines, from 0, that show another source picture than the line above them."""
        return tuple(int(r) + 1 for r in np.flatnonzero(np.diff(self.shown(picture))))
