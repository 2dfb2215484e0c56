"""A film of a tube against its first frame's lines: the carrier of every frame, row by row."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.core.photo import FilmFrame
from scalesim.signal.glass.candidates import reduced
from scalesim.signal.glass.carrier import carrier
from scalesim.signal.glass.demodulate import cells_of
from scalesim.signal.glass.find import Found, View
from scalesim.signal.glass.motion import motion
from scalesim.signal.glass.sums import columns_summed

ACROSS = 4
"""Columns averaged first: lines run along them."""
AROUND = 32
"""Pixels around the bezel that are looked at: the camera may have moved as far."""


@dataclass(frozen=True, eq=False)
class Rows:
    """One frame's carrier, row of cells by row.

    Parameters:
        time : s; z : (rows,) complex, against the first frame's phase; weight : (rows,) light
        coherence : of z squared over all cells, 0..1; light : mean of the frame
        moved : (down, across) by which the camera moved by the bezel, pixels of the film; None where it is
        not known; moved_error : standard error of that, pixels
    """

    time: float
    z: NDArray[np.complex128]
    weight: NDArray[np.float64]
    coherence: float
    light: float
    moved: tuple[float, float] | None
    moved_error: float = 0.0


@dataclass(frozen=True, eq=False)
class Reader:
    """Reads frames against the lines of one.

    Parameters:
        found : of that frame; phase : (rows, columns / ACROSS) lines; used : of cells; size : of a cell
        room : where the bezel is, when it was named: what else lies outside the lines may be the picture's
        own
    """

    found: Found
    phase: NDArray[np.float64]
    used: NDArray[np.bool_]
    size: tuple[int, int]
    room: NDArray[np.bool_] | None

    @staticmethod
    def of(found: Found, room: NDArray[np.bool_] | None) -> Reader:
        """Return what reads frames against these lines."""
        frame = found.fit.frame
        columns = frame.columns // ACROSS
        x, y = np.meshgrid(np.arange(columns) * ACROSS + (ACROSS - 1) / 2, np.arange(frame.rows, dtype=float))
        phase = frame.basis(x, y) @ found.fit.coefficients
        down, across = found.fit.cells.size
        size = (down, max(1, across // ACROSS))
        wide = np.repeat(np.repeat(found.fit.used, down, axis=0), across, axis=1)[:, ::ACROSS]
        padded = np.zeros(phase.shape, dtype=bool)
        rows, cols = min(phase.shape[0], wide.shape[0]), min(phase.shape[1], wide.shape[1])
        padded[:rows, :cols] = wide[:rows, :cols]
        shape = (phase.shape[0] // size[0], size[0], phase.shape[1] // size[1], size[1])
        used = padded[: shape[0] * size[0], : shape[2] * size[1]].reshape(shape).mean(axis=(1, 3)) > 0.5
        return Reader(found, phase, used, size, room)

    @property
    def lines(self) -> NDArray[np.float64]:
        """(rows,) phase of the rows of cells at the middle, lines: where the beam is."""
        middle = self.phase[:, self.phase.shape[1] // 2]
        return np.asarray(middle[self.size[0] // 2 :: self.size[0]][: len(self.used)])

    @property
    def places(self) -> NDArray[np.float64]:
        """(rows,) where the rows of cells lie in the frame, 0..1 downward."""
        return (np.arange(len(self.used)) + 0.5) * self.size[0] / self.phase.shape[0]

    def rows(self, frame: FilmFrame) -> Rows:
        """Return a frame's carrier, row by row."""
        small = reduced(frame.light, self.found.view.factor)
        narrow = columns_summed(small[:, : small.shape[1] // ACROSS * ACROSS], ACROSS)
        narrow /= np.float32(ACROSS)
        wave, mean = carrier(narrow, 1.2 * self.found.fit.cells.size[0])
        cells = cells_of(wave, mean, self.phase[:, : wave.shape[1]], self.size)
        z = np.where(self.used, cells.sum, 0)
        smooth = cells.smoothed(1.5 * self.size[0]).z[self.used] ** 2
        coherence = float(np.abs(smooth.sum()) / (np.abs(smooth).sum() + 1e-12))
        weight = np.where(self.used, cells.light, 0).sum(axis=1)
        moved, error = self._moved(small)
        bright = float(small[::4, ::4].mean())
        return Rows(frame.time, z.sum(axis=1), weight, coherence, bright, moved, error)

    def _moved(self, small: NDArray[np.float32]) -> tuple[tuple[float, float] | None, float]:
        """Return (down, across) pixels of the film by which the camera moved, and its error."""
        if self.room is None:
            return None, 0.0
        part = self.near
        found = motion(self.found.view.light[part], small[part], self.room[part])
        if found is None:
            return None, 0.0
        factor = self.found.view.factor
        return (factor * float(found.shift[1]), factor * float(found.shift[0])), factor * found.error

    @property
    def near(self) -> tuple[slice, slice]:
        """The part of the reduced frame that holds the bezel that was named."""
        assert self.room is not None
        rows, columns = np.flatnonzero(self.room.any(axis=1)), np.flatnonzero(self.room.any(axis=0))
        if not len(rows) or not len(columns):
            return slice(0, 0), slice(0, 0)
        return (
            slice(max(0, rows[0] - AROUND), rows[-1] + 1 + AROUND),
            slice(max(0, columns[0] - AROUND), columns[-1] + 1 + AROUND),
        )

    def seen(self, frame: FilmFrame) -> Found:
        """Return the lines as one frame shows them: the same phase, what this frame's light has at it."""
        small = reduced(frame.light, self.found.view.factor)
        fit, pitch = self.found.fit, self.found.fit.cells.size[0]
        wave, mean = carrier(small, 1.2 * pitch)
        cells = cells_of(wave, mean, fit.frame.parts(fit.coefficients), fit.cells.size).smoothed(2.5 * pitch)
        view = View(small, wave, mean, self.found.view.factor)
        return replace(self.found, view=view, fit=replace(fit, cells=cells))
