"""The carrier's phase and height against a model, cell by cell."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.lines import CUBIC
from scalesim.signal.glass.sums import rows_summed

_BAND = 30_000
"""Pixels that are worked on at a time, about: few enough to stay in the processor's cache."""


@dataclass(frozen=True)
class Frame:
    """Coordinates of a phase polynomial: (x - centre) / scale."""

    centre: tuple[float, float]
    scale: float
    rows: int
    columns: int

    @staticmethod
    def of(rows: int, columns: int) -> Frame:
        """Return the frame of a picture of this size."""
        return Frame(((columns - 1) / 2, (rows - 1) / 2), max(rows, columns) / 2, rows, columns)

    def basis(self, x: NDArray, y: NDArray) -> NDArray[np.float64]:
        """Return (..., 10) powers of places; of a grid its row of x and its column of y are enough."""
        a, b = (x - self.centre[0]) / self.scale, (y - self.centre[1]) / self.scale
        return np.stack([a**i * b**j for i, j in CUBIC], axis=-1)

    def field(self, coefficients: NDArray) -> NDArray[np.float64]:
        """Return (rows, columns) phase of every pixel."""
        return self.parts(coefficients)(slice(None))

    def parts(self, coefficients: NDArray) -> Callable[[slice], NDArray[np.float64]]:
        """Return what gives the phase of some rows: all of a large photo's is more than need be held."""
        a = (np.arange(self.columns) - self.centre[0]) / self.scale
        b = (np.arange(self.rows) - self.centre[1]) / self.scale
        across = [
            sum(c * a**i for c, (i, j) in zip(coefficients, CUBIC, strict=True) if j == power)
            for power in range(4)
        ]

        def part(rows: slice) -> NDArray[np.float64]:
            down = b[rows]
            out = np.tile(across[0], (len(down), 1))
            for power, own in enumerate(across[1:], 1):
                out += np.outer(down**power, own)
            return out

        return part


@dataclass(frozen=True, eq=False)
class Cells:
    """What was seen in cells of a photo.

    Parameters:
        sum : (down, across) complex, mean over each cell of light times carrier times exp(-2 pi i phase)
        light : (down, across) mean light; x, y : middles of the cells, pixels
        size : (rows, columns) of a cell
    """

    sum: NDArray[np.complex128]
    light: NDArray[np.float64]
    x: NDArray[np.float64]
    y: NDArray[np.float64]
    size: tuple[int, int]

    @property
    def z(self) -> NDArray[np.complex128]:
        """(down, across) complex, the carrier's phasor: half its height, at its phase."""
        return np.asarray(self.sum / (self.light + 1e-12))

    def turned(self, lines: NDArray) -> Cells:
        """Return the cells against a phase that is `lines` (down, across) more."""
        return replace(self, sum=self.sum * np.exp(-2j * np.pi * lines))

    def smoothed(self, spread: float) -> Cells:
        """Return the cells after a Gaussian over pixels; `spread` in pixels."""
        from scipy.ndimage import gaussian_filter

        sigma = (spread / self.size[0], spread / self.size[1])
        real, imag, light = (
            gaussian_filter(each, sigma, mode="nearest")
            for each in (self.sum.real, self.sum.imag, self.light)
        )
        return replace(self, sum=real + 1j * imag, light=light)


def cells_of(
    wave: NDArray,
    mean: NDArray,
    phase: NDArray | Callable[[slice], NDArray],
    size: tuple[int, int],
    factor: float = 1.0,
) -> Cells:
    """Return the cells of a carrier against a phase.

    Parameters:
        wave, mean : of `carrier`, (rows, columns); phase : (rows, columns) lines, or what gives some rows of
            it (`Frame.parts`)
        size : pixels (down, across) of a cell; factor : 2 for twice as many lines, 1/2 for half as many
    """
    down, across = wave.shape[0] // size[0], wave.shape[1] // size[1]
    columns = across * size[1]
    sums = np.empty((3, down, across))
    band = max(1, _BAND // (size[0] * columns))
    for top in range(0, down, band):
        rows = slice(top * size[0], min(top + band, down) * size[0])
        lines = phase(rows) if callable(phase) else phase[rows]
        parts = _against(wave[rows, :columns], mean[rows, :columns], lines[:, :columns] * factor)
        for out, each in zip(sums[:, top : top + band], parts, strict=True):
            out[...] = _mean(each, size)
    x = (np.arange(across) + 0.5) * size[1] - 0.5
    y = (np.arange(down) + 0.5) * size[0] - 0.5
    return Cells(sums[0] + 1j * sums[1], sums[2], *np.meshgrid(x, y), size)


def _against(wave: NDArray, light: NDArray, lines: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Return light times carrier against the cosine and the sine of a phase, and the light."""
    turn = ((lines - np.floor(lines)) * (-2 * np.pi)).astype(np.float32)
    own = wave * light
    return own * np.cos(turn), own * np.sin(turn), light


def _mean(values: NDArray, size: tuple[int, int]) -> NDArray[np.float64]:
    rows = rows_summed(values, size[0])
    both = rows.reshape(len(rows), -1, size[1]).sum(axis=2)
    return np.asarray(both / (size[0] * size[1]), dtype=np.float64)
