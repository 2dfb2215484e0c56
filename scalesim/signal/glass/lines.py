"""`Lines`: the scan lines of a photo as a phase that grows by one from line to line."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

CUBIC = tuple((i, j) for total in range(4) for i in range(total + 1) for j in (total - i,))
"""Powers of x and y of the phase's polynomial; the constant comes first."""


@dataclass(frozen=True, eq=False)
class Lines:
    """Scan lines over a photo: Phi(x, y) in lines, whole at the middle of a line, growing downward.

    Parameters:
        coefficients : (10,) of `CUBIC`, in ((x - centre) / scale, (y - centre) / scale)
        centre, scale : of the coordinates, pixels
        rows, columns : size of the photo
        trust : (down, across) 0..1 how far the lines can be trusted there, on an even grid of cells
        share, coherence, residual, amplitude : tiles that agree; of the carrier; rms in lines; A1
    """

    coefficients: NDArray[np.float64]
    centre: tuple[float, float]
    scale: float
    rows: int
    columns: int
    trust: NDArray[np.float32]
    share: float
    coherence: float
    residual: float
    amplitude: float

    def phase(self, x: NDArray, y: NDArray) -> NDArray[np.float64]:
        """Return Phi at places (pixels), in lines."""
        a, b = self._own(x, y)
        return np.asarray(sum(c * a**i * b**j for c, (i, j) in zip(self.coefficients, CUBIC, strict=True)))

    def slope(self, x: NDArray, y: NDArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the phase's slope across and down at places, in lines a pixel."""
        a, b = self._own(x, y)
        across = down = np.zeros_like(a)
        for c, (i, j) in zip(self.coefficients, CUBIC, strict=True):
            across = across + (c * i * a ** (i - 1) * b**j if i else 0)
            down = down + (c * j * a**i * b ** (j - 1) if j else 0)
        return across / self.scale, down / self.scale

    def period(self, x: NDArray, y: NDArray) -> NDArray[np.float64]:
        """Return pixels from line to line at places, square to the lines."""
        across, down = self.slope(x, y)
        return np.asarray(1 / np.hypot(across, down))

    def direction(self, x: NDArray, y: NDArray) -> NDArray[np.float64]:
        """Return how far the lines rise from level at places, in degrees; positive falls to the right."""
        across, down = self.slope(x, y)
        return np.asarray(np.degrees(np.arctan2(-across, down)))

    def _own(self, x: NDArray, y: NDArray) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        a = (np.asarray(x, dtype=np.float64) - self.centre[0]) / self.scale
        return a, (np.asarray(y, dtype=np.float64) - self.centre[1]) / self.scale
