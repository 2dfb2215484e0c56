"""A picture as it is stored: planes of codes, of which every code value is a fixed weighted sum.

Y'CbCr becomes R'G'B' by the definitions of ITU-R BT.601, BT.709 and BT.2020:

    R = Y + 2(1 - kr) Cr,  B = Y + 2(1 - kb) Cb,  G = (Y - kr R - kb B) / (1 - kr - kb)

and chroma of fewer samples is interpolated linearly. As all of it is linear, lines that are mixed may be
mixed in the planes, and only what is left of them becomes R'G'B': of 1080 lines that become 240, a fifth.
Nothing is rounded or cut; codes below black and above white keep their values.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import floor
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import LUMA_BT709, luma
from scalesim.core.operator import Operator, matrix_from_taps
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.core.threads import for_each

_BAND = 128
"""Lines converted at a time: few enough to be shared out, and so many that Python's own work is small."""


@dataclass(frozen=True)
class Scale:
    """The code that stands for 0, and how many codes there are from 0 to 1."""

    zero: int
    span: int


@dataclass(frozen=True)
class Coding:
    """What the codes of planes stand for.

    Parameters:
        level : of luma, or of R', G' and B'
        chroma : of Cb and Cr
        weights : (kr, kb) of luma; None where the planes are R', G' and B'
        halvings : of chroma, (down, along): 1 where it has half as many lines or samples, 2 for a quarter
        first : of chroma, (down, along): where its first sample sits, in luma's lines and samples
    """

    level: Scale
    chroma: Scale = Scale(128, 224)
    weights: tuple[float, float] | None = None
    halvings: tuple[int, int] = (0, 0)
    first: tuple[float, float] = (0.0, 0.0)


class Planes:
    """The planes of one picture or field.

    Parameters:
        codes : arrays of whole numbers, (lines, samples): R', G', B', or luma, Cb, Cr, or grey alone
        coding : what they stand for
    """

    def __init__(self, codes: Sequence[NDArray[Any]], coding: Coding) -> None:
        self.coding = coding
        levels = len(codes) if coding.weights is None else 1
        self.levels, self.colours = tuple(codes[:levels]), tuple(codes[levels:])

    def values(self) -> NDArray[np.float32]:
        """Return (lines, samples, 3) float32 code values, nominally 0..1."""
        lines, samples = self.levels[0].shape
        out = np.empty((lines, samples, 3), dtype=np.float32)

        def work(top: int) -> None:
            rows = slice(top, min(top + _BAND, lines))
            levels = [_scaled(codes[rows].astype(np.float32), self.coding.level) for codes in self.levels]
            colours = [_scaled(self._chroma(codes, rows), self.coding.chroma) for codes in self.colours]
            _join(levels, colours, self.coding, out[rows])

        for_each(work, range(0, lines, _BAND))
        return out

    @property
    def shape(self) -> tuple[int, int, int]:
        """Of `values`."""
        return (*self.levels[0].shape, 3)

    def luma(self) -> NDArray[np.float32]:
        """Return BT.709 luma of `values`, (lines, samples), within the rounding of float32."""
        if len(self.levels) == 3:
            return luma(self.values())
        level = _scaled(self.levels[0].astype(np.float32), self.coding.level)
        red, green, blue = (float(weight) for weight in LUMA_BT709)
        if self.coding.weights in (None, (red, blue)):
            return level
        kr, kb = self.coding.weights or (red, blue)
        kg = 1 - kr - kb
        shares = (2 * (1 - kb) * (blue - green * kb / kg), 2 * (1 - kr) * (red - green * kr / kg))
        for codes, share in zip(self.colours, shares, strict=True):
            for top in range(0, len(level), _BAND):
                rows = slice(top, min(top + _BAND, len(level)))
                chroma = _scaled(self._chroma(codes, rows), self.coding.chroma) * np.float32(share)
                level[rows] += _along(chroma, level.shape[1], self.coding.halvings[1], self.coding.first[1])
        return level

    def through(self, operator: Operator) -> NDArray[np.float32]:
        """Return what an operator makes of `values`, within the rounding of float32.

        It mixes code values, not light, and leaves fewer lines: else there is nothing to gain.
        """
        assert operator.lines is not None
        down = _mix_of(operator)
        levels = [down(codes, self.coding.level) for codes in self.levels]
        colours = []
        for codes in self.colours:
            between = _mix_between(operator, len(codes), self.coding.halvings[0], self.coding.first[0])
            colours.append(between(codes, self.coding.chroma))
        out = np.empty((*levels[0].shape, 3), dtype=np.float32)
        _join(levels, colours, self.coding, out)
        return out if operator.samples is None else Operator(samples=operator.samples)(out)

    def _chroma(self, codes: NDArray[Any], rows: slice) -> NDArray[np.float32]:
        """Return the chroma codes of some lines of luma."""
        halvings, first = self.coding.halvings[0], self.coding.first[0]
        if halvings == 0:
            return codes[rows].astype(np.float32)
        above, share = _places(np.arange(rows.start, rows.stop), halvings, first)
        low, high = (codes[np.clip(above + k, 0, len(codes) - 1)].astype(np.float32) for k in (0, 1))
        high -= low
        high *= share[:, None]
        low += high
        return low


class CodedPicture(Picture):
    """A picture as it is stored; its values are made anew each time they are asked for."""

    def __init__(self, planes: Planes, raster: Raster, time: Fraction) -> None:
        for name, value in (("planes", planes), ("raster", raster), ("time", time)):
            object.__setattr__(self, name, value)

    planes: Planes

    @property
    def values(self) -> NDArray[np.float32]:
        """(lines, samples, 3) float32 code values."""
        return self.planes.values()

    def through(self, operator: Operator) -> NDArray:
        """Return the picture after an operator: in the planes where there is less to do."""
        lines = operator.lines
        fewer = lines is not None and lines.shape[0] < lines.shape[1]
        if fewer and (operator.is_choice or operator.encoding != "light"):
            return self.planes.through(operator)
        return operator(self.values)


@dataclass(frozen=True, eq=False)
class _Mix:
    """The lines of an operator for one plane: a float32 matrix on the lines it looks at."""

    looked_at: NDArray[np.int64]
    matrix: Any
    sums: NDArray[np.float32]

    def __call__(self, codes: NDArray[Any], scale: Scale) -> NDArray[np.float32]:
        """Return the mixed lines, scaled."""
        lines = codes if len(self.looked_at) == len(codes) else codes[self.looked_at]
        mixed: NDArray[np.float32] = self.matrix @ lines.astype(np.float32)
        mixed -= np.float32(scale.zero) * self.sums
        mixed /= np.float32(scale.span)
        return mixed


@lru_cache(maxsize=32)
def _mix_of(operator: Operator) -> _Mix:
    assert operator.lines is not None
    looked_at = np.unique(operator.lines.indices)
    matrix = operator.lines[:, looked_at].astype(np.float32)
    return _Mix(looked_at, matrix, np.asarray(matrix.sum(axis=1), np.float32)[:, None])


@lru_cache(maxsize=32)
def _mix_between(operator: Operator, lines: int, halvings: int, first: float) -> _Mix:
    """Return what the operator does to so many lines of chroma, after they were interpolated."""
    if halvings == 0:
        return _mix_of(operator)
    assert operator.lines is not None
    count = operator.lines.shape[1]
    above, share = _places(np.arange(count), halvings, first)
    pairs = np.clip([above, above + 1], 0, lines - 1).ravel()
    weights = np.concatenate([1.0 - share, share])
    between = Operator(matrix_from_taps((count, lines), np.tile(np.arange(count), 2), pairs, weights))
    return _mix_of(Operator(operator.lines) @ between)


def _places(lines: NDArray[np.int64], halvings: int, first: float) -> tuple[NDArray[np.int64], NDArray]:
    """Return for each line of luma the line of chroma above it, and how far it is to the next, 0..1."""
    places = (lines - first) / 2**halvings
    above = np.floor(places)
    return above.astype(np.int64), (places - above).astype(np.float32)


def _scaled(codes: NDArray[np.float32], scale: Scale) -> NDArray[np.float32]:
    codes -= np.float32(scale.zero)
    codes /= np.float32(scale.span)
    return codes


def _join(
    levels: Sequence[NDArray[np.float32]],
    colours: Sequence[NDArray[np.float32]],
    coding: Coding,
    out: NDArray[np.float32],
) -> None:
    """Write R'G'B' of lines, chroma still at its own samples, to `out`, (lines, samples, 3)."""
    if not colours or coding.weights is None:
        for k in range(3):
            out[..., k] = levels[k if len(levels) == 3 else 0]
        return
    (luma,) = levels
    cb, cr = (_along(values, out.shape[1], coding.halvings[1], coding.first[1]) for values in colours)
    kr, kb = coding.weights
    kg = 1.0 - kr - kb
    np.add(luma, cr * np.float32(2 * (1 - kr)), out=out[..., 0])
    np.add(luma, cb * np.float32(2 * (1 - kb)), out=out[..., 2])
    cb *= np.float32(2 * (1 - kb) * kb / kg)
    cr *= np.float32(2 * (1 - kr) * kr / kg)
    cb += cr
    np.subtract(luma, cb, out=out[..., 1])


def _along(values: NDArray[np.float32], samples: int, halvings: int, first: float) -> NDArray[np.float32]:
    """Return values that stand at fewer samples at every one, linear between them."""
    if halvings == 0:
        return values
    padded = np.concatenate([values[:, :1], values, values[:, -1:]], axis=1)
    found = np.empty((len(values), samples), dtype=np.float32)
    step = 2**halvings
    for phase in range(step):
        into = found[:, phase::step]
        place = (phase - first) / step
        before = floor(place)
        share, low = np.float32(place - before), padded[:, before + 1 :][:, : into.shape[1]]
        if share:
            between = padded[:, before + 2 :][:, : into.shape[1]] - low
            between *= share
            np.add(between, low, out=into)
        else:
            into[...] = low
    return found
