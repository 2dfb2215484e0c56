"""The code of the counter chart: a picture's number as 24 cells, of which any three may be misread.

The extended binary Golay code (24, 12, 8): two words differ in at least 8 cells, so that 3 wrong ones are
put right and 4 are noticed. The number is taken modulo 4096 and multiplied by an odd constant first: then no
cell keeps its level for more than 8 pictures, and a cell that never changes is none of the code. Each of the
two copies is turned over by a mask of its own, which lies 4 cells away from every word: a flat line, black
or white, is never a number.

Source: Golay, "Notes on digital coding", Proc. IRE 37 (1949) 657; generator polynomial of the (23, 12) code
x^11 + x^9 + x^7 + x^6 + x^5 + x + 1, a parity cell added (MacWilliams and Sloane, "The Theory of
Error-Correcting Codes", 1977, chapter 16; from memory). The masks and the constant are this project's own.
"""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

CELLS = 24
NUMBERS = 4096
"""The count wraps: 68 seconds at 60 Hz."""
COPIES = 2
REFUSED = 4
"""Distance of a word that is none."""
GENERATOR = 0xAE3
MASKS = (0xCE14AB, 0x0B9727)
SCATTER = 1679
_UNSCATTER = pow(SCATTER, -1, NUMBERS)
_CORRECTED = 3


@cache
def words() -> NDArray[np.int64]:
    """Return the words of both copies, (2, 4096): bit 23 is the leftmost cell."""
    message = np.arange(NUMBERS) * SCATTER % NUMBERS
    word = message << 11 | _remainder(message << 11)
    word = word << 1 | _parity(word)
    return np.stack([word ^ mask for mask in MASKS])


@cache
def cells() -> NDArray[np.float32]:
    """Return the level of every cell, (4096, 2, 24): 0 low, 1 high."""
    levels = words().T[..., None] >> np.arange(CELLS - 1, -1, -1) & 1
    return levels.astype(np.float32)


def numbers_of(found: NDArray, copy: int) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the numbers that words stand for, and how many cells were put right; 4 where a word is none.

    Parameters:  found : words of one copy, int, any shape; copy : 0 (left) or 1 (right)
    """
    high, low, error, wrong = _tables()
    plain = np.asarray(found, np.int64) ^ MASKS[copy]
    syndrome = high[plain >> 12] ^ low[plain & 0xFFF]
    message = (plain ^ error[syndrome]) >> 12
    return message * _UNSCATTER % NUMBERS, wrong[syndrome]


@cache
def _tables() -> tuple[NDArray, NDArray, NDArray, NDArray]:
    """Return the syndromes of the two halves of a word, and the error and its weight by syndrome."""
    half = np.arange(NUMBERS)
    error = np.zeros(NUMBERS, np.int64)
    weight = np.full(NUMBERS, REFUSED, np.int64)
    for count in range(_CORRECTED + 1):
        patterns = [sum(1 << bit for bit in bits) for bits in combinations(range(CELLS), count)]
        at = _syndrome(np.array(patterns, np.int64))
        error[at], weight[at] = patterns, count
    return _syndrome(half << 12), _syndrome(half), error, weight


def _syndrome(word: NDArray) -> NDArray:
    """Return what tells a word from its neighbours: its rest and its parity, 12 bits."""
    return _remainder(word >> 1) << 1 | _parity(word)


def _remainder(word: NDArray) -> NDArray:
    """Return the rest of 23-bit words by the generator polynomial."""
    rest = word.astype(np.int64)
    for bit in range(22, 10, -1):
        rest = np.where(rest >> bit & 1, rest ^ GENERATOR << bit - 11, rest)
    return rest


def _parity(word: NDArray) -> NDArray:
    folded = word.astype(np.int64)
    for shift in (16, 8, 4, 2, 1):
        folded = folded ^ folded >> shift
    return folded & 1
