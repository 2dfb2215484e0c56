"""What becomes of outlines on the landed lines beside them: in NumPy, and by compiled loops where there are.

The loops do it where the landed picture is what the chain's weights make of the source, and nothing besides.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scalesim.core.compiled import Loops, compiled
from scalesim.metrics._base import Evidence
from scalesim.metrics.outlines import loops
from scalesim.metrics.outlines.found import SourceOutlines
from scalesim.metrics.outlines.line_weights import (
    Explained,
    KnownWeights,
    explain,
    known_of,
    landed_of,
    mixed_alone,
)
from scalesim.metrics.outlines.near import Near
from scalesim.metrics.outlines.strips import Array

_TOUCHED = 0.001
"""A share above this is not rounding."""


@dataclass(frozen=True, eq=False)
class Limits:
    """What counts of an outline.

    Parameters:
        closest : how far the middles of the nearest lines are, in lines
        left : (outlines,) contrast on the screen, in the outline's own, below which it is gone
    """

    closest: float
    left: Array


def shares_near(
    evidence: Evidence, strips: range, found: SourceOutlines, near: Near, limits: Limits
) -> tuple[Array, Array]:
    """Return the shares of outlines on lines near them, and which of the lines are nearest, see `shares`.

    Parameters:  strips : the visible ones, in which the outlines were found; near : lines within reach
    """
    known, quick = known_of(evidence), compiled(loops)
    if known is not None and quick and mixed_alone(evidence, strips):
        landed = np.ascontiguousarray(landed_of(evidence, strips), np.float32)
        return _by_loops(quick, known, found, near, limits, landed)
    return _by_arrays(evidence, strips, found, near, limits)


def _by_loops(
    quick: Loops, known: KnownWeights, found: SourceOutlines, near: Near, limits: Limits, landed: Array
) -> tuple[Array, Array]:
    shape = near.count, len(found)  # outlines along the memory: quicker than rows of a few lines
    shares, nearest = np.zeros(shape, np.float32), np.zeros(shape, np.bool_)
    quick.follow(
        (found.first, np.ascontiguousarray(found.profile), found.starts, found.strip),
        found.contrast,
        known.columns,
        landed,
        (near.first, near.middle, near.reach),
        (_TOUCHED, limits.closest, limits.left),
        shares,
        nearest,
    )
    return shares.T, nearest.T


def _by_arrays(
    evidence: Evidence, strips: range, found: SourceOutlines, whole: Near, limits: Limits
) -> tuple[Array, Array]:
    explained, known = explain(evidence, evidence.source_strips, strips), known_of(evidence)
    landed = landed_of(evidence, strips)
    near = whole.shown(found, *known.shown_on) if known is not None else whole
    held = _Beside.of(found, near, landed.shape)
    looked_at, shares = near.looked_at, _by_weights(found, explained, near.lines)
    reached = looked_at if known is None else looked_at & _reached(shares)
    if explained.beyond is not None:
        shares = shares + held.mean(explained.beyond)
    left = held.contrast_left(landed)
    unsure = left < limits.left
    if near is not whole and unsure.any():  # further away there may be more contrast
        left[unsure] = _Beside.of(found.only(unsure), whole.only(unsure), landed.shape).contrast_left(landed)
    shares = near.on(whole, shares * reached * (left >= limits.left)[:, None])
    return shares, near.on(whole, reached & (near.away <= limits.closest))


@dataclass(frozen=True, eq=False)
class _Beside:
    """The landed places beside every piece of an outline, and means over an outline's pieces.

    Parameters:
        found : the outlines
        some : (outlines,) whether any line beside it is looked at
        at : (lines, pieces) places in a raveled (landed lines, strips) picture; lines that are not looked
            at stand for the nearest that is. The pieces run along the memory, so that gathering is quick
    """

    found: SourceOutlines
    some: Array
    at: Array

    @classmethod
    def of(cls, found: SourceOutlines, near: Near, shape: tuple[int, ...]) -> _Beside:
        """Return the places of lines in a landed picture of this shape."""
        looked_at = near.looked_at
        some: Array = np.any(looked_at, axis=1)
        first = looked_at.argmax(axis=1)
        last = looked_at.shape[1] - 1 - looked_at[:, ::-1].argmax(axis=1)
        rows = np.clip(near.lines, (near.first + first)[:, None], (near.first + last)[:, None])
        rows = np.clip(rows, 0, shape[0] - 1) * shape[1]
        return cls(found, some, np.repeat(rows.T, found.pieces, axis=1) + found.strip)

    def mean(self, beyond: Array) -> Array:
        """Return (outlines, lines): what is beyond the weights, as a share of each outline's contrast.

        The least-squares mean over the pieces: weights are the contrast squared.
        """
        contrast = self.found.contrast
        total = np.add.reduceat(beyond.ravel()[self.at] * contrast, self.found.starts, axis=1)
        mean: Array = (total / np.add.reduceat(contrast**2, self.found.starts)).T
        return mean

    def contrast_left(self, landed: Array) -> Array:
        """Return how far the landed lines around each outline differ among themselves, in its contrast.

        Where they are all alike the outline is gone, whatever share of it went into them: the lines of
        a grating that average to one grey, or a picture that is black.
        """
        values = landed.ravel().take(self.at, mode="clip")
        left = values.max(axis=0) - values.min(axis=0)
        mean: Array = self.found.mean(left / np.abs(self.found.contrast))
        return np.where(self.some, mean, 0.0)


def _reached(by_weights: Array) -> Array:
    """Return True where a known V puts some of the outline, or next to there; everywhere if V drops it.

    Further away there is only rounding and noise to be read.
    """
    touched = np.abs(by_weights) > _TOUCHED
    reached: Array = touched | ~touched.any(axis=1, keepdims=True)
    reached[:, 1:] |= touched[:, :-1]
    reached[:, :-1] |= touched[:, 1:]
    return reached


def _by_weights(found: SourceOutlines, explained: Explained, near: Array) -> Array:
    """Return the first term of the shares, (outlines, lines): what the weights put of each profile there."""
    landed_lines, source_lines = explained.weights.shape
    lines = np.clip(near.T, 0, landed_lines - 1) * source_lines
    taps = explained.weights.ravel()
    by_weights = np.zeros(lines.shape, dtype=taps.dtype)
    for row, part in enumerate(found.profile.T.astype(taps.dtype)):  # few: quicker than one array over all
        place = np.clip(found.first + row, 0, source_lines - 1)
        by_weights += taps.take(lines + place, mode="clip") * part
    return by_weights.T
