"""Rasters: how many lines and samples a picture has, and where its fields land on the screen.

Content and landing are separate facts. A field's *parity* says which lines of the frame it carries:
0 ("top") lines 0, 2, 4 ..., 1 ("bottom") lines 1, 3, 5 ... Its *landing* says where the display draws
its first line, in field-line pitches: 0 for progressive pictures and for the top field, 1/2 for a
bottom field that interlaces. When the sync makes a display draw both fields on one set of lines,
the content stays as it is and the landings become whole numbers apart ("field-only"); any other distance
is "uneven": lines stand in pairs.

Three coordinates of height are used, all with edges at integers:

- *picture*: u, lines of one field or progressive picture; line i has its centre at i + 1/2;
- *frame*: y, lines of the woven frame; field line i of a field that landed at l is centred at
  2(i + l) + 1/2, so y = 2u + 2l - 1/2;
- *landed*: v, the lines of the picture on the screen: half field-line pitches when interlaced or uneven,
  scan lines (field-line pitches, v = u + l) on one set of lines.

On the screen a line fills the wider of the two gaps beside it, half of it to either side: half a field-line
pitch when interlaced, a whole one on one set of lines. Where the lines of two fields overlap, the light is
their mean, exact by area on a grid of an eighth of a line. So steady white is white, and each line gives off
the same light, wherever the fields land.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from math import ceil, floor, lcm
from typing import Literal

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.sync_wave import SyncChange, Wave, interlaced_wave, progressive_wave, standard_for
from scalesim.errors import ShapeError

Scan = Literal["progressive", "interlaced", "field-only", "uneven"]

HALF = Fraction(1, 2)
LANDING_GRID = 8
"""Parts of a field-line pitch on which a landing is painted."""


@dataclass(frozen=True)
class Field:
    """One field phase: the parity of its content and where it lands, in field-line pitches."""

    parity: int = 0
    landing: Fraction = Fraction(0)


PROGRESSIVE = (Field(),)
TOP_FIRST = (Field(0, Fraction(0)), Field(1, HALF))
BOTTOM_FIRST = (Field(1, HALF), Field(0, Fraction(0)))


@dataclass(frozen=True)
class Window:
    """The visible part of a raster as shares of its height and width, 0..1 from the top left."""

    top: float = 0.0
    bottom: float = 1.0
    left: float = 0.0
    right: float = 1.0


@dataclass(frozen=True)
class Raster:
    """What is known of a stream of pictures apart from their values.

    Parameters:
        lines : active lines of one picture: of one field when there are two, else of the frame
        samples : active samples of a line
        rate : pictures per second, exact (the field rate when there are two fields)
        fields : one `Field` per phase, in the order of time; picture k belongs to ``fields[k % period]``
        aspect : width over height of the full raster as it is meant to be shown
        visible : what the display does not hide
        sync : what a box changed in the sync that goes with these fields; None for the standard's
    Raises: ShapeError when lines or samples are below 1
    """

    lines: int
    samples: int
    rate: Fraction = Fraction(60)
    fields: tuple[Field, ...] = PROGRESSIVE
    aspect: Fraction = Fraction(16, 9)
    visible: Window = Window()
    sync: SyncChange | None = None

    def __post_init__(self) -> None:
        for name in ("lines", "samples"):
            value = getattr(self, name)
            if not isinstance(value, int) or value < 1:
                raise ShapeError(f"raster: {name} is {value!r}; it must be a whole number of at least 1")

    @property
    def period(self) -> int:
        """Number of field phases: 1 progressive, 2 with fields."""
        return len(self.fields)

    @property
    def scan(self) -> Scan:
        """How the fields land: one, half a line apart, whole lines apart, or neither."""
        if self.period == 1:
            return "progressive"
        apart = self.fields[0].landing - self.fields[1].landing
        return {1: "field-only", 2: "interlaced"}.get(apart.denominator, "uneven")  # type: ignore[return-value]  # of these words

    @property
    def landings(self) -> tuple[Fraction, ...]:
        """Where each phase's first line is drawn, in field-line pitches."""
        return tuple(field.landing for field in self.fields)

    @property
    def frame_lines(self) -> int:
        """Lines of the woven frame (two fields) or of the progressive picture."""
        return self.lines * self.period

    @property
    def landing_parts(self) -> int:
        """Parts of a field-line pitch that all landings are whole numbers of, up to `LANDING_GRID`."""
        return lcm(*(landing.denominator for landing in self.landings))

    @property
    def landed_rows(self) -> int:
        """Lines of the picture on the screen in one field-line pitch: 1 on one set of lines, else 2."""
        return min(2, self.landing_parts)

    @property
    def landed_lines(self) -> int:
        """Lines of the picture on the screen: one field's on one set of lines, else those of the frame."""
        return self.lines * self.landed_rows

    @property
    def landed_pitch(self) -> float:
        """Distance between landed lines in field-line pitches: 1 on one set of lines, else 1/2."""
        return 1 / self.landed_rows

    @property
    def slot(self) -> Fraction:
        """Height that a line fills on the screen, in field-line pitches: from 1/2 (interlaced) to 1."""
        if self.period == 1:
            return Fraction(1)
        apart = self.fields[0].landing - self.fields[1].landing
        return 1 - abs(apart - round(apart))

    def slots(self, phase: int) -> dict[int, float]:
        """Return the landed lines that line 0 of a field fills, and its share of the light of each.

        Line i fills those `i * landed_rows` further down. What lies above the first or below the last is not
        shown.
        """
        parts = self.landing_parts
        filled = {k: self._parts_of(k) for k in range(self.period)}
        lit = [part % parts for own in filled.values() for part in own]
        in_line = parts // self.landed_rows
        found: dict[int, float] = {}
        for part in filled[phase % self.period]:
            share = 1 / lit.count(part % parts) / in_line
            found[part // in_line] = found.get(part // in_line, 0.0) + share
        return found

    def _parts_of(self, phase: int) -> range:
        """Return the parts of a pitch that line 0 of a field fills, from that at which the field lands."""
        first = int(self.fields[phase].landing * self.landing_parts)
        return range(first, first + int(self.slot * self.landing_parts))

    def frame_of_picture(self, phase: int) -> Affine:
        """Return the map from a picture's coordinate u to the frame's y, by the parity of its content."""
        if self.period == 1:
            return IDENTITY
        return Affine(2.0, self.fields[phase].parity - 0.5)

    def picture_of_landed(self, phase: int) -> Affine:
        """Return the map from the landed coordinate v to this phase's picture coordinate u."""
        landing = float(self.fields[phase].landing)
        return Affine(self.landed_pitch, (1 - float(self.slot)) / 2 - landing)

    def on_screen(self, zoom: Affine) -> tuple[Affine, ...]:
        """Return, per phase, what a zoom of the landed picture means in that phase's own lines."""
        if zoom == IDENTITY:
            return (IDENTITY,) * self.period
        phases = [self.picture_of_landed(phase) for phase in range(self.period)]
        return tuple(phase.inverse().after(zoom).after(phase) for phase in phases)

    def wave(self) -> Wave:
        """Return the sync that goes with these pictures on a 15 kHz signal: the standard's, or a box's."""
        standard, change = standard_for(float(self.rate)), self.sync or SyncChange()
        if self.period == 2:
            return interlaced_wave(standard, change)
        lines = round(1e6 / standard.line_us / float(self.rate))
        return progressive_wave(standard, (lines, lines), change)

    def with_(self, **changes: object) -> Raster:
        """Return a copy with some facts changed; a box of other fields or lines makes its own sync."""
        if {"lines", "rate", "fields"} & changes.keys():
            changes = {"sync": None, **changes}
        return replace(self, **changes)  # type: ignore[arg-type]  # checked by the dataclass's own names

    def describe(self) -> str:
        """Return a short phrase for messages, such as ``2 x 240 lines, 1280 samples, interlaced``."""
        if self.period == 1:
            return f"{self.lines} lines, {self.samples} samples, progressive"
        return f"2 x {self.lines} lines, {self.samples} samples, {self.scan}"


def visible_slices(raster: Raster, lines: int, samples: int) -> tuple[slice, slice]:
    """Return the whole lines and samples of a landed picture that lie inside the visible window.

    At least one line and one sample are always kept.
    """
    seen = raster.visible
    return _whole(seen.top, seen.bottom, lines), _whole(seen.left, seen.right, samples)


def _whole(begin: float, end: float, size: int) -> slice:
    first = ceil(begin * size - 1e-9)
    last = floor(end * size + 1e-9)
    first = min(first, size - 1)
    return slice(first, max(last, first + 1))
