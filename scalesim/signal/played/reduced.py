"""Frames made small along the line, so that they can be compared line by line at little cost."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

COLUMNS = 64
THUMB = 16
"""Lines and columns of what a whole frame is recognised by."""


@dataclass(frozen=True, eq=False)
class Small:
    """A frame made small: `lines` is (lines, columns), `across` the mean line, (samples,); codes, float32."""

    lines: NDArray[np.float32]
    across: NDArray[np.float32]


def small_of(luma: NDArray, lines: int = 0) -> Small:
    """Return a frame made small, on another number of lines if one is given."""
    found = reduced(luma)
    return Small(on_lines(found, lines or luma.shape[0]), np.asarray(luma.mean(axis=0), np.float32))


def reduced(luma: NDArray) -> NDArray[np.float32]:
    """Return the means of stretches of every line, (lines, columns) float32."""
    samples = luma.shape[1]
    columns = min(COLUMNS, samples)
    edges = np.arange(columns + 1) * samples / columns
    whole = np.floor(edges).astype(int)
    sums = np.add.reduceat(luma, whole[:-1], axis=1, dtype=np.float32)
    # A sample that an edge cuts belongs to both stretches, by its share.
    share = (edges - whole).astype(np.float32)
    cut = luma[:, np.minimum(whole, samples - 1)].astype(np.float32) * share
    return np.asarray((sums - cut[:, :-1] + cut[:, 1:]) / np.float32(samples / columns))


def on_lines(small: NDArray[np.float32], lines: int) -> NDArray[np.float32]:
    """Return a reduced frame on another number of lines, each the mean of the span it covers."""
    if small.shape[0] == lines:
        return small
    total = np.concatenate(
        [np.zeros((1, small.shape[1]), np.float64), np.cumsum(small, axis=0, dtype=np.float64)]
    )
    edges = np.linspace(0, small.shape[0], lines + 1)
    at = np.floor(edges).astype(int).clip(0, small.shape[0] - 1)
    share = (edges - at)[:, None]
    below = total[at] + share * (total[at + 1] - total[at])
    return np.asarray(np.diff(below, axis=0) / np.diff(edges)[:, None], np.float32)


def thumb(small: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return what a frame is recognised by: its means over a coarse grid, of length 1, (256,)."""
    coarse = on_lines(small, THUMB)
    coarse = on_lines(np.ascontiguousarray(coarse.T), THUMB)
    plain = (coarse - coarse.mean()).ravel()
    return np.asarray(plain / max(float(np.linalg.norm(plain)), 1e-6), np.float32)
