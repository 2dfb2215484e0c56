"""Stored codes: what an 8- or 16-bit file holds of code values."""

from __future__ import annotations

from typing import Any, Literal, overload

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError, ShapeError

_BAND = 64


@overload
def to_codes(values: NDArray[Any], bits: Literal[8] = 8) -> NDArray[np.uint8]: ...
@overload
def to_codes(values: NDArray[Any], bits: Literal[16]) -> NDArray[np.uint16]: ...
@overload
def to_codes(values: NDArray[Any], bits: int) -> NDArray[np.uint8] | NDArray[np.uint16]: ...


def to_codes(values: NDArray[Any], bits: int = 8) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Return floor((2**bits - 1) clip(v, 0, 1) + 1/2) as uint8 (8 bits) or uint16 (16 bits).

    `values` are floating code values of any shape; the arithmetic is float64, so halves round up
    exactly. Raises `ParameterError` for other `bits`, `ShapeError` for values that are not floating
    or hold a NaN.
    """
    if bits not in (8, 16):
        raise ParameterError(f"bits is {bits}; 8 and 16 are written (8 for what a display shows)")
    values = np.asarray(values)
    if not np.issubdtype(values.dtype, np.floating):
        raise ShapeError(
            f"values are {values.dtype}; floating code values 0..1 are needed: divide codes by 255"
        )
    codes = np.empty(values.shape, dtype=np.uint8 if bits == 8 else np.uint16)
    if values.ndim == 0:
        return _band_codes(values, bits).astype(codes.dtype)
    # By bands, so that a large picture is never held in float64 as a whole.
    for top in range(0, values.shape[0], _BAND):
        codes[top : top + _BAND] = _band_codes(values[top : top + _BAND], bits)
    return codes


def _band_codes(values: NDArray[Any], bits: int) -> NDArray[np.float64]:
    wide = np.clip(values.astype(np.float64), 0.0, 1.0)
    if np.isnan(wide).any():
        count = int(np.isnan(wide).sum())
        raise ShapeError(
            f"values hold {count} or more that are not a number; 0 is allowed: fix the stage before"
        )
    codes: NDArray[np.float64] = np.floor(wide * (2**bits - 1) + 0.5)
    return codes
