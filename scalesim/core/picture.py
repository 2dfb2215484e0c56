"""Pictures: values on a raster at a time. A stream of them is a clip; nothing needs it whole."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import luma, luminance
from scalesim.core.operator import Operator
from scalesim.core.raster import Raster
from scalesim.errors import ShapeError

FARTHEST = 4.0
"""No signal leaves 0…1 so far: values beyond are codes that nobody divided."""


@dataclass(frozen=True, eq=False)
class Picture:
    """One field or progressive frame.

    Parameters:
        values : (lines, samples, 3) float32 or float64 code values, nominally 0..1
        raster : what its lines and fields are
        time : seconds since the first picture, exact
    """

    values: NDArray
    raster: Raster
    time: Fraction = Fraction(0)

    def after(self, operator: Operator, raster: Raster, among: Sequence[Operator] = ()) -> Picture:
        """Return the picture after an operator, on the raster that it then is on.

        Parameters:  among : the operators of a cycle, of which it is one: what comes next goes through others
        """
        return Picture(operator(self.values), raster, self.time)

    def luma(self) -> NDArray:
        """Return BT.709 luma, (lines, samples)."""
        return luma(self.values)

    def luminance(self) -> NDArray:
        """Return BT.709 luminance of its light, (lines, samples)."""
        return luminance(self.values)


def check_values(values: NDArray, raster: Raster, *, name: str = "picture") -> NDArray:
    """Return `values` as float32 or float64 after checking shape, dtype and finiteness.

    Raises: ShapeError naming what does not fit
    """
    array = np.asarray(values)
    array = array.astype(array.dtype.newbyteorder("="), copy=False)
    if array.dtype not in (np.float32, np.float64):
        raise ShapeError(
            f"{name}: dtype is {array.dtype}; it must be float32 or float64 code values in 0..1 "
            "(divide 8-bit codes by 255)"
        )
    expected = (raster.frame_lines, raster.samples, 3)
    if array.shape != expected:
        raise ShapeError(f"{name}: shape is {array.shape}; this raster takes {expected}")
    most = float(np.max(np.abs(array)))
    if not np.isfinite(most):
        raise ShapeError(f"{name}: holds NaN or infinite values; every code value must be finite")
    if most > FARTHEST:
        raise ShapeError(
            f"{name}: holds {most:g}; code values are 0…1, at most {FARTHEST:g} (divide 8-bit codes by 255)"
        )
    return array


def check_reference(reference: object) -> None:
    """Raise ShapeError for a picture to compare with that is no picture: words are checked by who asks.

    It must be (lines, samples, 3) finite float code values of at most `FARTHEST`.
    """
    if isinstance(reference, str):
        return
    shape = getattr(reference, "shape", type(reference).__name__)
    if not isinstance(reference, np.ndarray) or len(shape) != 3 or shape[2] != 3 or 0 in shape:
        raise ShapeError(f"reference: is {shape}; it must be (lines, samples, 3) code values")
    check_values(reference, Raster(*shape[:2]), name="reference")


def weave(fields: list[NDArray], parities: list[int]) -> NDArray:
    """Return the frame whose lines of each parity are that field's; all fields have one shape."""
    lines, samples, channels = fields[0].shape
    frame = np.empty((2 * lines, samples, channels), dtype=fields[0].dtype)
    for values, parity in zip(fields, parities, strict=True):
        frame[parity::2] = values
    return frame


def still_stream(frame: NDArray, raster: Raster) -> Iterator[Picture]:
    """Yield a still for ever: the whole frame, or its fields in turn, one picture period apart.

    Parameters:
        frame : (frame_lines, samples, 3), woven when the raster has fields
    """
    index = 0
    pictures = split_fields(frame, raster)
    while True:
        yield Picture(pictures[index % raster.period], raster, index / raster.rate)
        index += 1


def split_fields(frame: NDArray, raster: Raster) -> list[NDArray]:
    """Return the pictures of one frame in the order of time: itself, or its two fields."""
    if raster.period == 1:
        return [frame]
    return [frame[field.parity :: 2] for field in raster.fields]
