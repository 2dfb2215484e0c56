"""Banded products: each output looks at a few neighbouring inputs, so a block of outputs is one small matrix.

A screen has some 1000 dot rows of 200 to 600 lines. Cut into blocks of rows, each with only the lines
it looks at, the product is a series of small dense ones: measured several times as fast as a sparse
matrix, because dense products keep to the processor's vector units.

A threaded BLAS shares out every product it finds large enough, and when several threads of ours call it
at once they spend their time waiting for each other (measured: up to ten times slower on a busy
machine). So a block is multiplied in pieces too small to be shared out.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BLOCK = 32
"""Outputs of a block: few enough that a block of a wide picture stays near the processor."""

_ALONE = 2**18
"""Multiplications below which OpenBLAS keeps a product to the thread that asks (its source, from memory)."""


@dataclass(frozen=True, eq=False)
class Block:
    """Outputs `rows` of the product are `weights` @ the inputs `columns`, or @ the terms made of those."""

    rows: slice
    columns: slice
    weights: NDArray

    def times(self, values: NDArray, out: NDArray) -> None:
        """Write the product with the block's own inputs, (inputs, n), to `out`, (outputs, n)."""
        tall, deep = self.weights.shape
        piece = max(1, _ALONE // (tall * deep))
        pieces, rest = divmod(values.shape[1], piece)
        split = pieces * piece
        if pieces:
            many = values[:, :split].reshape(deep, pieces, piece).transpose(1, 0, 2)
            into = out[:, :split].reshape(tall, pieces, piece).transpose(1, 0, 2)
            np.matmul(self.weights, many, out=into)
        if rest:
            np.matmul(self.weights, values[:, split:], out=out[:, split:])


def blocks_of(columns: NDArray, weights: NDArray, inputs: int) -> list[Block]:
    """Return the float32 blocks of a banded matrix.

    Parameters:
        columns : (outputs, taps) whole numbers, the inputs looked at; those outside 0..inputs-1 are left out
        weights : (outputs, taps) or (outputs, taps, terms); with terms, `times` takes `terms` rows in
            a run for each input, one for each weight
    """
    weights = weights.reshape(*columns.shape, -1)
    found = []
    for top in range(0, len(columns), BLOCK):
        rows = slice(top, min(top + BLOCK, len(columns)))
        inside = np.clip(columns[rows], 0, inputs - 1)
        first, last = int(inside.min()), int(inside.max()) + 1
        dense = _dense(columns[rows], weights[rows], first, last)
        small = np.ascontiguousarray(dense, dtype=np.float32)
        found.append(Block(rows, slice(first, last), small))
    return found


def _dense(columns: NDArray, weights: NDArray, first: int, last: int) -> NDArray:
    rows, _, terms = weights.shape
    dense = np.zeros((rows, last - first, terms))
    row, tap = np.nonzero((columns >= first) & (columns < last))
    np.add.at(dense, (row, columns[row, tap] - first), weights[row, tap])
    return dense.reshape(rows, -1)
