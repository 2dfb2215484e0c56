"""Landed lines near outlines: as many for each, and only those on which anything of it can be seen.

All that is found of an outline on the screen is an array over outlines and lines; where a chain's weights are
known, most of the lines near an outline show nothing of it, and need not be worked out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scalesim.metrics.outlines.found import SourceOutlines
from scalesim.metrics.outlines.strips import Array


@dataclass(frozen=True, eq=False)
class Near:
    """Consecutive landed lines near each outline.

    Parameters:
        first : (outlines,) the first of them
        count : how many there are of each
        middle, reach : (outlines,) where an outline lies, and how far from there it is looked at, in lines
        landed : landed lines in all
    """

    first: Array
    count: int
    middle: Array
    reach: Array
    landed: int

    @classmethod
    def of(cls, middle: Array, reach: Array, landed: int) -> Near:
        """Return all lines within reach of each middle."""
        side = int(np.ceil(reach.max())) + 1
        return cls(np.floor(middle).astype(np.int64) - side, 2 * side + 1, middle, reach, landed)

    @cached_property
    def lines(self) -> Array:
        """(outlines, lines) the lines."""
        lines = self.first + np.arange(self.count)[:, None]
        return lines.T  # outlines along the memory: quicker than rows of a few lines

    @cached_property
    def away(self) -> Array:
        """(outlines, lines) how far their middles are from the outline's."""
        away: Array = np.abs(self.lines + 0.5 - self.middle[:, None])
        return away

    @cached_property
    def looked_at(self) -> Array:
        """(outlines, lines) whether they are within reach, and on the screen."""
        lines = self.lines
        looked_at: Array = (self.away < self.reach[:, None]) & (lines >= 0) & (lines < self.landed)
        return looked_at

    def only(self, some: Array) -> Near:
        """Return the lines of some outlines, (outlines,) bool."""
        return Near(self.first[some], self.count, self.middle[some], self.reach[some], self.landed)

    def shown(self, found: SourceOutlines, first: Array, last: Array) -> Near:
        """Return the lines on which a chain puts any of each outline, and one more on either side.

        All of them where it puts it on none, or where that is not fewer.

        Parameters:  first, last : (source lines + 1,) the first and last landed line that shows a source line
        """
        ends = np.clip(np.stack(found.ends, axis=1), (0, 1), (len(first) - 2, len(first) - 1))
        at = ends.ravel()  # each second range is from the end of an outline to the next, and of no use
        top, bottom = np.minimum.reduceat(first, at)[::2] - 1, np.maximum.reduceat(last, at)[::2] + 2
        end = self.first + self.count
        lost = bottom - top < 3
        top = np.where(lost, self.first, np.maximum(top, self.first))
        bottom = np.where(lost, end, np.minimum(bottom, end))
        count = max(int((bottom - top).max(initial=1)), 1)
        if count >= self.count:
            return self
        return Near(np.minimum(top, end - count), count, self.middle, self.reach, self.landed)

    def on(self, whole: Near, values: Array) -> Array:
        """Return (outlines, lines) values of these lines among those of `whole`, which has them; else 0."""
        if self is whole:
            return values
        out = np.zeros((whole.count, len(values)), values.dtype)
        places = self.first - whole.first + np.arange(self.count)[:, None]
        np.put_along_axis(out, places, values.T, axis=0)
        return out.T
