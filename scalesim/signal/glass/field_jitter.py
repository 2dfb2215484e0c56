"""How still whole fields stand against the tube, from a film that has a piece of the bezel in view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.film import Rows
from scalesim.signal.glass.timing import camera_lines

BANDS = 8
"""Bands of rows: above and below the place where the shutter's edge runs, a frame shows two fields."""
FEWEST_FRAMES = 10
COHERENT = 0.5
LIT = 0.3
"""Of the light of a typical band: darker ones saw no field."""


@dataclass(frozen=True)
class FieldJitter:
    """rms of whole fields about a steady place, pitches, its standard error, and the fields it rests on.

    registration : standard error of where the bezel was, pitches; it is part of rms
    """

    rms: float
    error: float
    frames: int
    registration: float


def field_jitter(rows: Sequence[Rows], signs: NDArray | None, pitch: float) -> FieldJitter | None:
    """Return how far whole fields stray from an even motion on the glass; None without enough bezel.

    Every frame's lines are placed against the bezel. In each band of rows a straight drift over time, and
    where there are two sets their mean distance, are taken off; the rms of what is left, over all bands, is
    the jitter. The registration of the bezel is not taken off: its error is told beside. Definition of this
    project.

    Parameters:
        rows : of every frame; signs : (frames, rows) of the model of two sets, None for one set
        pitch : pixels a line in the film
    """
    moved = camera_lines(rows, pitch)
    if moved is None or len(rows) < FEWEST_FRAMES:
        return None
    z = np.array([each.z for each in rows]) * np.exp(-2j * np.pi * moved[:, None])
    own = z if signs is None else z * np.sign(signs)
    side = np.zeros(z.shape) if signs is None else np.sign(signs)
    squares, freedoms = 0.0, 0.0
    for band in np.array_split(np.arange(z.shape[1]), BANDS):
        total, weight = own[:, band].sum(axis=1), np.abs(z[:, band]).sum(axis=1)
        seen = (np.abs(total) > COHERENT * weight) & (weight > LIT * np.median(weight))
        if seen.sum() < FEWEST_FRAMES:
            continue
        times = np.array([each.time for each in rows])[seen]
        off = _left(total[seen], times, side[seen][:, band].mean(axis=1))
        squares, freedoms = squares + float(off[0] @ off[0]), freedoms + off[1]
    if not freedoms:
        return None
    rms = float(np.sqrt(squares / freedoms))
    # bands share their fields: as many independent values as frames
    error = rms / np.sqrt(2 * (len(rows) - 3))
    registered = float(np.sqrt(np.mean([each.moved_error**2 for each in rows if each.moved]))) / pitch
    return FieldJitter(rms, float(error), len(rows), registered)


def _left(total: NDArray, times: NDArray, side: NDArray) -> tuple[NDArray[np.float64], float]:
    """Return (frames,) pitches off a straight drift and either side's mean, and the degrees of freedom."""
    turned = np.angle(total * np.conj(total.sum())) / (2 * np.pi)
    columns = [np.ones(len(times)), times - times.mean()]
    if np.ptp(side) > 0.5:
        columns.append(side)
    design = np.stack(columns, axis=1)
    found, *_ = np.linalg.lstsq(design, turned, rcond=None)
    return turned - design @ found, float(len(times) - design.shape[1])
