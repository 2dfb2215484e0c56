"""What a chain puts on a tube as lines of light, and that light at any place of the picture."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from scalesim.core.encoding import code_to_light
from scalesim.core.raster import Raster
from scalesim.tube.beam import line_places

_TAPS = 4
"""Lines of a field that light a place: a beam of 0.4 line reaches two to each side."""

GREEN = 1
"""The channel that is compared: of the most pixels of a camera's mosaic, and most of what the eye sees."""


@dataclass(frozen=True)
class Beam:
    """How a line is spread, standard deviations with the camera's blur in them.

    Parameters:  white, black : across a line, in field-line pitches; along : in shares of the picture's width
    """

    white: float
    black: float
    along: float


@dataclass(frozen=True, eq=False)
class LitLines:
    """The lines of a chain's pictures, one cycle, in light.

    Parameters:
        fields : (lines, samples) light 0..1 of each picture's green
        first : where line 0 of each has its middle, in field-line pitches from the raster's top
        shares : how much of the exposure each picture has, together 1
    """

    fields: tuple[NDArray[np.float32], ...]
    first: tuple[float, ...]
    shares: tuple[float, ...]
    _smoothed: list[tuple[float, LitLines]] = field(default_factory=list, repr=False)

    @property
    def lines(self) -> int:
        """Lines of one field."""
        return len(self.fields[0])

    def smooth(self, along: float) -> LitLines:
        """Return them blurred along the lines by a Gaussian; the last is kept.

        Parameters:  along : standard deviation in shares of the picture's width
        """
        if self._smoothed and self._smoothed[0][0] == along:
            return self._smoothed[0][1]
        self._smoothed[:] = [(along, self._blurred(along))]
        return self._smoothed[0][1]

    def _blurred(self, along: float) -> LitLines:
        from scipy import ndimage

        sigma = along * self.fields[0].shape[1]
        fields = tuple(
            ndimage.gaussian_filter1d(each, sigma, axis=1, mode="constant") for each in self.fields
        )
        return LitLines(fields, self.first, self.shares)

    def light(self, v: NDArray, u: NDArray, beam: Beam, apart: float = 0.0) -> NDArray[np.float32]:
        """Return the light at places, of lines that `smooth` has blurred already.

        Parameters:
            v : field-line pitches from the top; u : shares of the width; same shape
            apart : pitches by which the second field lies further down than it should
        Returns: same shape, float32; the mean over a picture of white is 1
        """
        total = np.zeros(v.shape, np.float32)
        for k, (lit, first, share) in enumerate(zip(self.fields, self.first, self.shares, strict=True)):
            moved = first + (apart * (k - 0.5) if apart else 0.0)
            if share:
                total += np.float32(share) * _painted(lit, v - moved, u, beam)
        return total


def _painted(field: NDArray, v: NDArray, u: NDArray, beam: Beam) -> NDArray[np.float32]:
    lines, samples = field.shape
    padded = np.zeros((lines + 2 * _TAPS, samples + 2), np.float32)
    padded[_TAPS:-_TAPS, 1:-1] = field
    x = np.clip(u * samples + 0.5, 0, samples + 0.999).astype(np.float32)
    left = x.astype(np.int64)
    part = x - left
    top = np.clip(np.floor(v).astype(np.int64) - (_TAPS // 2 - 1), -_TAPS, lines)
    total = np.zeros(v.shape, np.float32)
    flat, width = padded.ravel(), samples + 2
    for tap in range(_TAPS):
        line = top + tap
        at = (line + _TAPS) * width + left
        lit = flat[at] * (1 - part) + flat[at + 1] * part
        sigma = np.float32(beam.black) + np.float32(beam.white - beam.black) * np.sqrt(np.minimum(lit, 1))
        away = (v - line).astype(np.float32) / sigma
        total += lit * np.exp(np.float32(-0.5) * away * away) / (sigma * np.float32(np.sqrt(2 * np.pi)))
    return total


def _green_light(picture: NDArray) -> NDArray[np.float32]:
    """Return the light of a picture's green; a kernel's undershoot below black is no light."""
    return code_to_light(np.maximum(picture[..., GREEN], 0).astype(np.float32))


def lit_lines(
    cycle: tuple[NDArray, ...], raster: Raster, shares: tuple[float, ...] | None = None
) -> LitLines:
    """Return the lines of light of a chain's pictures, (raster.lines, raster.samples, 3) code values each."""
    count = len(cycle)
    return LitLines(
        tuple(_green_light(each) for each in cycle),
        tuple(float(line_places(raster, phase % raster.period)[0]) for phase in range(count)),
        shares or (1 / count,) * count,
    )
