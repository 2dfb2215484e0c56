"""`Screen`: the picture a display paints of a raster's fields, in light and in code values for a file.

Along every line first (sharpness), then down the screen (beam), both as banded products built once.
Light is a share of white: a field of steady white has the mean 1, and a field's light is what it gives
over its own time, so that the mean of the fields of a cycle is what the eye sees of a still.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from copy import copy
from fractions import Fraction
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.raster import Raster
from scalesim.core.threads import for_each
from scalesim.errors import ShapeError
from scalesim.tube.bands import Block, blocks_of
from scalesim.tube.beam import beam_taps, line_places, white_peak
from scalesim.tube.code import Code, FileEncoding
from scalesim.tube.cut import Cut, check_dots, glass_at, shown_window
from scalesim.tube.display import Display, as_aspect
from scalesim.tube.mask import mask_light
from scalesim.tube.response import response_blocks, response_sigma

_BAND = 30
"""Lines made sharp at a time."""


class Screen:
    """A display that shows one kind of raster; the operators are built once, then fields are painted.

    Parameters:
        raster : of the pictures
        display : the tube
        height : dot rows; the width follows from the tube's aspect
        tube : "4:3" or "16:9" (or the `Fraction`) in place of the display's own
        encoding : of code values for a file, "bt1886" (those of the chain) or "srgb"
        exposure : gain from light to a file's white; 1 keeps the mean light and clips lines brighter than
            white, "unclipped" is the largest gain at which no field of code values up to 1 clips
        cut : another part of the raster than the window the glass shows
    Raises: ParameterError naming key, value, limit and remedy
    """

    def __init__(
        self,
        raster: Raster,
        display: Display,
        *,
        height: int = 1080,
        tube: Fraction | str | None = None,
        encoding: FileEncoding = "bt1886",
        exposure: float | Literal["unclipped"] = 1.0,
        cut: Cut | None = None,
    ) -> None:
        self.raster, self.display = raster, display
        self.tube = display.aspect if tube is None else as_aspect("screen: tube", tube)
        self.cut = cut or glass_at(raster, display, self.tube, height)
        check_dots("height", self.cut.height)
        check_dots("width", self.cut.width)
        self._dots = self._sharpness()
        self._beams = self._beam()
        self._mask = mask_light(display, *self._millimetres())
        gain = self.unclipped_exposure if exposure == "unclipped" else exposure
        self._code = Code(encoding, gain)

    @property
    def height(self) -> int:
        """Dot rows."""
        return self.cut.height

    @property
    def width(self) -> int:
        """Dots of a row."""
        return self.cut.width

    @property
    def encoding(self) -> FileEncoding:
        """Encoding of code values for a file."""
        return self._code.encoding

    @property
    def exposure(self) -> float:
        """Gain from light to a file's white."""
        return self._code.exposure

    @property
    def unclipped_exposure(self) -> float:
        """The largest exposure at which no field of code values up to 1 exceeds the file's white."""
        peak = max(self._peaks)
        return 1.0 / (peak if self._mask is None else peak * float(self._mask.max()))

    @property
    def white_exposure(self) -> float:
        """The exposure at which a white field just does not clip, in whole percent, whatever the dot rows.

        It follows from the display's beam, and from its mask as far as the dots show it, not from what is
        shown: pictures of one display can be compared, and a clip does not change with its content.
        """
        bright = white_peak(self.display) * (1.0 if self._mask is None else float(self._mask.max()))
        return max(1, math.floor(100 / bright)) / 100

    def exposed(self, exposure: float) -> Screen:
        """Return the same screen at another exposure; ParameterError for one out of range."""
        other = copy(self)
        other._code = Code(self.encoding, exposure)
        return other

    def field(self, values: NDArray, phase: int = 0) -> NDArray:
        """Return the light of one field or progressive picture.

        Parameters:
            values : (raster.lines, raster.samples, 3) float32 or float64 code values
            phase : number of the picture in its stream; it decides where the lines land
        Returns: (height, width, 3) float32, share of white
        Raises: ShapeError when the picture is not of the raster
        """
        out = np.empty((self.height, self.width, 3), dtype=np.float32)

        def keep(rows: slice, light: NDArray) -> None:
            out[rows] = light

        self._paint([(self.lit(values), phase)], keep)
        return out

    def bytes(self, values: NDArray, phase: int = 0) -> NDArray:
        """Return one field as 8-bit codes for a file, (height, width, 3) uint8: `field`, then `codes`."""
        return self.mean_bytes([(self.lit(values), phase)])

    def mean_bytes(self, fields: Sequence[tuple[NDArray, int]]) -> NDArray:
        """Return the mean light of some fields as 8-bit codes, (height, width, 3) uint8.

        Parameters:  fields : (what `lit` made of the field, its phase), as many as are seen at once. Moving
            pictures keep the lit lines of a field for the next picture, in which it is seen again
        """
        out = np.empty((self.height, self.width, 3), dtype=np.uint8)

        def encode(rows: slice, light: NDArray) -> None:
            self._code.into(light, out[rows])

        self._paint(fields, encode)
        return out

    def period(self, pictures: Sequence[NDArray]) -> NDArray:
        """Return the mean light of the pictures of a whole cycle, in the order of time, as `field` does."""
        total = self.field(_some(pictures)[0], 0)
        for phase, values in enumerate(pictures[1:], start=1):
            total += self.field(values, phase)
        total /= np.float32(len(pictures))
        return total

    def code(self, light: NDArray) -> NDArray:
        """Return code values 0..1 of light in the file's encoding, after exposure and clip; float32."""
        return self._code.values(light)

    def codes(self, light: NDArray) -> NDArray:
        """Return light as 8-bit codes, uint8."""
        out = np.empty(light.shape, dtype=np.uint8)
        self._code.into(light.astype(np.float32), out)
        return out

    def clipped_percent(self, light: NDArray) -> float:
        """Return the percentage of dots whose light, after exposure, is above the file's white."""
        return self._code.clipped_percent(light)

    def _paint(self, fields: Sequence[tuple[NDArray, int]], finish: Any) -> None:
        """Call `finish` with every block of dot rows and the mean light of the fields there."""
        beams = [self._beams[phase % self.raster.period] for _, phase in fields]
        share = np.float32(1 / len(fields))

        def work(blocks: tuple[Block, ...]) -> None:
            shape = (len(blocks[0].weights), self.width, 3)
            light, more = np.empty(shape, np.float32), np.empty(shape if len(fields) > 1 else 0, np.float32)
            for number, (block, (lines, _)) in enumerate(zip(blocks, fields, strict=True)):
                into = more if number else light
                block.times(_with_powers(lines[block.columns], self._terms), into.reshape(shape[0], -1))
                if number:
                    light += more
            if len(fields) > 1:
                light *= share
            if self._mask is not None:
                light *= self._mask[blocks[0].rows]
            finish(blocks[0].rows, light)

        for_each(work, zip(*beams, strict=True))

    def lit(self, values: NDArray) -> NDArray:
        """Return the light along each line of one field, (lines, width * 3) float32: `mean_bytes` takes it.

        Raises: ShapeError when the picture is not of the raster
        """
        expected = (self.raster.lines, self.raster.samples, 3)
        if np.shape(values) != expected:
            raise ShapeError(f"screen: picture is {np.shape(values)}; this raster's are {expected}")
        values = np.asarray(values, dtype=np.float32)
        out = np.empty((self.raster.lines, self.width, 3), dtype=np.float32)

        def work(rows: slice) -> None:
            # the colours in planes: a third of the work of a product in which they are interleaved
            light = np.ascontiguousarray(self.display.light(values[rows]).transpose(0, 2, 1))
            planes = np.empty((*light.shape[:2], self.width), np.float32)
            for block in self._dots:
                into = planes.reshape(-1, self.width)[:, block.rows]
                block.times(light.reshape(-1, expected[1])[:, block.columns].T, into.T)
            out[rows] = planes.transpose(0, 2, 1)

        for_each(work, [slice(top, top + _BAND) for top in range(0, expected[0], _BAND)])
        return out.reshape(expected[0], -1)

    def _sharpness(self) -> list[Block]:
        first, last = self.cut.samples
        edges = np.linspace(first, last, self.cut.width + 1)
        window = shown_window(self.raster, self.display)
        across = (window.right - window.left) * self.raster.samples
        # heights to samples: the shown samples fill tube heights
        sigma = response_sigma(self.display.tv_lines) * across / float(self.tube)
        return response_blocks(self.raster.samples, edges, sigma)

    def _beam(self) -> list[list[Block]]:
        edges = np.linspace(*self.cut.lines, self.cut.height + 1)
        found, self._peaks = [], []
        for phase in range(self.raster.period):
            taps = beam_taps(line_places(self.raster, phase), edges, self.display)
            self._terms = taps.weights.shape[2]
            drive = np.linspace(0, 1, 65)
            light = taps.weights @ (drive[:, None] ** (2 + np.arange(self._terms))).T
            self._peaks.append(float(light.max(axis=2).sum(axis=1).max()))
            found.append(blocks_of(taps.columns, taps.weights, self.raster.lines))
        return found

    def _millimetres(self) -> tuple[NDArray, NDArray]:
        """Return the edges of the dots across and down, millimetres from the top left of the glass."""
        window = shown_window(self.raster, self.display)
        height = self.display.height_mm
        line = height / ((window.bottom - window.top) * self.raster.lines)
        sample = height * float(self.tube) / ((window.right - window.left) * self.raster.samples)
        across = np.linspace(*self.cut.samples, self.cut.width + 1) - window.left * self.raster.samples
        down = np.linspace(*self.cut.lines, self.cut.height + 1) - window.top * self.raster.lines
        return across * sample, down * line


def _with_powers(light: NDArray, terms: int) -> NDArray:
    """Return each line's light times s^m, m from 0, in a run: (lines * terms, values) float32.

    Made anew for each block of dot rows: quicker than once for all, which is more than the cache holds.
    """
    if terms == 1:
        return light
    out = np.empty((len(light), terms, light.shape[1]), dtype=np.float32)
    out[:, 0] = light
    drive = np.sqrt(np.clip(light, 0.0, 1.0))
    for m in range(1, terms):
        np.multiply(out[:, m - 1], drive, out=out[:, m])
    return out.reshape(-1, light.shape[1])


def _some(pictures: Sequence[NDArray]) -> Sequence[NDArray]:
    if len(pictures) == 0:
        raise ShapeError("screen: pictures holds none; at least one is needed: give a whole cycle")
    return pictures
