"""Light to the code values of a file: exposure, clip, encoding."""

from __future__ import annotations

import math
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import light_to_code
from scalesim.errors import ParameterError, nearest

FileEncoding = Literal["bt1886", "srgb"]

_STEPS = 16383
"""Steps of the table of 8-bit codes, even in the square root of light: at black they are 1/12 of a code."""


class Code:
    """Code values of light.

    Parameters:
        encoding : "bt1886", V = L^(1/2.4) of ITU-R BT.1886 with black at 0, or "srgb", IEC 61966-2-1
        exposure : gain before the clip at the file's white, above 0
    Raises: ParameterError
    """

    def __init__(self, encoding: FileEncoding, exposure: float) -> None:
        if encoding not in get_args(FileEncoding):
            raise ParameterError(
                f"screen: encoding is {encoding!r}; {nearest(str(encoding), get_args(FileEncoding))}"
            )
        number = isinstance(exposure, int | float) and not isinstance(exposure, bool)
        if not number or not math.isfinite(exposure) or not 0 < exposure <= 100:
            raise ParameterError(
                f"screen: exposure is {exposure!r}; it must be a number above 0 and at most 100, or "
                "'unclipped' (1 keeps the mean light)"
            )
        self.encoding, self.exposure = encoding, float(exposure)
        light = (np.arange(_STEPS + 1) / _STEPS) ** 2
        self._table = np.floor(255 * self._encoded(light) + 0.5).astype(np.uint8)

    def values(self, light: NDArray) -> NDArray:
        """Return code values 0..1 of (..., 3) light, same shape and dtype."""
        shown = light * light.dtype.type(self.exposure)
        _hold_hue(shown, 1.0)
        return self._encoded(np.clip(shown, 0.0, 1.0))

    def into(self, light: NDArray, out: NDArray) -> None:
        """Write 8-bit codes of float32 light to `out`, within one code of `values`; `light` is used up."""
        light *= np.float32(self.exposure * _STEPS**2)
        _hold_hue(light, float(_STEPS**2))
        np.clip(light, 0.0, np.float32(_STEPS**2), out=light)
        np.sqrt(light, out=light)
        light += np.float32(0.5)
        np.take(self._table, light.astype(np.uint16), out=out, mode="clip")

    def clipped_percent(self, light: NDArray) -> float:
        """Return the percentage of dots with a channel above the file's white."""
        brightest = light.max(axis=-1)
        return float(100.0 * np.mean(brightest * self.exposure > 1.0 + 1e-4))

    def _encoded(self, light: NDArray) -> NDArray:
        if self.encoding == "bt1886":
            return light_to_code(light)
        low = light <= 0.0031308
        return np.where(low, 12.92 * light, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055).astype(
            light.dtype
        )


def _hold_hue(light: NDArray, white: float) -> None:
    """Bring dots with a channel above the file's white down to it, all channels alike."""
    if light.size and light.max() > white:
        light /= np.maximum(light.max(axis=-1, keepdims=True) / light.dtype.type(white), 1)
