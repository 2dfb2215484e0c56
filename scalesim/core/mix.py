"""Lines of a plane of codes, mixed by a matrix: block by block, so that what is worked on stays in the cache.

A whole plane as float32 is eight megabytes of 1080 lines; made afresh for every frame, the memory costs more
time than the sums.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from scalesim.core.compiled import compiled

_BLOCK = 128
"""Lines of codes in a block, about: a megabyte of 1920 samples as float32."""


@dataclass(frozen=True, eq=False)
class _Block:
    """Some rows of a matrix, on the lines that they look at."""

    rows: slice
    looked_at: slice | NDArray[np.int64]
    matrix: Any
    sums: NDArray[np.float32]


class Mix:
    """A matrix on the lines of a plane.

    Parameters:  matrix : (lines out, lines in) sparse, in rows
    """

    def __init__(self, matrix: Any) -> None:
        self.lines = int(matrix.shape[0])
        single = matrix.astype(np.float32)
        single.sort_indices()
        # the same for equal rows, whatever type of numbers holds their places
        self._rows = [
            (single.indices[begin:end].astype(np.int64).tobytes(), single.data[begin:end].tobytes())
            for begin, end in pairwise(single.indptr.tolist())
        ]
        self._matrix = single
        step = max(1, _BLOCK * self.lines // max(1, matrix.shape[1]))
        self._blocks = [_block(single, slice(top, top + step)) for top in range(0, self.lines, step)]

    def __call__(self, codes: NDArray[Any], zero: float, span: float) -> NDArray[np.float32]:
        """Return the mixed lines of (codes - zero) / span, (lines out, samples).

        Parameters:  codes : (lines in, samples) of any type
        """
        mixed = np.empty((self.lines, codes.shape[1]), np.float32)
        loops = compiled()
        if loops is not None:
            scale = np.float32(zero), np.float32(span)
            loops.mix(*self._in_a_row, scale, np.ascontiguousarray(codes), mixed)
            return mixed
        for block in self._blocks:
            lines = codes[block.looked_at].astype(np.float32)
            found = np.subtract(
                block.matrix @ lines, np.float32(zero) * block.sums, out=mixed[block.rows], dtype=np.float32
            )
            found /= np.float32(span)
        return mixed

    def among(self, other: Mix) -> slice | NDArray[np.int64] | None:
        """Return which lines of another mix these are, all of them; None when it does not have them all.

        Evenly spaced ones as a slice, which copies nothing.
        """
        if other not in self._found:
            self._found[other] = self._among(other)
        return self._found[other]

    def _among(self, other: Mix) -> slice | NDArray[np.int64] | None:
        places = {row: k for k, row in enumerate(other._rows)}
        found = [places.get(row, -1) for row in self._rows]
        if -1 in found:
            return None
        steps = set(map(int, np.diff(found)))
        if len(steps) == 1 and (step := steps.pop()) > 0:
            return slice(found[0], found[-1] + 1, step)
        return np.array(found, np.int64)

    @cached_property
    def _in_a_row(self) -> tuple[NDArray[Any], ...]:
        """The matrix as `loops.mix` takes it, and the sums of its rows."""
        matrix = self._matrix
        first, lines = (places.astype(np.int32) for places in (matrix.indptr, matrix.indices))
        return first, lines, matrix.data, np.concatenate([block.sums.ravel() for block in self._blocks])

    @cached_property
    def _found(self) -> WeakKeyDictionary[Mix, slice | NDArray[np.int64] | None]:
        return WeakKeyDictionary()


def _block(matrix: Any, rows: slice) -> _Block:
    own = matrix[rows]
    lines = np.unique(own.indices)
    first, last = (int(lines[0]), int(lines[-1]) + 1) if len(lines) else (0, 0)
    close = 2 * len(lines) > last - first  # few lines between that are not looked at: no need to pick
    looked_at = slice(first, last) if close else lines.astype(np.int64)
    own = own[:, looked_at]
    return _Block(rows, looked_at, own, np.asarray(own.sum(axis=1), np.float32)[:, None])
