"""References for fidelity: the `ideal`, and source and output through one beam.

The ideal is the source taken through the chain's own geometry, and nothing else.

Every landed line (and sample) is the exact area mean, in light, of the piece of source the chain's
geometry gives it. So a picture that is merely placed elsewhere is not mistaken for a worse one, and
what remains as a difference is the quality of the scaling.

To compare rasters of different line counts, source and output are both drawn on the source's lines
through one Gaussian beam of sigma 1/600 of the picture height (0.4 of a 240-line pitch), in light.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.build import average_lines, beam_lines, filter_lines, resample_lines
from scalesim.core.encoding import Encoding, code_to_light, light_to_code
from scalesim.core.operator import Operator

_LEAST_LINES = 16
_LEAST_ENERGY = 1e-6
"""Mean squared gradient below which a picture has no vertical detail (0.1 % of white a line)."""
_MOST_ROUNDS = 12
_BORDER = 3
_FARTHEST = 3.0
_MOST_ANEW, _SETTLED = 3, 2e-3
"""How often a reference is made anew, and the lines below which that is no longer needed."""


class Ideal:
    """The ideal landed picture, which can be asked for again a fraction of a line lower.

    Parameters:
        values : (lines, samples, channels) of the source, in light; in code values with `encoding` "code"
        lines, samples : where the landed picture looks on it; shape : its lines and samples
    """

    def __init__(
        self,
        values: NDArray,
        lines: Affine,
        samples: Affine,
        shape: tuple[int, int],
        encoding: Encoding = "light",
    ) -> None:
        self._values, self._encoding = values, encoding
        self._lines, self._samples, self._shape = lines, samples, shape

    def picture(self, lower: float = 0.0) -> NDArray:
        """Return the ideal moved down by `lower` landed lines: (lines, samples, 3) code values."""
        lines_out, samples_out = self._shape
        lines_in, samples_in = self._values.shape[:2]
        down = Affine(1.0, -lower).after(self._lines)
        along = self._samples
        across = None
        if along != IDENTITY or samples_in != samples_out:
            across = average_lines(samples_in, samples_out, along.scale, along.offset, edge="black")
        matrix = average_lines(lines_in, lines_out, down.scale, down.offset, edge="black")
        mean = Operator(matrix, across, "any")(self._values)
        return mean if self._encoding == "code" else light_to_code(mean)


class ThroughBeam:
    """The source, and an output, both drawn on the source's grid through the same beam."""

    def __init__(self, light: NDArray) -> None:
        self._light = light
        self._sigma = light.shape[0] / 600

    def source(self, lower: float = 0.0) -> NDArray:
        """Return the source through the beam, moved down by `lower` source lines; code values."""
        lines = self._light.shape[0]
        middles = np.arange(lines) + 0.5 + lower
        return light_to_code(Operator(beam_lines(middles, lines, self._sigma))(self._light))

    def output(self, landed: NDArray, look_lines: Affine, look_samples: Affine) -> NDArray:
        """Return a landed picture drawn where its lines look on the source; code values."""
        lines, samples = self._light.shape[:2]
        middles = look_lines(np.arange(landed.shape[0]) + 0.5)
        down = beam_lines(middles, lines, self._sigma)
        across = None
        if look_samples != IDENTITY or landed.shape[1] != samples:
            back = look_samples.inverse()
            across = resample_lines(landed.shape[1], samples, back.scale, back.offset)
        return light_to_code(Operator(down, across)(code_to_light(landed)))


@dataclass(frozen=True)
class Shift:
    """How many lines lower a picture lies, None without detail; and the mean square that is left then."""

    lines: float | None
    misfit: float


def refined_shift(reference: Callable[[float], NDArray], test: NDArray) -> Shift:
    """Return `vertical_shift` with the reference itself made anew where it was found to lie.

    A reference of few lines is full of stairs, and moved by interpolation it is not what it would be a
    part of a line lower: the shift would be told up to 0.03 line wrong.

    Parameters:  reference : takes lines it is moved down by, gives (lines, samples) float luma; test : luma
    """
    there = reference(0.0)
    shift = vertical_shift(there, test)
    if shift is None:
        return Shift(None, np.inf)
    for _ in range(_MOST_ANEW):
        if abs(shift) > _FARTHEST:
            return Shift(None, np.inf)
        if shift:
            there = reference(shift)
        more = vertical_shift(there, test) or 0.0
        shift += more
        if abs(more) < _SETTLED:
            break
    return Shift(shift if abs(shift) <= _FARTHEST else None, _misfit(there, test, 0))


def vertical_shift(reference: NDArray, test: NDArray) -> float | None:
    """Return how many lines lower `test` shows the picture than `reference`, or None without detail.

    Least squares on the vertical gradient (Lucas and Kanade, 1981, for one parameter), after a 1/2/1
    low-pass against aliasing, on means along the line of 1/320 of the width: only the vertical detail
    counts. It starts from the best whole line within two and is repeated until it moves by less than
    0.001 line.

    Parameters:  reference, test : (lines, samples) float luma of one size
    """
    if reference.shape[0] < _LEAST_LINES:
        return None
    low_pass = Operator(filter_lines(reference.shape[0], (1, 2, 1)))
    start, target = (low_pass(_strips(values)[:, :, None]) for values in (reference, test))
    detail = float(np.mean(np.diff(target, axis=0) ** 2))
    shift = float(min(range(-2, 3), key=lambda n: _misfit(start, target, n)))
    for _ in range(_MOST_ROUNDS):
        moved = _moved_down(start, shift)
        gradient = (moved[2:] - moved[:-2])[_BORDER:-_BORDER] / 2
        energy = float(np.mean(gradient * gradient))
        if energy < _LEAST_ENERGY or detail < _LEAST_ENERGY:
            return None
        missing = (target - moved)[1:-1][_BORDER:-_BORDER]
        # moving the picture down by d changes it by -d times its gradient
        change = -float(np.mean(gradient * missing)) / energy
        shift += change
        if abs(change) < 1e-3:
            break
    return shift if abs(shift) <= _FARTHEST else None


def _strips(values: NDArray) -> NDArray:
    """Return (lines, about 320) means along the line; the last strip may be narrower."""
    width = max(1, values.shape[1] // 320)
    starts = np.arange(0, values.shape[1], width)
    sizes = np.diff(np.append(starts, values.shape[1]))
    return np.add.reduceat(values, starts, axis=1) / sizes


def _moved_down(values: NDArray, lines: float) -> NDArray:
    if lines == 0:
        return values
    return Operator(resample_lines(values.shape[0], values.shape[0], 1.0, -lines, kernel="cubic"))(values)


def _misfit(start: NDArray, target: NDArray, lines: int) -> float:
    inner = slice(_BORDER, -_BORDER)
    return float(np.mean((_moved_down(start, lines) - target)[inner] ** 2))
