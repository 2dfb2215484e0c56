"""Line by line: the number that a line's cells spell, or none.

A number is taken where both copies say the same. Where one copy is no word it is taken from the other only
when other lines of the picture have that number by both: one copy alone is by chance a word with at most one
wrong cell once in 164 lines of noise, both alike once in 40 million.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.counter.code import CELLS, REFUSED, numbers_of
from scalesim.signal.counter.cells import guards, inner

LEAST_CONTRAST = 6.0
"""Codes between white and black guards below which a line is dark: an eighth of what the chart has."""
LEAST_LINES = 2
"""Lines that must show a number for it to be one of the picture's."""
_POWERS = 2.0 ** np.arange(CELLS - 1, -1, -1, dtype=np.float32)
# Two copies are distance 0..3 each.
_ALONE = 1
NONE = -1


@dataclass(frozen=True, eq=False)
class Lines:
    """What the lines of a picture say.

    Parameters:
        numbers : (lines,) int64, modulo 4096, -1 where there is none
        lit : (lines,) bool: the line has the contrast of a chart, so that it could be read
        white, black : (lines, 2) levels of the guards
    """

    numbers: NDArray[np.int64]
    lit: NDArray[np.bool_]
    white: NDArray[np.float32]
    black: NDArray[np.float32]

    @property
    def found(self) -> NDArray[np.int64]:
        """The numbers of the picture, in no order."""
        return np.unique(self.numbers[self.numbers != NONE])


def read_lines(levels: NDArray[np.float32]) -> Lines:
    """Return what the lines say.

    Parameters:  levels : (lines, 2, 28) of the cells, as `CellReader` gives them
    """
    white, black = guards(levels)
    lit = np.all((white - black) >= LEAST_CONTRAST, axis=1)
    words = _words(levels, white, black)
    left, left_wrong = numbers_of(words[:, 0], 0)
    right, right_wrong = numbers_of(words[:, 1], 1)
    both = lit & (left == right) & (left_wrong < REFUSED) & (right_wrong < REFUSED)
    numbers = np.where(both, left, NONE)
    counts = np.bincount(left[both], minlength=1)
    known = np.flatnonzero(counts >= LEAST_LINES)
    if len(known) < np.count_nonzero(counts):
        numbers[~np.isin(numbers, known)] = NONE
    if not both.all():
        for number, wrong, other in ((left, left_wrong, right_wrong), (right, right_wrong, left_wrong)):
            alone = lit & ~both & (wrong <= _ALONE) & (other > wrong) & np.isin(number, known)
            numbers[alone] = number[alone]
    return Lines(numbers, lit, white, black)


def spelled_by_all(levels: NDArray[np.float32]) -> int | None:
    """Return the number that all lines spell alike in both copies, None when they do not; it is quick.

    Parameters:  levels : (lines, 2, 28) of the cells
    """
    white, black = guards(levels)
    if (white - black).min() < LEAST_CONTRAST:
        return None
    words = _words(levels, white, black)
    if not (words == words[0]).all():
        return None
    (left, left_wrong), (right, right_wrong) = (numbers_of(words[0, copy], copy) for copy in (0, 1))
    return int(left) if left == right and max(left_wrong, right_wrong) < REFUSED else None


def _words(levels: NDArray[np.float32], white: NDArray, black: NDArray) -> NDArray[np.int64]:
    """Return the words of both copies, (lines, 2): a cell is 1 where it is nearer to white."""
    high = inner(levels) > ((white + black) / 2)[..., None]
    return (high @ _POWERS).astype(np.int64)
