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
BANDS, STACKED = 8, 4
"""Bands of columns that are looked at apart where the sensor was read along the lines, and rows of cells that
are taken together there: fields change from band to band, and hardly within four lines."""
AROUND = 32
"""Pixels around the bezel that are looked at: the camera may have moved as far."""


@dataclass(frozen=True, eq=False)
class Rows:
    """One frame's carrier, row of cells by row; of a film on its side band by band, each row by row.

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
        own; turned : quarters of a turn counterclockwise from how the sensor was read, row by row downward
    """

    found: Found
    phase: NDArray[np.float64]
    used: NDArray[np.bool_]
    size: tuple[int, int]
    room: NDArray[np.bool_] | None
    turned: int = 0

    @staticmethod
    def of(found: Found, room: NDArray[np.bool_] | None, turned: int = 0) -> Reader:
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
        return Reader(found, phase, used, size, room, turned)

    @property
    def lines(self) -> NDArray[np.float64]:
        """(rows,) phase of the rows of cells at the middle, or of every band: where the beam is."""
        rows = self.phase[self.size[0] // 2 :: self.size[0]][: len(self.used)]
        count = len(self._parts(self.used))
        middles = ((np.arange(count) + 0.5) / count * self.phase.shape[1]).astype(int)
        return np.concatenate([self._mean(rows[:, middle]) for middle in middles])

    @property
    def places(self) -> NDArray[np.float64]:
        """(rows,) when the rows of cells, or the bands, are read, 0..1 of the readout."""
        count = len(self._parts(self.used))
        down = (np.arange(len(self.used)) + 0.5) * self.size[0] / self.phase.shape[0]
        rows = self._mean(down)
        across = np.repeat((np.arange(count) + 0.5) / count, len(rows))
        place = across if self.turned % 2 else rows
        return np.asarray(1 - place if self.turned in (2, 3) else place)

    @property
    def _height(self) -> int:
        """Rows of cells taken together."""
        return STACKED if self.turned % 2 else 1

    def _parts(self, cells: NDArray) -> list[NDArray]:
        """Return the bands of columns of cells that are looked at apart: one, but of a film on its side."""
        return np.array_split(cells, min(BANDS, cells.shape[1]), axis=1) if self.turned % 2 else [cells]

    def _stacked(self, rows: NDArray) -> NDArray:
        """Return sums over the rows of cells that are taken together, what is left over added to the last."""
        count = max(1, len(rows) // self._height)
        return np.add.reduceat(rows, np.arange(count) * self._height)

    def _mean(self, rows: NDArray) -> NDArray[np.float64]:
        """Return means over the rows of cells that are taken together."""
        return np.asarray(self._stacked(rows) / self._stacked(np.ones(len(rows))))

    def _summed(self, cells: NDArray) -> NDArray:
        """Return (rows,) sums along the rows of cells, of every band."""
        return np.concatenate([self._stacked(part.sum(axis=1)) for part in self._parts(cells)])

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
        weight = self._summed(np.where(self.used, cells.light, 0))
        moved, error = self._moved(small)
        bright = float(small[::4, ::4].mean())
        return Rows(frame.time, self._summed(z), weight, coherence, bright, moved, error)

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
