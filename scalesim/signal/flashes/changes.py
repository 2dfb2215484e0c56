"""Changes that can be halves of a flash: light in cells, and its turns from one extreme to the next.

A picture is reduced to cells of at most 0.2 degree, each the mean of its light. Squares of a balanced
pattern finer than 0.1 degree (two to a cell) so cancel, as WCAG's exception for fine balanced
patterns allows; coarser ones do not.

A *change* is the difference between successive extremes, however many pictures it takes, so a slow
ramp is one change. It counts, once, in the picture in which it has grown large enough; what turns
back by less than the threshold is no extreme. That is the reading of noise and of stairs too.
"""

from __future__ import annotations

from functools import cache
from math import floor

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light
from scalesim.errors import ParameterError, ShapeError

CELL_DEGREES = 0.2
SATURATED = 0.8
"""Share of red light, R / (R + G + B), from which a state is a saturated red."""

RED_STEP = 0.2
"""Change of (u', v'), the CIE 1976 chromaticity, above which a change to or from it counts."""

LEAST_LIGHT = 1 / 16
"""R + G + B below which a state is black and no colour: the 20/320 of the older working definition."""

_LEVELS = 65535
_BAND = 4
"""Rows of cells at a time: few enough that they stay near the processor."""

_ROUNDING = 2e-5
_NEUTRAL = (1 / 3, 0.1978, 0.4683)  # share of red, u' and v' of the D65 white
# (R, G, B) -> (4 X, 9 Y, X + 15 Y + 3 Z) with the primaries of BT.709 and IEC 61966-2-1
_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_UV = (np.array([[4.0, 0, 0], [0, 9, 0], [1, 15, 3]]) @ _XYZ).T.astype(np.float32)


class Cells:
    """Reduces pictures of one size to cells.

    Parameters:
        lines, samples : size of the pictures
        degrees : (width, height) that the screen subtends
    """

    def __init__(self, lines: int, samples: int, degrees: tuple[float, float]) -> None:
        self.size = (lines, samples)
        self.high = max(1, floor(CELL_DEGREES / degrees[1] * lines))
        self.wide = max(1, floor(CELL_DEGREES / degrees[0] * samples))
        self.shape = (-(-lines // self.high), -(-samples // self.wide))
        # of a row's (wide, colour, kind of light), the mean of each colour and kind
        self._mean = np.tile(np.eye(6, dtype=np.float32), (self.wide, 1)) / np.float32(self.high * self.wide)

    def light(self, codes: NDArray) -> tuple[NDArray, NDArray]:
        """Return the cells' light, (rows, columns, 3) float32, by sRGB and by BT.1886.

        Parameters:  codes : (lines, samples, 3) uint8, or float code values of which 0..1 is shown
        Raises: ShapeError for another size or dtype; ParameterError for NaN or infinity
        """
        if codes.shape != (*self.size, 3):
            raise ShapeError(f"picture has shape {codes.shape}; it must be {(*self.size, 3)} like the first")
        steps = codes if codes.dtype == np.uint8 else _steps(codes)
        rows, columns = self.shape
        means = np.empty((rows, columns, 6), np.float32)
        for top in range(0, rows, _BAND):
            band = self._band(steps, top)
            light = _light_of_lines(band).view(np.float32).reshape(len(band), columns, -1)
            np.matmul(light, self._mean, out=means[top : top + _BAND])
        both = means.reshape(rows, columns, 3, 2)
        return both[..., 0], both[..., 1]

    def _band(self, steps: NDArray, top: int) -> NDArray:
        """Return the codes of some rows of cells, (rows, lines, values), the edge repeated to whole cells."""
        band = steps[top * self.high : (top + _BAND) * self.high]
        count = min(_BAND, self.shape[0] - top)
        whole = (count * self.high, self.shape[1] * self.wide, 3)
        if band.shape != whole:
            lines, samples, _ = band.shape
            inside, band = band, np.empty(whole, steps.dtype)
            band[:lines, :samples] = inside
            band[:lines, samples:] = inside[:, -1:]
            band[lines:] = band[lines - 1]
        return band.reshape(count, self.high, -1)


def _light_of_lines(codes: NDArray) -> NDArray:
    """Return the sum over the lines of both kinds of light, as a complex number: (rows, values) complex64.

    Codes of 8 bits are looked up by two lines at a time, which takes half as long; a last line without a
    partner has black, whose light is 0.
    """
    if codes.dtype != np.uint8:
        return np.asarray(_lights(_LEVELS).take(codes, mode="clip").sum(axis=1))
    rows, lines, values = codes.shape
    pairs = np.empty((rows, -(-lines // 2), values), np.uint16)
    np.left_shift(codes[:, 0::2], 8, out=pairs, dtype=np.uint16)
    pairs[:, : lines // 2] |= codes[:, 1::2]
    return np.asarray(_lights_of_pairs().take(pairs, mode="clip").sum(axis=1))


@cache
def _lights(levels: int) -> NDArray[np.complex64]:
    """Return the light of each code, by sRGB and, as the imaginary part, by BT.1886."""
    both = np.stack([_srgb_light(levels), _tube_light(levels)], axis=1)
    return both.view(np.complex64)[:, 0]


@cache
def _lights_of_pairs() -> NDArray[np.complex64]:
    """Return the light of two codes of 8 bits, 256 times the first plus the second, together."""
    lights = _lights(255)
    return (lights[:, None] + lights[None, :]).ravel()


def _steps(codes: NDArray) -> NDArray:
    """Return float code values as whole steps of 1/65535, which is finer than any threshold."""
    if codes.dtype.kind != "f":
        raise ShapeError(f"picture is {codes.dtype}; give uint8, or float code values 0..1")
    if not (np.isfinite(codes.min()) and np.isfinite(codes.max())):
        raise ParameterError("picture has values that are NaN or infinite; code values are 0..1")
    shown = np.clip(codes, 0, 1).astype(np.float32, copy=False)
    return (shown * np.float32(_LEVELS) + np.float32(0.5)).astype(np.uint16)


def _srgb_light(levels: int) -> NDArray:
    """Light of each code by IEC 61966-2-1, from which WCAG takes relative luminance."""
    code = np.arange(levels + 1) / levels
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return light.astype(np.float32)


def _tube_light(levels: int) -> NDArray:
    return code_to_light(np.arange(levels + 1) / levels).astype(np.float32)


class LightChanges:
    """Finds where luminance has changed by `step` with a darker state below `dark`, both shares of white."""

    def __init__(self, first: NDArray, step: float, dark: float) -> None:
        self._low, self._high = first.copy(), first.copy()
        self._step, self._dark = np.float32(step - _ROUNDING), np.float32(dark)
        self._turns = _Turns(first.shape)

    def add(self, now: NDArray) -> tuple[NDArray, NDArray]:
        """Return (where it rose, where it fell), boolean, for the next picture's luminance."""
        np.minimum(self._low, now, out=self._low)
        np.maximum(self._high, now, out=self._high)
        rose = (now - self._low >= self._step) & (self._low < self._dark)
        fell = (self._high - now >= self._step) & (now < self._dark)
        rose, fell = self._turns.add(rose, fell)
        np.copyto(self._high, now, where=rose)
        np.copyto(self._low, now, where=fell)
        return rose, fell


class RedChanges:
    """Finds changes into ("rose") and out of ("fell") a saturated red, by WCAG's newer working definition.

    Either state has R / (R + G + B) >= 0.8 of light, and (u', v') change by more than 0.2. Extremes
    are those of the share of red. Black, R + G + B below 1/16, has the chromaticity of white.
    """

    def __init__(self, first: NDArray) -> None:
        self._low = redness(first)
        self._high = self._low.copy()
        self._turns = _Turns(first.shape[:2])

    def add(self, light: NDArray) -> tuple[NDArray, NDArray]:
        """Return (where it became red, where it ceased to be), for the next picture's (rows, columns, 3)."""
        now = redness(light)
        np.copyto(self._low, now, where=now[0] < self._low[0])
        np.copyto(self._high, now, where=now[0] > self._high[0])
        red, was_red = now[0] >= SATURATED, self._high[0] >= SATURATED
        if not (red.any() or was_red.any()):
            return red, was_red  # nothing is or was a red: the usual case, and done with
        rose = red & (_apart(now, self._low) > RED_STEP)
        fell = was_red & (_apart(now, self._high) > RED_STEP)
        rose, fell = self._turns.add(rose, fell)
        np.copyto(self._high, now, where=rose)
        np.copyto(self._low, now, where=fell)
        return rose, fell


def redness(light: NDArray) -> NDArray:
    """Return (3, rows, columns): share of red, u' and v' of (rows, columns, 3) light."""
    four_x, nine_y, weight = np.moveaxis(light @ _UV, -1, 0)
    red, total = light[..., 0], light.sum(axis=-1)
    seen = total >= LEAST_LIGHT
    found = np.empty((3, *red.shape), np.float32)
    pairs = ((red, total), (four_x, weight), (nine_y, weight))
    for k, (part, whole) in enumerate(pairs):
        found[k] = _NEUTRAL[k]
        np.divide(part, whole, out=found[k], where=seen)
    return found


def _apart(now: NDArray, then: NDArray) -> NDArray:
    return np.hypot(now[1] - then[1], now[2] - then[2])


class _Turns:
    """Lets a rise follow only a fall, and a fall only a rise; the first may be either."""

    def __init__(self, shape: tuple[int, ...]) -> None:
        self._may_rise = np.ones(shape, bool)
        self._may_fall = np.ones(shape, bool)

    def add(self, rose: NDArray, fell: NDArray) -> tuple[NDArray, NDArray]:
        rose = rose & self._may_rise
        fell = fell & self._may_fall
        self._may_rise = (self._may_rise & ~rose) | fell
        self._may_fall = (self._may_fall & ~fell) | rose
        return rose, fell
