"""A picture as it is stored: planes of codes, of which every code value is a fixed weighted sum.

As all of it is linear, lines that are mixed may be mixed in the planes, and only what is left of them becomes
R'G'B', of 1080 lines that become 240 a fifth; and only when colours are asked for at all (see `colours`).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from fractions import Fraction
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.colours import Coding, InPlanes, Part, Scale, Values
from scalesim.core.compiled import compiled
from scalesim.core.mix import Mix
from scalesim.core.operator import Operator, in_turn, matrix_from_taps
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.core.threads import for_each

_SHARED = 128
"""Lines that a thread makes at a time: few enough to be shared out, so many that Python's work is small."""

_KEPT = 2
"""Mixtures of a plane that are kept: a chain's lines are looked at more than once."""


class Planes(InPlanes):
    """The planes of one picture or field.

    Parameters:
        codes : arrays of whole numbers, (lines, samples): R', G', B', or luma, Cb, Cr, or grey alone
        coding : what they stand for
    """

    def __init__(self, codes: Sequence[NDArray[Any]], coding: Coding) -> None:
        self.coding = coding
        levels = len(codes) if coding.weights is None else 1
        self.levels, self.colours = tuple(codes[:levels]), tuple(codes[levels:])
        self._kept = [deque[tuple[Mix, Values]](maxlen=_KEPT) for _ in codes]

    @property
    def shape(self) -> tuple[int, int, int]:
        """Of `values`."""
        return (*self.levels[0].shape, 3)

    def part(self, rows: slice, *, colours: bool = True) -> Part:
        """Return the levels and colours of some lines."""
        levels = [_scaled(codes[rows].astype(np.float32), self.coding.level) for codes in self.levels]
        chroma = self.colours if colours else ()
        return levels, [_scaled(self._chroma(codes, rows), self.coding.chroma) for codes in chroma]

    def values(self) -> Values:
        """Return (lines, samples, 3) float32 code values, nominally 0..1."""
        out = np.empty(self.shape, dtype=np.float32)
        lines = self.shape[0]
        shares = (range(top, min(top + _SHARED, lines)) for top in range(0, lines, _SHARED))
        for_each(lambda share: self.fill(out, share), shares)
        return out

    def means(self, width: int) -> Values:
        """Return means of a level that `is_luma` over `width` samples in a row, (lines, samples // width)."""
        codes, level = self.levels[0], self.coding.level
        count = codes.shape[1] // width
        out = np.empty((len(codes), count), np.float32)
        zero, loops = level.zero / level.span, compiled()
        if loops is not None:
            scale = np.float32(zero), np.float32(1 / (width * level.span))
            loops.means(np.ascontiguousarray(codes), width, *scale, out)
            return out
        share = np.full(width, 1 / (width * level.span), np.float32)
        for rows in self.bands(2):
            part = codes[rows, : count * width].astype(np.float32)
            np.matmul(part.reshape(-1, width), share, out=out[rows].reshape(-1))
        out -= np.float32(zero)
        return out

    def level_through(self, mix: Mix, number: int = 0) -> Values:
        """Return mixed lines of a level, (lines out, samples); not to be written to, as it is kept."""
        return self._through(mix, number, self.levels[number], self.coding.level)

    def chroma_through(self, mix: Mix, number: int) -> Values:
        """Return mixed lines of Cb (0) or Cr (1), (lines out, samples of chroma); likewise kept."""
        return self._through(mix, len(self.levels) + number, self.colours[number], self.coding.chroma)

    def _through(self, mix: Mix, number: int, codes: NDArray[Any], scale: Scale) -> Values:
        kept = self.kept(mix, number)
        if kept is not None:
            return kept
        found = mix(codes, scale.zero, scale.span)
        self._kept[number].append((mix, found))
        return found

    def kept(self, mix: Mix, number: int = 0) -> Values | None:
        """Return mixed lines of a plane where they were made before, else None; not to be written to."""
        for other, lines in tuple(self._kept[number]):
            among = mix.among(other)
            if among is not None:
                return lines[among]
        return None

    def mixed(self, operator: Operator, among: Sequence[Operator] = ()) -> Mixed:
        """Return the planes of what an operator makes of the lines.

        It mixes code values, not light, nothing along the line, and leaves fewer lines: else there is nothing
        to gain.

        Parameters:  among : operators of which it is one, when the others will be asked for, too: the lines
            of all are mixed together, as they look at the same ones
        """
        return Mixed(self, operator, tuple(among) or (operator,))

    def through(self, operator: Operator) -> Values:
        """Return what such an operator makes of `values`, along the line too, within float32's rounding."""
        values = self.mixed(operator).values()
        return values if operator.samples is None else Operator(samples=operator.samples)(values)

    def _chroma(self, codes: NDArray[Any], rows: slice) -> Values:
        """Return the chroma codes of some lines of luma."""
        halvings, first = self.coding.halvings[0], self.coding.first[0]
        if halvings == 0:
            return codes[rows].astype(np.float32)
        above, share = _places(np.arange(*rows.indices(self.shape[0])), halvings, first)
        low, high = (codes[np.clip(above + k, 0, len(codes) - 1)].astype(np.float32) for k in (0, 1))
        high -= low
        high *= share[:, None]
        low += high
        return low


class Mixed(InPlanes):
    """The planes of stored lines that an operator mixed; each is made when it is first asked for."""

    def __init__(self, stored: Planes, operator: Operator, among: tuple[Operator, ...] = ()) -> None:
        assert operator.lines is not None
        self.coding, self._stored = stored.coding, stored
        self._among = among or (operator,)
        self._number = self._among.index(operator)
        self._lines: int = operator.lines.shape[0]

    @property
    def shape(self) -> tuple[int, int, int]:
        """Of `values`."""
        return (self._lines, *self._stored.shape[1:])

    def part(self, rows: slice, *, colours: bool = True) -> Part:
        """Return the levels and colours of some lines."""
        chroma = self._colours_mixed if colours else ()
        return [level[rows] for level in self._levels], [each[rows] for each in chroma]

    @cached_property
    def _levels(self) -> list[Values]:
        mix = _mix_of(self._among)
        return [self._own(self._stored.level_through(mix, k)) for k in range(len(self._stored.levels))]

    def _own(self, lines: Values) -> Values:
        return lines[self._number :: len(self._among)]

    def luma(self) -> Values:
        """Return BT.709 luma of `values`, (lines, samples); not to be written to."""
        return self._levels[0] if self.is_luma else super().luma()

    @cached_property
    def _colours_mixed(self) -> list[Values]:
        halvings, first = self.coding.halvings[0], self.coding.first[0]
        return [
            self._own(self._stored.chroma_through(_mix_between(self._among, len(codes), halvings, first), k))
            for k, codes in enumerate(self._stored.colours)
        ]


class CodedPicture(Picture):
    """A picture as it is stored; its values are made anew each time they are asked for.

    Parameters:  again : whether the next pictures of its stream are the same planes, as of a still without
        fields
    """

    def __init__(self, planes: Planes, raster: Raster, time: Fraction, *, again: bool = False) -> None:
        _set(self, planes, raster, time)
        object.__setattr__(self, "again", again)

    planes: Planes
    again: bool

    @property
    def values(self) -> Values:
        """(lines, samples, 3) float32 code values."""
        return self.planes.values()

    def after(self, operator: Operator, raster: Raster, among: Sequence[Operator] = ()) -> Picture:
        """Return the picture after an operator: in the planes where there is less to do."""
        if not _fewer_codes(operator):
            return Picture(operator(self.values), raster, self.time)
        if operator.samples is None:
            together = among if self.again and _go_together(among) else ()
            return MixedPicture(self.planes.mixed(operator, together), raster, self.time)
        return Picture(self.planes.through(operator), raster, self.time)


def _fewer_codes(operator: Operator) -> bool:
    """Return whether it leaves fewer lines, of code values."""
    fewer = operator.lines is not None and operator.lines.shape[0] < operator.lines.shape[1]
    return fewer and (operator.is_choice or operator.encoding != "light")


def _go_together(operators: Sequence[Operator]) -> bool:
    """Return whether their lines can be mixed together in the planes."""
    alike = {operator.lines.shape for operator in operators if operator.lines is not None}
    return len(alike) == 1 and all(each.samples is None and _fewer_codes(each) for each in operators)


class MixedPicture(Picture):
    """A picture of mixed planes; its values are made when they are first asked for."""

    def __init__(self, planes: Mixed, raster: Raster, time: Fraction) -> None:
        _set(self, planes, raster, time)

    planes: Mixed

    @cached_property
    def values(self) -> Values:
        """(lines, samples, 3) float32 code values."""
        return self.planes.values()

    def luma(self) -> Values:
        """Return BT.709 luma, (lines, samples), without its colours."""
        return self.planes.luma()

    def luminance(self) -> Values:
        """Return BT.709 luminance of its light, (lines, samples)."""
        return self.planes.luminance()

    def on(self, raster: Raster) -> MixedPicture:
        """Return the same picture, on a raster that says more of it."""
        return MixedPicture(self.planes, raster, self.time)


def _set(picture: Picture, planes: InPlanes, raster: Raster, time: Fraction) -> None:
    """Fill a frozen picture whose values are no array."""
    for name, value in (("planes", planes), ("raster", raster), ("time", time)):
        object.__setattr__(picture, name, value)


@lru_cache(maxsize=32)
def _mix_of(operators: tuple[Operator, ...]) -> Mix:
    """Return what mixes the lines of operators that leave as many: line 0 of each, line 1 of each ..."""
    return Mix(in_turn([operator.lines for operator in operators if operator.lines is not None]))


@lru_cache(maxsize=32)
def _mix_between(operators: tuple[Operator, ...], lines: int, halvings: int, first: float) -> Mix:
    """Return what operators do to so many lines of chroma, after they were interpolated."""
    if halvings == 0:
        return _mix_of(operators)
    assert operators[0].lines is not None
    count = operators[0].lines.shape[1]
    above, share = _places(np.arange(count), halvings, first)
    pairs = np.clip([above, above + 1], 0, lines - 1).ravel()
    weights = np.concatenate([1.0 - share, share])
    between = Operator(matrix_from_taps((count, lines), np.tile(np.arange(count), 2), pairs, weights))
    return _mix_of(tuple(Operator(operator.lines) @ between for operator in operators))


def _places(lines: NDArray[np.int64], halvings: int, first: float) -> tuple[NDArray[np.int64], NDArray]:
    """Return for each line of luma the line of chroma above it, and how far it is to the next, 0..1."""
    places = (lines - first) / 2**halvings
    above = np.floor(places)
    return above.astype(np.int64), (places - above).astype(np.float32)


def _scaled(codes: Values, scale: Scale) -> Values:
    codes -= np.float32(scale.zero)
    codes /= np.float32(scale.span)
    return codes
