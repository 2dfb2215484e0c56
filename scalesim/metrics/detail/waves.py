"""Spectra of windows: pictures transformed at chosen frequencies, in Hann windows of a quarter of them.

Where the lines of a window lie alike on either side of its middle, they are added and subtracted in pairs
first: cosines are the same there, sines the opposite, so half of the sums do.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.errors import NotMeasurable

Array = NDArray[Any]

_LEAST_LENGTH = 16
_BELOW = 6
"""Frequencies below the band that tell gain and displacement."""
_MOST = 31
"""Frequencies in the band: two bins of a Hann window overlap by half, so few tell as much as many."""
_DIGITS = 9
"""Of places in a window, in its length, that tell them apart."""


@dataclass(frozen=True)
class Windows:
    """Where the windows lie on the landed picture, and how long they are, in its lines."""

    starts: tuple[float, ...]
    length: float

    @classmethod
    def of(cls, first: float, last: float, size: int) -> Windows:
        """Return windows of a quarter of `size` lines, half overlapping, spread over first..last.

        Raises: NotMeasurable when fewer than 16 lines are to be had
        """
        length = min(size / 4, last - first)
        if length < _LEAST_LENGTH:
            raise NotMeasurable(
                f"windows of {max(length, 0):.0f} lines or samples are too short to tell detail; "
                f"it needs {_LEAST_LENGTH}"
            )
        count = int((last - first - length) / (length / 2) + 1e-6) + 1
        return cls(tuple(np.linspace(first, last - length, count)), length)


@dataclass(frozen=True)
class Band:
    """Frequencies the detail is told at, in cycles per landed line, and the words for them.

    Parameters:  low, high : its ends; words : as `how` tells them
    """

    low: float
    high: float
    words: str

    def frequencies(self, windows: Windows) -> tuple[Array, int]:
        """Return those of the gain, below the band and in it, and the number of those below it."""
        step = 1 / windows.length
        below = np.arange(1, _BELOW + 1) * step
        count = min(_MOST, round((self.high - self.low) / step) + 1)
        return np.concatenate([below, np.linspace(self.low, self.high, count)]), len(below)


@dataclass(frozen=True, eq=False)
class Side:
    """Spectra of one side, (frequencies, windows times columns) float32."""

    real: Array
    imaginary: Array

    @classmethod
    def of(cls, picture: Array, look: Affine, windows: Windows, frequencies: Array) -> Side:
        """Return the spectra of a picture (lines, columns) whose lines lie where `look` maps them."""
        count = len(frequencies)
        both = np.empty((2 * count, len(windows.starts), picture.shape[1]), np.float32)
        for k, waves in enumerate(_waves_in(len(picture), look, windows, tuple(frequencies))):
            waves.transform(picture, both[:, k])
        return cls(*both.reshape(2, count, -1))

    @cached_property
    def _parts(self) -> tuple[Array, Array]:
        """Both in float64: what a difference of powers leaves is small, and must not be rounding."""
        return self.real.astype(np.float64), self.imaginary.astype(np.float64)

    @cached_property
    def power(self) -> Array:
        """Power at each frequency, summed over windows and columns, float64."""
        real, imaginary = self._parts
        return _dots(real, real) + _dots(imaginary, imaginary)

    def cross(self, other: Side) -> Array:
        """Return the sum of conj(own) * other over windows and columns, complex128 per frequency."""
        if other is self:
            return self.power.astype(np.complex128)
        (real, imaginary), (others_real, others_imaginary) = self._parts, other._parts
        along = _dots(real, others_real) + _dots(imaginary, others_imaginary)
        return along + 1j * (_dots(real, others_imaginary) - _dots(imaginary, others_real))

    @property
    def values(self) -> Array:
        """(frequencies, windows times columns) complex64."""
        return self.real + np.complex64(1j) * self.imaginary


def _dots(first: Array, second: Array) -> Array:
    """Return the sum of products of each row."""
    return np.matmul(first[:, None], second[:, :, None])[:, 0, 0]


@dataclass(frozen=True, eq=False)
class _Waves:
    """Cosines, then sines, over the lines in a window.

    Parameters:
        first, lines : the first line in it, and how many there are
        weights : (2 * frequencies, lines) float32; of half the lines where they lie alike about the middle
    """

    first: int
    lines: int
    weights: Array

    def transform(self, picture: Array, out: Array) -> None:
        """Write the spectra of a picture (lines, columns) to `out`, (2 * frequencies, columns)."""
        part, used = picture[self.first : self.first + self.lines], self.weights.shape[1]
        if used == self.lines:
            np.matmul(self.weights, part, out=out)
            return
        above, below, count = part[:used], part[::-1][:used], len(out) // 2
        np.matmul(self.weights[:count], above + below, out=out[:count])
        np.matmul(self.weights[count:], above - below, out=out[count:])


@lru_cache(maxsize=64)
def _waves_in(
    lines: int, look: Affine, windows: Windows, frequencies: tuple[float, ...]
) -> tuple[_Waves, ...]:
    """Return the waves of every window; kept, because they are the same for every frame.

    And of every chain, for the source. Windows in which the lines lie alike share their weights.
    """
    found, known = [], dict[bytes, Array]()
    turns = windows.length * np.array(frequencies)
    for start in windows.starts:
        places = ((look(np.arange(lines) + 0.5) - start) / windows.length).round(_DIGITS)
        inside = np.flatnonzero((places > 0) & (places < 1))
        own, first = places[inside], int(inside[0]) if len(inside) else 0
        if own.tobytes() not in known:
            known[own.tobytes()] = _weights(own, abs(look.scale), turns)
        found.append(_Waves(first, len(own), known[own.tobytes()]))
    return tuple(found)


def _weights(places: Array, scale: float, turns: Array) -> Array:
    """Return the weights of lines at places 0..1 in a window, `turns` of the waves from end to end."""
    hann = np.sin(np.pi * places) ** 2 * scale
    waves = hann * np.exp(-2j * np.pi * turns[:, None] * (places - 0.5))
    waves -= waves.sum(axis=1, keepdims=True) * (hann / hann.sum())  # blind to the window's own mean
    weights = np.concatenate([waves.real, waves.imag])
    if len(places) > 1 and np.abs(places + places[::-1] - 1).max() < 1.5 * 10**-_DIGITS:
        weights = weights[:, : (len(places) + 1) // 2]
        if len(places) % 2:
            weights[:, -1] /= 2  # the line in the middle is its own partner
    return weights.astype(np.float32)
