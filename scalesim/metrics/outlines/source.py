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

from dataclasses import dataclass
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

    def mean(self, values: Array) -> Array:
        """Return the mean of (pieces, ...) values over each outline, weighted by contrast squared."""
        return _mean_over(values, self.contrast, self.starts)

    def within(self, lines: range) -> SourceOutlines:
        """Return the outlines within these source lines, with a line of background on either side."""
        top, bottom = self.ends
        inside = (top > lines.start) & (bottom < lines.stop)
        if inside.all():
            return self
        pieces = self.pieces
        kept = np.repeat(inside, pieces)
        starts = np.cumsum(pieces[inside]) - pieces[inside]
        return SourceOutlines(
            self.strip[kept], self.contrast[kept], starts, self.first[inside], self.profile[inside]
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
    signs = (steps > limit).astype(np.int8) - (steps < -limit).astype(np.int8)
    first, strip, rows = _pairs(signs, thickest)
    contrast, profile = _profiles(strips, signs, limit, first, strip, rows)
    good = np.flatnonzero((contrast != 0) & (profile.sum(axis=0) <= thickest + 1e-6))
    outline = _connected(first[good], strip[good], rows[good], contrast[good] > 0)
    long = np.bincount(outline, minlength=1)[outline] >= LEAST_STRIPS
    good, outline = good[long], outline[long]
    first, strip, contrast = first[good], strip[good], contrast[good]
    starts = np.flatnonzero(np.diff(outline, prepend=-1))
    whole = _mean_over(profile[:, good].T, contrast, starts)
    used = np.flatnonzero(whole.any(axis=0))
    top, bottom = (used[0], used[-1] + 1) if len(used) else (0, 1)
    return SourceOutlines(
        strip, contrast, starts, first[starts] - SOFT_ROWS + top, np.ascontiguousarray(whole[:, top:bottom])
    )


def _pairs(signs: Array, thickest: float) -> tuple[Array, Array, Array]:
    """Return (first row, strip, rows) between consecutive opposite steps; step i lies below row i.

    Pieces on the same rows are next to each other, in the order of their strips.
    """
    down = np.ascontiguousarray(signs.T)  # each strip in turn
    places = np.flatnonzero(down.view(bool))
    strip, step = np.divmod(places, len(signs))
    sign = down.ravel()[places]
    rows = np.diff(step)
    pair = np.flatnonzero((sign[:-1] == -sign[1:]) & (np.diff(strip) == 0) & (rows <= thickest + 1e-6))
    first, strip, rows = step[pair] + 1, strip[pair], rows[pair]
    most = int(rows.max(initial=0)) + 1
    order = np.argsort((first * most + rows) * signs.shape[1] + strip)  # by first, rows, strip
    return first[order], strip[order], rows[order]


def _profiles(
    strips: Array, signs: Array, limit: float, first: Array, strip: Array, rows: Array
) -> tuple[Array, Array]:
    """Return each piece's contrast, 0 where too faint, and its profile from SOFT_ROWS above `first`.

    Returns: (pieces,) and (rows, pieces): the pieces run along the memory, which is quicker
    """
    sign = signs[first - 1, strip]
    soft_above = _soft_rows(signs, first - 2, -1, strip, sign)
    soft_below = _soft_rows(signs, first + rows, 1, strip, -sign)
    above = _at(strips, first - 1 - soft_above, strip)
    below = _at(strips, first + rows + soft_below, strip)
    place = np.arange(int(rows.max(initial=1)))[:, None]
    core = place < rows
    level = (_at(strips, first + place, strip) * core).sum(axis=0) / rows
    profile = np.zeros((len(place) + 2 * SOFT_ROWS, len(first)))
    profile[SOFT_ROWS:-SOFT_ROWS] = core
    pieces = np.arange(len(first))
    for further in range(SOFT_ROWS):
        for background, soft, edge in (
            (above, soft_above, -1 - further),
            (below, soft_below, rows + further),
        ):
            rise = level - background
            span = np.where(np.abs(rise) > limit / 2, rise, np.inf)
            share = np.clip((_at(strips, first + edge, strip) - background) / span, 0, 1)
            profile[SOFT_ROWS + edge, pieces] = np.where(soft > further, share, 0)
    least = np.minimum(sign * (level - above), sign * (level - below))
    return np.where(least > limit, level - (above + below) / 2, 0), profile


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


def _connected(first: Array, strip: Array, rows: Array, light: Array) -> Array:
    """Number the outlines: pieces in neighbouring strips on the same rows, dark or light alike."""
    same = np.ones(max(len(first) - 1, 0), dtype=bool)
    for values, apart in ((first, 0), (rows, 0), (light.astype(np.int8), 0), (strip, 1)):
        same &= np.diff(values) == apart
    return np.concatenate(([0], np.cumsum(~same))) if len(first) else np.zeros(0, np.int64)


def _mean_over(values: Array, contrast: Array, starts: Array) -> Array:
    """Return the least-squares mean over the pieces of each outline: weights are contrast squared."""
    if not len(starts):
        return values[:0]
    weight = (contrast.astype(np.float64) ** 2).reshape(-1, *(1,) * (values.ndim - 1))
    total: Array = np.add.reduceat(values * weight, starts, axis=0)
    return total / np.add.reduceat(weight, starts, axis=0)
