"""The floor of a chain: how whole an outline is at best after its kernel, wherever it may sit.

An outline of t source lines lies anywhere on the source, and the chain's sampling is moved in steps
smaller than a line; P* is the largest share of its light that N adjacent landed lines then hold. A box
average that can take an outline whole has P* = 1; 1/2/1 on frame lines leaves 1/2 on one of them at
best. What an outline misses to P* is the fault of where it sits, the rest is the kernel's.

Source positions alone are not enough: a box half a source line off leaves a soft line on either side
of every outline, at every position of it (0.33 of an even split at three lines of 720 on 240).

The weights are those of code values. Two fields on one set of lines are mixed by the eye, in light, which
lifts the fringe of a light outline: after 1/2/1, white on black keeps 0.17 of an even split at its best
position at three lines of 720 on 240, 0.2 at six. Definition of this project.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import floor

import numpy as np

from scalesim.metrics.outlines.strips import Array

SHIFTS = 8
"""Places tried within a source line."""

_PARTS = 4
"""Thicknesses of the table within a source line; soft edges make them any number."""

_PLACES = 8
"""Landed lines about the middle over which an outline is moved: a chain's pattern repeats after 2 at 4.5:1,
4 at 3.75:1, 8 at 1.875:1."""


def moves_from(place: float) -> tuple[float, ...]:
    """Return the moves of a sampling at `place`, in source lines: none, and onto every eighth of a line.

    The eighths are those of the source's lines, not of `place`: a box a sixteenth of a line off is judged
    by the place where it would be whole, and every setting of a dial by the same ones.
    """
    eighths = (floor(place) + k / SHIFTS - place for k in range(SHIFTS))
    return 0.0, *(move for move in eighths if abs(move) > 1e-9)


@dataclass(frozen=True, eq=False)
class Floor:
    """P* of a chain by thickness.

    Parameters:
        shifted : (landed lines in a row, source lines) weights, one array per shift of the sampling
    """

    shifted: Sequence[Array]

    def held(self, thickness: Array, needed: Array) -> Array:
        """Return (outlines,) P*: the largest share that `needed` adjacent landed lines can hold.

        Between quarters of a source line it is taken on a straight line.

        Parameters:  thickness : (outlines,) source lines; needed : (outlines,) landed lines
        Returns:     1 where the weights say nothing
        """
        places = np.maximum(thickness * _PARTS, 1.0)
        below = np.floor(places + 1e-9).astype(np.int64)
        part = np.clip(places - below, 0, 1)
        base = int(np.max(needed, initial=0)) + 1
        pairs = below * base + needed.astype(np.int64)
        wanted = np.flatnonzero(np.bincount(pairs))  # few, of many outlines
        table = np.zeros((int(pairs.max(initial=0)) + 1, 2))
        for pair in wanted.tolist():
            k, lines = divmod(pair, base)
            table[pair] = self._at(k, lines), self._at(k + 1, lines)
        ends = table[pairs]
        held: Array = ends[:, 0] * (1 - part) + ends[:, 1] * part
        return held

    def _at(self, parts: int, lines: int) -> float:
        """Return P* of an outline of so many quarters of a source line on `lines` landed lines."""
        if (parts, lines) not in self._known:
            # an edge on a source line above or below: the soft row is at the other end
            found = [self._most(begin, parts, lines) for begin in sorted({0, -parts % _PARTS})]
            self._known[parts, lines] = max(found) or 1.0
        return self._known[parts, lines]

    def _most(self, begin: int, parts: int, lines: int) -> float:
        """Return the largest share over all source positions and shifts, 0 when every outline is lost."""
        above = self._above[begin::_PARTS]
        below = self._above[begin + parts :: _PARTS][: len(above)]
        places = slice(*(min(edge, len(below)) for edge in self._places))
        shares = below[places] - above[places]
        total = shares.sum(axis=-1)
        seen = total >= min(0.15, 0.45 * parts / _PARTS / self._scale)
        if not seen.any():
            return 0.0
        width = min(lines, shares.shape[-1])
        adjacent = sum(shares[..., k : shares.shape[-1] - width + 1 + k] for k in range(width))
        return float(np.max(np.max(adjacent, axis=-1)[seen] / total[seen]))

    @cached_property
    def _known(self) -> dict[tuple[int, int], float]:
        return {}

    @cached_property
    def _above(self) -> Array:
        """(edges at quarters of a source line, shifts, landed lines): the weight of all above an edge.

        Source lines of no weight above and below are left out.
        """
        weights = np.stack(list(self.shifted)).transpose(2, 0, 1)
        used = np.flatnonzero(weights.any(axis=(1, 2)))
        weights = weights[used[0] : used[-1] + 1] if len(used) else weights[:1]
        each = np.repeat(weights / _PARTS, _PARTS, axis=0)
        return np.concatenate((np.zeros((1, *each.shape[1:])), np.cumsum(each, axis=0)))

    @cached_property
    def _middles(self) -> Array:
        """The source line in the middle of the weights of each landed line of the first shift."""
        first = self._above[::_PARTS, 0].T
        return np.array([np.searchsorted(line, line[-1] / 2) for line in first], dtype=np.float64)

    @cached_property
    def _scale(self) -> float:
        """Source lines per landed line about the middle."""
        first, last = len(self._middles) // 4, 3 * len(self._middles) // 4
        return max(abs(self._middles[last] - self._middles[first]) / max(1, last - first), 0.01)

    @cached_property
    def _places(self) -> tuple[int, int]:
        """The range of source lines that the middle landed lines look at."""
        around = min(_PLACES, len(self._middles) / 2) / 2 * self._scale
        middle = self._middles[len(self._middles) // 2]
        return max(0, round(middle - around)), round(middle + around) + 1
