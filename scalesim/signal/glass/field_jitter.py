"""How still whole fields stand against the tube, from a film that has a piece of the bezel in view."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

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
    where there are two sets their mean distance, are taken off; jitter^2 is the mean product of what is left
    in bands that lie next to each other: a field moves both, single lines that waver move one. The
    registration of the bezel is in it, its error is told beside. Where the shutter's edge runs between two
    bands they show two fields, which lowers the value by 7 % at most. Definition of this project.

    Parameters:
        rows : of every frame; signs : (frames, rows) of the model of two sets, None for one set
        pitch : pixels a line in the film
    """
    moved = camera_lines(rows, pitch)
    if moved is None or len(rows) < FEWEST_FRAMES:
        return None
    z = np.array([each.z for each in rows]) * np.exp(-2j * np.pi * moved[:, None])
    side = np.zeros(z.shape) if signs is None else np.sign(signs)
    own = z if signs is None else z * side
    times = np.array([each.time for each in rows])
    bands = [
        _left(own[:, band], times, side[:, band].mean(axis=1))
        for band in np.array_split(np.arange(z.shape[1]), BANDS)
    ]
    products = np.concatenate([a * b for a, b in pairwise(bands)])
    known = np.isfinite(products)
    if known.sum() < FEWEST_FRAMES:
        return None
    rms = float(np.sqrt(max(products[known].mean(), 0.0)))
    registered = float(np.sqrt(np.mean([each.moved_error**2 for each in rows if each.moved]))) / pitch
    # bands share their fields: as many independent values as frames
    error = float(np.hypot(rms, registered)) / np.sqrt(2 * (len(rows) - 3))
    return FieldJitter(rms, float(error), len(rows), registered)


def _left(own: NDArray, times: NDArray, side: NDArray) -> NDArray[np.float64]:
    """Return (frames,) pitches off a straight drift and either side's mean; nan where a frame shows nothing.

    Scaled up by the root of frames over degrees of freedom, so that squares are unbiased.
    """
    total, weight = own.sum(axis=1), np.abs(own).sum(axis=1)
    seen = (np.abs(total) > COHERENT * weight) & (weight > LIT * np.median(weight))
    out = np.full(len(times), np.nan)
    if seen.sum() < FEWEST_FRAMES:
        return out
    turned = np.angle(total * np.conj(total[seen].sum()))[seen] / (2 * np.pi)
    columns = [np.ones(seen.sum()), times[seen] - times[seen].mean()]
    if np.ptp(side[seen]) > 0.5:
        columns.append(side[seen])
    design = np.stack(columns, axis=1)
    found, *_ = np.linalg.lstsq(design, turned, rcond=None)
    out[seen] = (turned - design @ found) * np.sqrt(len(turned) / (len(turned) - design.shape[1]))
    return out
