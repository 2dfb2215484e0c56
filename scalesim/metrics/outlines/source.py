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

    @cached_property
    def outline(self) -> Array:
        """Number of the outline of each piece."""
        return np.repeat(np.arange(len(self.starts)), self.pieces)

    def mean(self, values: Array) -> Array:
        """Return the least-squares mean of (..., pieces) values over each outline: weights are the contrast
        squared.
        """
        if not len(self.starts):
            return np.zeros((*values.shape[:-1], 0))
        total: Array = np.add.reduceat(values * self._weight, self.starts, axis=-1)
        return total / self._whole

    def mean_of_few(self, values: Array, which: Array) -> Array:
        """Return the same of values that are 0 in all pieces but some, (outlines,).

        Parameters:  values : of some pieces; which : their indices
        """
        weighted = values * self._weight.take(which)
        return np.bincount(self.outline.take(which), weighted, len(self.starts)) / self._whole

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
    return _noise(np.diff(strips, axis=0))


def _noise(steps: Array) -> float:
    """Return that noise, from the steps between the lines."""
    if min(steps.shape[0] - 1, steps.shape[1] - 2) < 1:
        return 0.0
    return float(1.4826 / 6 * np.median(_unevenness(steps)))


def _unevenness(steps: Array) -> Array:
    """Return the magnitude of the second difference along both axes, of every other line."""
    down = steps[1::2] - steps[: len(steps) // 2 * 2 : 2]
    along = np.diff(down, n=2, axis=1)
    return np.abs(along, out=along)


def _least_step(steps: Array) -> float:
    """Return what a step exceeds: max(16/255, 6 sigma).

    In most pictures so many places are even that 6 sigma must be the smaller: no median is looked for.
    """
    if min(steps.shape[0] - 1, steps.shape[1] - 2) < 1:
        return LEAST_CONTRAST
    uneven = _unevenness(steps)
    if np.count_nonzero(uneven < 0.99 * LEAST_CONTRAST / 1.4826) > uneven.size // 2 + 1:
        return LEAST_CONTRAST
    return max(LEAST_CONTRAST, 6 * _noise(steps))


def find_outlines(strips: Array, thickest: float) -> SourceOutlines:
    """Return the outlines of a (lines, strips) picture that are at most `thickest` source lines thick."""
    strips = np.ascontiguousarray(strips)
    steps = np.diff(strips, axis=0)
    limit = _least_step(steps)
    signs = _signs(steps, limit)
    pairs = _pairs(signs, thickest)
    pairs = pairs.only(pairs.long)  # what follows is the cost, and most of a texture is short
    contrast, thickness, soft = _measured(strips, signs, limit, pairs)
    good = np.flatnonzero((contrast != 0) & (thickness <= thickest + 1e-6))
    good = good[pairs.only(good).long]
    pairs, contrast, soft = pairs.only(good), contrast[good], [rows.only(good) for rows in soft]
    starts = pairs.starts
    first, rows = pairs.first[starts], pairs.rows[starts]
    pieces = SourceOutlines(pairs.strip, contrast, starts, first, np.ones((len(starts), 1)))
    top, profile = _profiles(rows, [pieces.mean_of_few(each.share, each.piece) for each in soft])
    return replace(pieces, first=first + top, profile=profile)


def _signs(steps: Array, limit: float) -> Array:
    """Return (SOFT_ROWS + lines - 1 + SOFT_ROWS, strips) int8, of the step below every line.

    0 where there is none, and in rows above and below the picture.
    """
    signs = np.zeros((len(steps) + 2 * SOFT_ROWS, steps.shape[1]), np.int8)
    inner = signs[SOFT_ROWS : SOFT_ROWS + len(steps)]
    np.subtract((steps > limit).view(np.int8), (steps < -limit).view(np.int8), out=inner)
    return signs


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
    def _goes_on(self) -> Array:
        """(pairs - 1,) whether the next pair is a piece of the same outline.

        An outline is pairs of one sign in neighbouring strips, on the same rows.
        """
        goes_on: Array = np.diff(self.strip) == 1
        for values in (self.first, self.rows, self.sign):
            goes_on &= values[1:] == values[:-1]
        return goes_on

    @property
    def starts(self) -> Array:
        """Index of each outline's first piece."""
        return np.flatnonzero(np.concatenate(([True], ~self._goes_on))[: len(self.first)])

    @property
    def long(self) -> Array:
        """Indices of the pairs whose outline goes on for enough strips."""
        lengths = np.diff(self.starts, append=len(self.first))
        return np.flatnonzero(np.repeat(lengths >= LEAST_STRIPS, lengths))


def _pairs(signs: Array, thickest: float) -> _Pairs:
    """Return the pairs of consecutive opposite steps with at most `thickest` rows between them.

    Parameters:  signs : of the steps, see `_signs`
    """
    inner = signs[SOFT_ROWS:-SOFT_ROWS]
    at = np.flatnonzero(inner != 0)
    step = at // signs.shape[1]
    strip = at - step * signs.shape[1]
    sign = inner.ravel().take(at)
    down = np.argsort(strip.astype(np.int16), kind="stable")  # strip by strip, each from top to bottom
    apart = np.diff(step.take(down))  # to the first of the next strip it may be anything
    ok = (apart > 0) & (apart <= thickest + 1e-6) & (np.diff(sign.take(down)) != 0)
    ok &= np.diff(strip.take(down)) == 0
    some = np.flatnonzero(ok)
    rows = np.zeros(len(at), np.int64)
    rows[down.take(some)] = apart.take(some)
    found = np.flatnonzero(rows)
    return _Pairs(step.take(found) + 1, strip.take(found), rows.take(found), sign.take(found))


@dataclass(frozen=True, eq=False)
class _Soft:
    """The rows of soft edges at one distance from the cores of pieces: which piece, its share, 0..1."""

    piece: Array
    share: Array

    def only(self, which: Array) -> _Soft:
        """Return those of some pieces, by their rising indices, and number the pieces by these."""
        place = np.searchsorted(which, self.piece)
        kept = which.take(place, mode="clip") == self.piece if len(which) else np.zeros(len(place), bool)
        return _Soft(place[kept], self.share[kept])


def _measured(strips: Array, signs: Array, limit: float, pairs: _Pairs) -> tuple[Array, Array, list[_Soft]]:
    """Return each piece's contrast, 0 where too faint, its thickness, and the rows of its soft edges.

    Returns: (pieces,), (pieces,), and 2 * SOFT_ROWS of rows: those above, from the edge upwards, then those
        below, from the edge downwards
    """
    wide, values, rows, sign = strips.shape[1], strips.ravel(), pairs.rows, pairs.sign
    top = (pairs.first - 1) * wide + pairs.strip  # the place of the last row above, and of the step below it
    bottom = top + (rows + 1) * wide
    soft_above = _soft_rows(signs, top - wide, -wide, sign)
    soft_below = _soft_rows(signs, bottom, wide, -sign)
    above, below = values.take(top - soft_above * wide), values.take(bottom + soft_below * wide)
    level = _level(values, top + wide, wide, rows)
    thickness, found = rows.astype(np.float64), []
    for background, soft, edge, way in ((above, soft_above, top, -wide), (below, soft_below, bottom, wide)):
        for further in range(SOFT_ROWS):
            at = np.flatnonzero(soft > further)
            ground = background.take(at)
            rise = level.take(at) - ground
            clear = np.abs(rise) > limit / 2
            at, ground, rise = at[clear], ground[clear], rise[clear]
            value = values.take(edge.take(at) + way * further)
            found.append(_Soft(at, np.clip((value - ground) / rise, 0, 1).astype(np.float64)))
            thickness[at] += found[-1].share
    least = np.minimum(sign * (level - above), sign * (level - below))
    return np.where(least > limit, level - (above + below) / 2, 0), thickness, found


def _level(values: Array, first: Array, wide: int, rows: Array) -> Array:
    """Return the mean of rows below each other, (pairs,).

    Parameters:  first : (pairs,) place of the first; wide : places from one to the next; rows : how many
    """
    total = values.take(first)
    at = np.flatnonzero(rows > 1)
    for further in range(1, int(rows.max(initial=1))):
        total[at] += values.take(first.take(at) + further * wide)
        at = at[rows.take(at) > further + 1]
    level: Array = total / rows
    return level


def _profiles(rows: Array, soft: list[Array]) -> tuple[int, Array]:
    """Return where profiles begin, in lines below the first of the core, and the profiles, (outlines, rows).

    The rows of the core count whole.

    Parameters:  rows : (outlines,) of the core; soft : (outlines,) shares of the rows beside, see `_measured`
    """
    outlines = np.arange(len(rows))
    most = int(rows.max(initial=1))
    profile = np.zeros((most + 2 * SOFT_ROWS, len(rows)))  # outlines along the memory
    for row in range(most):
        profile[SOFT_ROWS + row] = rows > row
    for further in range(SOFT_ROWS):
        profile[SOFT_ROWS - 1 - further] = soft[further]
        profile[SOFT_ROWS + rows + further, outlines] = soft[SOFT_ROWS + further]
    used = np.flatnonzero(profile.any(axis=1))
    top, bottom = (used[0], used[-1] + 1) if len(used) else (0, 1)
    return int(top) - SOFT_ROWS, profile[top:bottom].T


def _soft_rows(signs: Array, place: Array, way: int, sign: Array) -> Array:
    """Count how many steps in a row have the sign asked for, at most SOFT_ROWS.

    Parameters:  place : (pairs,) of the first step; way : places from one to the next; see `_signs`
    """
    inner = place + SOFT_ROWS * signs.shape[1]
    alike = signs.ravel().take(inner) == sign
    count = alike.astype(np.int64)
    for further in range(1, SOFT_ROWS):
        at = np.flatnonzero(alike)
        alike = np.zeros(len(place), bool)
        alike[at] = signs.ravel().take(inner.take(at) + further * way) == sign.take(at)
        count += alike
    return count
