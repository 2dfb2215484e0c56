"""Outlines in the source: thin horizontal detail, found once and the same for every chain.

The picture is averaged along the line in strips of 1/240 of its width, which beats noise and keeps
slanted detail out. Within a strip, a *step* is a difference between adjacent lines above
``max(16/255, 6 sigma)``, sigma being the noise of the strips. An *outline* is a pair of consecutive
steps of opposite sign, thin enough, that goes on for at least two strips; it may be dark or light.
Steps of the same sign right beside it belong to its soft edge (antialiased art): the rows there
count by their share of the outline's contrast.

Definition of this project. Axes are (lines, strips); luma is in code values 0..1.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from scalesim.metrics.outlines.strips import Array

LEAST_CONTRAST = 16 / 255
"""Fainter steps are texture; this is a fourteenth of the way from 8-bit video black to white."""

LEAST_STRIPS = 2
SOFT_ROWS = 2
"""Most rows of a soft edge on either side of an outline."""


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
        rows = self.first[:, None] + np.arange(self.profile.shape[1]) + 0.5
        middle: Array = (self.profile * rows).sum(axis=1) / self.thickness
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


def strip_noise(strips: Array) -> float:
    """Return the standard deviation of the noise of strips.

    Median absolute deviation of the second difference along both axes, whose taps' squares sum to 36:
    detail along either axis alone cancels. Every other line is enough.
    """
    if min(strips.shape) < 3:
        return 0.0
    return float(1.4826 / 6 * np.median(_unevenness(strips)))


def _unevenness(strips: Array) -> Array:
    """Return the magnitude of the second difference along both axes, of every other line."""
    down = strips[:-2:2] - 2 * strips[1:-1:2] + strips[2::2]
    along = np.diff(down, n=2, axis=1)
    return np.abs(along, out=along)


def _least_step(strips: Array) -> float:
    """Return what a step exceeds: max(16/255, 6 sigma).

    In most pictures so many places are even that 6 sigma must be the smaller: no median is looked for.
    """
    if min(strips.shape) < 3:
        return LEAST_CONTRAST
    uneven = _unevenness(strips)
    if np.count_nonzero(uneven < 0.99 * LEAST_CONTRAST / 1.4826) > uneven.size // 2 + 1:
        return LEAST_CONTRAST
    return max(LEAST_CONTRAST, 6 * strip_noise(strips))


def find_outlines(strips: Array, thickest: float) -> SourceOutlines:
    """Return the outlines of a (lines, strips) picture that are at most `thickest` source lines thick."""
    strips = np.ascontiguousarray(strips)
    limit = _least_step(strips)
    steps = np.diff(strips, axis=0)
    signs = (steps > limit).view(np.int8) - (steps < -limit).view(np.int8)
    pairs = _pairs(signs, thickest)
    pairs = pairs.only(pairs.long)  # what follows is the cost, and most of a texture is short
    contrast, soft = _measured(strips, signs, limit, pairs)
    good = np.flatnonzero((contrast != 0) & (pairs.rows + soft.sum(axis=0) <= thickest + 1e-6))
    good = good[pairs.only(good).long]
    pairs, contrast, soft = pairs.only(good), contrast[good], soft.take(good, axis=1)
    starts = pairs.starts
    first, rows = pairs.first[starts], pairs.rows[starts]
    pieces = SourceOutlines(pairs.strip, contrast, starts, first, np.ones((len(starts), 1)))
    top, profile = _profiles(rows, pieces.mean(soft))
    return replace(pieces, first=first + top, profile=profile)


@dataclass(frozen=True, eq=False)
class _Pairs:
    """Pairs of a step and the next one below it in the same strip, of the opposite sign.

    They are in the order of `first`, then `strip`: the pieces of one outline follow each other.

    Parameters:
        first : (pairs,) first row between the steps
        strip : (pairs,) the strip
        rows : (pairs,) rows between the steps
        sign : (pairs,) 1 where the rows between are lighter, -1 where they are darker
    """

    first: Array
    strip: Array
    rows: Array
    sign: Array

    def only(self, which: Array) -> _Pairs:
        """Return some of the pairs, by their indices."""
        return _Pairs(*(values.take(which) for values in (self.first, self.strip, self.rows, self.sign)))

    @cached_property
    def starts(self) -> Array:
        """Index of each outline's first piece: an outline is pairs of one sign in neighbouring strips, on
        the same rows.
        """
        apart = np.ones(len(self.first), dtype=bool)
        apart[1:] = np.diff(self.strip) != 1
        for values in (self.first, self.rows, self.sign):
            apart[1:] |= values[1:] != values[:-1]
        return np.flatnonzero(apart)

    @property
    def long(self) -> Array:
        """Indices of the pairs whose outline goes on for enough strips."""
        lengths = np.diff(self.starts, append=len(self.first))
        return np.flatnonzero(np.repeat(lengths >= LEAST_STRIPS, lengths))


def _pairs(signs: Array, thickest: float) -> _Pairs:
    """Return the pairs of consecutive opposite steps with at most `thickest` rows between them.

    Parameters:  signs : (lines - 1, strips) int8, of the step below every line, 0 where there is none
    """
    most = min(int(thickest + 1e-6), len(signs) - 1)
    kind = np.int8 if most <= np.iinfo(np.int8).max else np.int16
    waiting, rows = signs.copy(), np.zeros(signs.shape, kind)
    for further in range(1, most + 1):
        met = waiting[:-further] * signs[further:]
        rows[:-further] += (met < 0).view(np.int8) * kind(further)
        waiting[:-further] *= (met == 0).view(np.int8)
    at = np.flatnonzero(rows != 0)
    step = at // signs.shape[1]
    return _Pairs(step + 1, at - step * signs.shape[1], rows.ravel()[at].astype(np.int64), signs.ravel()[at])


def _measured(strips: Array, signs: Array, limit: float, pairs: _Pairs) -> tuple[Array, Array]:
    """Return each piece's contrast, 0 where too faint, and the shares of the rows of its soft edges.

    Returns: (pieces,) and (2 * SOFT_ROWS, pieces): the rows above, from the edge upwards, then the rows
        below, from the edge downwards
    """
    first, strip, rows, sign = pairs.first, pairs.strip, pairs.rows, pairs.sign
    soft_above = _soft_rows(signs, first - 2, -1, strip, sign)
    soft_below = _soft_rows(signs, first + rows, 1, strip, -sign)
    above = _at(strips, first - 1 - soft_above, strip)
    below = _at(strips, first + rows + soft_below, strip)
    level = _level(strips, pairs)
    shares = np.zeros((2 * SOFT_ROWS, len(first)))
    for number, (background, soft, edge, way) in enumerate(
        ((above, soft_above, first - 1, -1), (below, soft_below, first + rows, 1))
    ):
        rise = level - background
        for further in range(SOFT_ROWS):
            at = np.flatnonzero((soft > further) & (np.abs(rise) > limit / 2))
            value = _at(strips, edge[at] + way * further, strip[at])
            shares[number * SOFT_ROWS + further, at] = np.clip((value - background[at]) / rise[at], 0, 1)
    least = np.minimum(sign * (level - above), sign * (level - below))
    return np.where(least > limit, level - (above + below) / 2, 0), shares


def _level(strips: Array, pairs: _Pairs) -> Array:
    """Return the mean of the rows between the steps of each pair, (pairs,)."""
    total = _at(strips, pairs.first, pairs.strip)
    for further in range(1, int(pairs.rows.max(initial=1))):
        at = np.flatnonzero(pairs.rows > further)
        total[at] += _at(strips, pairs.first[at] + further, pairs.strip[at])
    level: Array = total / pairs.rows
    return level


def _profiles(rows: Array, soft: Array) -> tuple[int, Array]:
    """Return where profiles begin, in lines below the first of the core, and the profiles, (outlines, rows).

    The rows of the core count whole.

    Parameters:  rows : (outlines,) of the core; soft : (2 * SOFT_ROWS, outlines), see `_measured`
    """
    outlines = np.arange(len(rows))
    most = int(rows.max(initial=1))
    profile = np.zeros((len(rows), most + 2 * SOFT_ROWS))
    profile[:, SOFT_ROWS:-SOFT_ROWS] = np.arange(most) < rows[:, None]
    for further in range(SOFT_ROWS):
        profile[:, SOFT_ROWS - 1 - further] = soft[further]
        profile[outlines, SOFT_ROWS + rows + further] = soft[SOFT_ROWS + further]
    used = np.flatnonzero(profile.any(axis=0))
    top, bottom = (used[0], used[-1] + 1) if len(used) else (0, 1)
    return int(top) - SOFT_ROWS, np.ascontiguousarray(profile[:, top:bottom])


def _at(strips: Array, lines: Array, strip: Array) -> Array:
    """Return the values of lines in strips; beyond the picture, of its first or last line."""
    places = np.clip(lines, 0, len(strips) - 1) * strips.shape[1] + strip
    found: Array = strips.ravel().take(places)
    return found


def _soft_rows(signs: Array, step: Array, way: int, strip: Array, sign: Array) -> Array:
    """Count how many steps in a row, from `step` on upwards or downwards, have the sign asked for."""
    count = np.zeros(len(step), np.int64)
    going = np.ones(len(step), dtype=bool)
    for further in range(SOFT_ROWS):
        at = step + way * further
        going &= (at >= 0) & (at < len(signs))
        going &= _at(signs, at, strip) == sign
        count += going
    return count
