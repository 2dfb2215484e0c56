"""The pieces of outlines: pairs of a step and the next below it, of opposite signs, over some strips.

In NumPy, and by compiled loops where there are any: what both give is the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from scalesim.metrics.outlines.loops import LEAST_STRIPS, SOFT_ROWS
from scalesim.metrics.outlines.strips import Array

_ROUNDING = 1e-6
"""Rows by which an outline may be thicker than the thickest."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """The pieces of outlines, in the order of outlines.

    Parameters:
        strip, contrast, starts : as of `SourceOutlines`
        first, rows : (outlines,) first source line of each core, and its lines
        soft : 2 * SOFT_ROWS of (outlines,): shares of the rows above, from the edge upwards, then of those
            below, from the edge downwards
    """

    strip: Array
    contrast: Array
    starts: Array
    first: Array
    rows: Array
    soft: list[Array]


def pieces_by_loops(loops: Any, strips: Array, signs: Array, limit: float, thickest: float) -> Pieces:
    """Return the pieces by `outlines.loops`, compiled."""
    rows = np.zeros(strips.shape, np.int16)
    count = loops.pair(signs, thickest + _ROUNDING, rows)
    strip, starts, first, thick = np.empty((4, count), np.int64)
    contrast, soft = np.empty(count), np.empty((2 * SOFT_ROWS, count))
    limits = limit, thickest + _ROUNDING
    found, pieces = loops.gather(strips, signs, rows, limits, strip, contrast, starts, first, thick, soft)
    kept = slice(found)
    return Pieces(strip[:pieces], contrast[:pieces], starts[kept], first[kept], thick[kept], [*soft[:, kept]])


def pieces_of(strips: Array, signs: Array, limit: float, thickest: float) -> Pieces:
    """Return the pieces of outlines that are at most `thickest` source lines thick.

    Parameters:  strips : (lines, strips); signs : of the steps, see `source`; limit : what a step exceeds
    """
    pairs = _pairs(signs, thickest)
    pairs = pairs.only(pairs.long)  # what follows is the cost, and most of a texture is short
    contrast, thickness, soft = _measured(strips, signs, limit, pairs)
    good = np.flatnonzero((contrast != 0) & (thickness <= thickest + _ROUNDING))
    good = good[pairs.only(good).long]
    pairs, contrast, soft = pairs.only(good), contrast[good], [rows.only(good) for rows in soft]
    starts = pairs.starts
    weight = contrast**2
    outline = np.repeat(np.arange(len(starts)), np.diff(starts, append=len(contrast)))
    whole = np.bincount(outline, weight, len(starts))

    def mean(rows: _Soft) -> Array:
        weighted = rows.share * weight.take(rows.piece)
        return np.bincount(outline.take(rows.piece), weighted, len(starts)) / whole

    means = [mean(rows) for rows in soft]
    return Pieces(pairs.strip, contrast, starts, pairs.first[starts], pairs.rows[starts], means)


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
    ok = (apart > 0) & (apart <= thickest + _ROUNDING) & (np.diff(sign.take(down)) != 0)
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
