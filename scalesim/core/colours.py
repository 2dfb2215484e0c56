"""From planes to colours, luma and light: a band of lines at a time, and no more of it than is asked for.

Y'CbCr becomes R'G'B' by the definitions of ITU-R BT.601, BT.709 and BT.2020:

    R = Y + 2(1 - kr) Cr,  B = Y + 2(1 - kb) Cb,  G = (Y - kr R - kb B) / (1 - kr - kb)

and chroma of fewer samples is interpolated linearly. Nothing is rounded or cut; codes below black and above
white keep their values.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from math import floor

import numpy as np
from numpy.typing import NDArray

from scalesim.core.compiled import Loops, compiled
from scalesim.core.encoding import LUMA_BT709, code_to_light

_BAND = 32
"""Lines at a time: of 1920 samples, three colours and what they are made of stay in a processor's cache."""

Values = NDArray[np.float32]
Part = tuple[Sequence[Values], Sequence[Values]]
"""Levels (luma, grey, or R', G' and B') and colours (Cb and Cr, or none) of some lines, chroma at its own
samples; both 0..1 and -1/2..1/2 nominally."""


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

    @property
    def luma_of_chroma(self) -> tuple[float, float] | None:
        """How much BT.709 luma Cb and Cr add to the level; None when they add none, or there are none."""
        red, green, blue = LUMA_BT709
        if self.weights in (None, (red, blue)):
            return None
        kr, kb = self.weights or (red, blue)
        kg = 1 - kr - kb
        return 2 * (1 - kb) * (blue - green * kb / kg), 2 * (1 - kr) * (red - green * kr / kg)


class InPlanes(ABC):
    """A picture in planes; colours are made when they are asked for."""

    coding: Coding

    @property
    @abstractmethod
    def shape(self) -> tuple[int, int, int]:
        """Of `values`."""

    @abstractmethod
    def part(self, rows: slice, *, colours: bool = True) -> Part:
        """Return the levels and colours of some lines; the levels alone where colours are not asked for."""

    @property
    def is_luma(self) -> bool:
        """Whether the first level is BT.709 luma."""
        levels, _ = self.part(slice(0, 0), colours=False)
        return len(levels) == 1 and self.coding.luma_of_chroma is None

    def values(self) -> Values:
        """Return (lines, samples, 3) float32 code values, nominally 0..1."""
        out = np.empty(self.shape, np.float32)
        self.fill(out, range(self.shape[0]))
        return out

    def fill(self, out: Values, lines: range) -> None:
        """Write the values of some lines to `out`, which holds all of them."""
        for rows in self.bands(lines=lines):
            for some, colours in self._colours(rows):
                for k, colour in enumerate(colours):
                    out[rows, some, k] = colour

    def luma(self) -> Values:
        """Return BT.709 luma of `values`, (lines, samples), within the rounding of float32."""
        out = np.empty(self.shape[:2], np.float32)
        for rows in self.bands():
            out[rows] = self._luma(rows)
        return out

    def luminance(self) -> Values:
        """Return BT.709 luminance of the light of `values`, (lines, samples)."""
        out = np.empty(self.shape[:2], np.float32)
        loops = compiled()
        weights = np.array(LUMA_BT709, np.float32)
        for rows in self.bands():
            if loops is not None and self._by_loops(loops, rows, out[rows]):
                continue
            for some, colours in self._colours(rows):
                light = code_to_light(colours).reshape(3, -1)
                out[rows, some] = (weights @ light).reshape(colours.shape[1:])
        return out

    def _by_loops(self, loops: Loops, rows: slice, out: Values) -> bool:
        """Write the luminance of some lines to `out` where they are Y'CbCr; return whether they are."""
        levels, chroma = self.part(rows)
        if not chroma or self.coding.weights is None:
            return False
        halvings, first = self.coding.halvings[1], self.coding.first[1]
        planes = map(np.ascontiguousarray, (levels[0], *chroma))
        loops.luminance(*planes, _of_light(self.coding.weights), 2**halvings, first, out)
        return True

    def bands(self, times: int = 1, lines: range | None = None) -> Iterator[slice]:
        """Yield the lines in bands, so many times as tall as colours are made in."""
        first, last = (lines.start, lines.stop) if lines is not None else (0, self.shape[0])
        tall = times * _BAND
        return (slice(top, min(top + tall, last)) for top in range(first, last, tall))

    def _luma(self, rows: slice) -> Values:
        shares = self.coding.luma_of_chroma
        levels, colours = self.part(rows, colours=shares is not None)
        if len(levels) == 3:
            whole = np.float32(LUMA_BT709[0]) * levels[0]
            for weight, level in zip(LUMA_BT709[1:], levels[1:], strict=True):
                whole += np.float32(weight) * level
            return whole
        found = levels[0]
        for share, chroma in zip(shares or (), colours, strict=False):
            found = found + _along(chroma, found.shape[1], self.coding) * np.float32(share)
        return found

    def _colours(self, rows: slice) -> Iterator[tuple[slice, Values]]:
        """Yield R', G' and B' of some lines, (3, lines, samples), and which samples these are.

        All of them; or, where chroma has fewer samples, those at each place between two of chroma in turn:
        what is worked on then lies close together, and nothing is interpolated where chroma has a sample.
        """
        levels, colours = self.part(rows)
        if not colours or self.coding.weights is None:
            yield slice(None), np.stack([levels[k if len(levels) == 3 else 0] for k in range(3)])
            return
        cb, cr = colours
        beside = _beside_luma(cb, cr, self.coding.weights)
        step = 2 ** self.coding.halvings[1]
        for phase in range(step):
            luma = np.ascontiguousarray(levels[0][:, phase::step])
            here = _between(beside, phase, self.coding)
            cut = here[..., : luma.shape[1]]
            yield slice(phase, None, step), np.add(cut, luma, out=None if here is beside else cut)


@cache
def _of_light(weights: tuple[float, float]) -> Values:
    """Return (3, 3) of R', G' and B': what Cb and Cr add to luma, see `_beside_luma`, and the luminance."""
    one, none = np.ones((1, 1), np.float32), np.zeros((1, 1), np.float32)
    added = [_beside_luma(*chroma, weights).ravel() for chroma in ((one, none), (none, one))]
    return np.stack([*added, np.array(LUMA_BT709, np.float32)], axis=1)


def _beside_luma(cb: Values, cr: Values, weights: tuple[float, float]) -> Values:
    """Return (3, lines, samples): what R', G' and B' have besides luma, by chroma."""
    kr, kb = weights
    out = np.empty((3, *cb.shape), np.float32)
    np.multiply(cr, np.float32(2 * (1 - kr)), out=out[0])
    np.multiply(cb, np.float32(2 * (1 - kb)), out=out[2])
    np.multiply(out[0], np.float32(-kr / (1 - kr - kb)), out=out[1])
    out[1] -= out[2] * np.float32(kb / (1 - kr - kb))
    return out


def _along(values: Values, samples: int, coding: Coding) -> Values:
    """Return chroma of fewer samples at every one, linear between them."""
    step = 2 ** coding.halvings[1]
    found = np.empty((len(values), samples), dtype=np.float32)
    for phase in range(step):
        into = found[:, phase::step]
        into[...] = _between(values, phase, coding)[:, : into.shape[1]]
    return found


def _between(values: Values, phase: int, coding: Coding) -> Values:
    """Return what (..., samples) of chroma are at luma's samples from `phase` on, as far apart as chroma's.

    Linear between two of them, the first and the last beyond; not to be written to.
    """
    place = (phase - coding.first[1]) / 2 ** coding.halvings[1]
    share = np.float32(place - floor(place))
    if coding.halvings[1] == 0 or not share:
        return values
    # line after line as one row: quicker, and only what lies at the ends of a line is wrong
    flat, out = values.reshape(-1), np.empty(values.shape, np.float32)
    inner = out.reshape(-1)[1:] if place < 0 else out.reshape(-1)[:-1]
    np.subtract(flat[1:], flat[:-1], out=inner)
    inner *= share
    inner += flat[:-1]
    end = 0 if place < 0 else -1
    out[..., end] = values[..., end]
    return out
