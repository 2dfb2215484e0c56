"""`SourceOutlines`: the outlines of a source as arrays, see `outlines.source`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from scalesim.metrics.outlines.strips import Array


@dataclass(frozen=True, eq=False)
class SourceOutlines:
    """Outlines as arrays: one entry per piece (an outline within one strip), pieces in the order of outlines.

    Parameters:
        strip : (pieces,) the strip of each piece
        contrast : (pieces,) level minus the mean of the backgrounds above and below; negative when dark
        starts : (outlines,) index of each outline's first piece
        first : (outlines,) source line of the first entry of `profile`
        profile : (outlines, rows) share of the contrast, 0..1, of consecutive source lines
    """

    strip: Array
    contrast: Array
    starts: Array
    first: Array
    profile: Array

    def __len__(self) -> int:
        """Return the number of outlines."""
        return len(self.starts)

    @cached_property
    def pieces(self) -> Array:
        """Number of pieces of each outline: its length in strips."""
        return np.diff(np.append(self.starts, len(self.strip)))

    @cached_property
    def thickness(self) -> Array:
        """Thickness in source lines: the sum of the profile."""
        thickness: Array = self.profile.sum(axis=1)
        return thickness

    @cached_property
    def middle(self) -> Array:
        """Middle of the outline as a source line coordinate (edges at integers)."""
        middle: Array = self.first + self.profile @ (np.arange(self.profile.shape[1]) + 0.5) / self.thickness
        return middle

    @cached_property
    def ends(self) -> tuple[Array, Array]:
        """First source line of each outline, and the first one below it."""
        shown = self.profile > 0
        bottom = self.first + self.profile.shape[1] - shown[:, ::-1].argmax(axis=1)
        return self.first + shown.argmax(axis=1), bottom

    @cached_property
    def level(self) -> Array:
        """Contrast of each outline, (outlines,): the mean over its pieces."""
        return self.mean(self.contrast)

    def mean(self, values: Array) -> Array:
        """Return the least-squares mean of (..., pieces) values over each outline: weights are the contrast
        squared.
        """
        if not len(self.starts):
            return np.zeros((*values.shape[:-1], 0))
        total: Array = np.add.reduceat(values * self._weight, self.starts, axis=-1)
        return total / self._whole

    @cached_property
    def _weight(self) -> Array:
        return self.contrast.astype(np.float64) ** 2

    @cached_property
    def _whole(self) -> Array:
        return np.add.reduceat(self._weight, self.starts)

    def within(self, lines: range) -> SourceOutlines:
        """Return the outlines within these source lines, with a line of background on either side."""
        top, bottom = self.ends
        inside = (top > lines.start) & (bottom < lines.stop)
        return self if inside.all() else self.only(inside)

    def only(self, some: Array) -> SourceOutlines:
        """Return some of the outlines, (outlines,) bool."""
        pieces = self.pieces
        kept = np.repeat(some, pieces)
        starts = np.cumsum(pieces[some]) - pieces[some]
        return SourceOutlines(
            self.strip[kept], self.contrast[kept], starts, self.first[some], self.profile[some]
        )
