"""Cell means: a capture reduced to one number per line and cell, and several captures to one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.kernel.along_line import AlongLine

_MIDDLE = 0.5
_FARTHEST_JUMP = 3
"""Lines a frame may have jumped as a whole and still be moved back."""
_JUMPED = 0.3
_UNSTABLE = 2.5
"""A frame this many times farther from the others than usual is left out."""


def cell_weights(edges: NDArray, along: AlongLine, samples: int) -> tuple[NDArray, NDArray]:
    """Return what gives the mean over the middle half of each cell.

    Parameters:
        edges : (cells + 1,) shares of the chart's width
        along : where the capture lies on the chart
        samples : of a captured line
    Returns: (samples, cells) float32 weights, each column of sum 1, and (cells,) bool: those wholly seen
    """
    middles = (edges[:-1] + edges[1:]) / 2
    half = np.diff(edges) * _MIDDLE / 2
    low, high = ((middles + side * half - along.shift) / along.scale * samples for side in (-1, 1))
    begin = np.arange(samples)[:, None]
    share = np.clip(np.minimum(begin + 1, high) - np.maximum(begin, low), 0.0, None)
    seen = (low >= 1) & (high <= samples - 1)
    return (share / np.maximum(share.sum(axis=0), 1e-9)).astype(np.float32), seen


@dataclass(frozen=True)
class Stack:
    """Several frames' cell means as one.

    Parameters:
        mean : (lines, cells) mean of the frames that agree
        used, unstable, moved : numbers of the frames, from 0: those averaged, those left out, those that
            had jumped by whole lines and were moved back
        alternating : None, or the two means when even and odd frames show two different pictures
    """

    mean: NDArray
    used: tuple[int, ...]
    unstable: tuple[int, ...] = ()
    moved: tuple[int, ...] = ()
    alternating: tuple[NDArray, NDArray] | None = None


def stack(frames: NDArray, pitch: int = 1) -> Stack:
    """Average the cell means of several frames after moving back those that jumped by whole lines.

    Parameters:
        frames : (frames, lines, cells)
        pitch : captured lines a jump is a multiple of (1; 2 keeps the fields of woven frames apart)
    """
    count = len(frames)
    if count == 1:
        return Stack(frames[0], (0,))
    reference = _reference(frames)
    jumps = [_jump(frame, frames[reference], pitch) for frame in frames]
    usual = max(set(jumps), key=jumps.count)
    moved = np.stack([np.roll(f, usual - j, axis=0) for f, j in zip(frames, jumps, strict=True)])
    middle = np.median(moved, axis=0)
    far = np.sqrt(np.mean((moved - middle)[:, 8:-8] ** 2, axis=(1, 2)))
    limit = max(_UNSTABLE * float(np.median(far)), 0.02)
    if count >= 4 and far.max() > 0.02:
        even, odd = moved[0::2], moved[1::2]
        inside = max(_spread(even), _spread(odd))
        if np.sqrt(np.mean((even.mean(axis=0) - odd.mean(axis=0)) ** 2)) > max(4 * inside, 0.05):
            pair = (even.mean(axis=0), odd.mean(axis=0))
            return Stack(moved.mean(axis=0), tuple(range(count)), alternating=pair)
    used = tuple(k for k in range(count) if far[k] <= limit)
    jumped = tuple(k for k in used if jumps[k] != usual)
    unstable = tuple(k for k in range(count) if k not in used)
    return Stack(moved[list(used)].mean(axis=0), used, unstable, jumped)


def _spread(frames: NDArray) -> float:
    return float(np.sqrt(np.mean((frames - frames.mean(axis=0)) ** 2)))


def _reference(frames: NDArray) -> int:
    """Return the frame that is nearest to all the others in the median."""
    distance = np.sqrt(np.mean((frames[:, None] - frames[None]) ** 2, axis=(2, 3)))
    return int(np.argmin(np.median(distance, axis=1)))


def _jump(frame: NDArray, reference: NDArray, pitch: int) -> int:
    """Return by how many lines a frame lies lower than the reference."""
    inside = slice(8, -8)
    jumps = [pitch * k for k in range(-_FARTHEST_JUMP, _FARTHEST_JUMP + 1)]
    misfit = [np.mean((np.roll(frame, -j, axis=0) - reference)[inside] ** 2) for j in jumps]
    best = int(np.argmin(misfit))
    # another picture fits nowhere: a jump is believed only if it explains nearly all of the difference
    return jumps[best] if misfit[best] < _JUMPED * misfit[_FARTHEST_JUMP] else 0
