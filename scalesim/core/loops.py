"""The hottest loops over a frame, written so that they can be compiled (see `scalesim.core.compiled`).

They are plain Python on arrays, and give the same uncompiled, only slowly; each does in one pass what NumPy
does in many. Who calls them has the same in NumPy for where nothing compiles. Arrays lie in a row in memory:
any others would be read one by one.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FREE: dict[str, set[str] | bool] = {
    "mix": {"contract"},
    "means": {"contract"},
    "luminance": True,
    "apart": True,
}
"""What a compiler may do to the sums of each loop: take them in any order, or but multiply and add in one go,
so that codes that are only chosen come out as they are. It stands here because what was compiled before is
kept for as long as this file does not change.
"""

_F = np.float32
_GUESS, _FIFTH = _F(1277903872), _F(0.2)
"""The bits of |V|^(-1/5), about, are the first less a fifth of the bits of V."""
_BETTER = (
    *(_F(1.0), _F(-0.20000003), _F(0.11998312), _F(-0.08798073)),
    *(_F(0.07227466), _F(-0.06097813)),
)
"""(1 + t)^(-1/5) by powers of t, within 3e-8 up to the 0.155 by which the guess misses, fitted at Chebyshev's
places."""


def mix(
    first: NDArray[np.int32],
    lines: NDArray[np.int32],
    weights: NDArray[np.float32],
    sums: NDArray[np.float32],
    scale: tuple[np.float32, np.float32],
    codes: NDArray,
    out: NDArray[np.float32],
) -> None:
    """Write sums of weighted lines of (codes - zero) / span to `out`.

    Parameters:
        first, lines, weights : a sparse matrix in rows: where in the other two each row begins, which lines
            it adds up, and their weights (`indptr`, `indices`, `data` of `scipy.sparse.csr_array`)
        sums : (lines out,) of the weights of each row
        scale : zero and span
        codes : (lines in, samples) of any type
        out : (lines out, samples)
    """
    samples, (zero, span) = codes.shape[1], scale
    once = 1.0 / np.float64(span)  # a product in float64 is rounded as the quotient is, and quicker
    for row in range(len(sums)):
        begin, end, to = first[row], first[row + 1], out[row]
        for i in range(samples):
            to[i] = np.float32(0)
        for k in range(begin, end - 1, 2):  # two in one go, as what they add to is read and written
            one, weight, other, second = codes[lines[k]], weights[k], codes[lines[k + 1]], weights[k + 1]
            for i in range(samples):
                to[i] += weight * np.float32(one[i]) + second * np.float32(other[i])
        if (end - begin) % 2:
            one, weight = codes[lines[end - 1]], weights[end - 1]
            for i in range(samples):
                to[i] += weight * np.float32(one[i])
        offset = zero * sums[row]
        for i in range(samples):
            to[i] = np.float32(np.float64(to[i] - offset) * once)


def means(codes: NDArray, width: int, zero: np.float32, share: np.float32, out: NDArray[np.float32]) -> None:
    """Write sums of `width` codes in a row times `share`, less `zero`, to `out`.

    Parameters:  codes : (lines, samples) whole numbers; out : (lines, no more than samples // width)
    """
    count = out.shape[1]
    for line in range(len(out)):
        own, to = codes[line], out[line]
        if width == 8:  # of 1920 samples: a compiler that knows the width takes many means at once
            for i in range(count):
                to[i] = np.float32(eight(own, 8 * i)) * share - zero
            continue
        for i in range(count):
            total = 0
            for k in range(width):
                total += int(own[i * width + k])
            to[i] = np.float32(total) * share - zero


def eight(codes: NDArray, at: int) -> np.int32:
    """Return the sum of eight codes in a row, written out."""
    first = np.int32(codes[at]) + np.int32(codes[at + 1]) + np.int32(codes[at + 2]) + np.int32(codes[at + 3])
    at += 4
    return (
        first
        + np.int32(codes[at])
        + np.int32(codes[at + 1])
        + np.int32(codes[at + 2])
        + np.int32(codes[at + 3])
    )


def luminance(
    level: NDArray[np.float32],
    cb: NDArray[np.float32],
    cr: NDArray[np.float32],
    beside: NDArray[np.float32],
    step: int,
    first: float,
    out: NDArray[np.float32],
) -> None:
    """Write the luminance of the light of Y'CbCr to `out`, as `InPlanes.luminance` defines it.

    Parameters:
        level : (lines, samples)
        cb, cr : (lines, samples of chroma)
        beside : (3, 3) of R', G' and B': what Cb and Cr add to the level, and the share of luminance
        step : samples of luma to one of chroma; first : where chroma's first lies, in luma's samples
        out : (lines, samples)
    """
    samples, count = level.shape[1], cb.shape[1]
    between = np.empty((step, count), np.float32)
    blue, red = np.empty(step * count, np.float32), np.empty(step * count, np.float32)
    for line in range(len(level)):
        upsample(cb[line], step, first, between, blue)
        upsample(cr[line], step, first, between, red)
        own, to = level[line], out[line]
        for i in range(samples):
            red_light = light(own[i] + beside[0, 0] * blue[i] + beside[0, 1] * red[i])
            green_light = light(own[i] + beside[1, 0] * blue[i] + beside[1, 1] * red[i])
            blue_light = light(own[i] + beside[2, 0] * blue[i] + beside[2, 1] * red[i])
            to[i] = beside[0, 2] * red_light + beside[1, 2] * green_light + beside[2, 2] * blue_light


def apart(
    first: NDArray[np.float32],
    second: NDArray[np.float32],
    ahead: tuple[int, int],
    pitch: int,
    columns: tuple[int, int],
    out: NDArray[np.float64],
) -> None:
    """Write to `out` how far two fields are apart, row by painted row: the mean magnitude of the difference.

    Parameters:
        first, second : (lines, samples)
        ahead : painted rows of either field that lie above the first row of `out`; painted row 0 is line 0
        pitch : painted rows from one line to the next, between which a field falls evenly
        columns : the first, and the first that is no longer counted
        out : (rows,)
    """
    left, right = columns
    for row in range(len(out)):
        line, place = divmod(row + ahead[0], pitch)
        share = np.float32(place / pitch)
        one, next_one = first[line, left:right], first[line + (1 if place else 0), left:right]
        line, place = divmod(row + ahead[1], pitch)
        other_share = np.float32(place / pitch)
        other, next_other = second[line, left:right], second[line + (1 if place else 0), left:right]
        total = 0.0
        for i in range(right - left):
            a = one[i] + share * (next_one[i] - one[i])
            b = other[i] + other_share * (next_other[i] - other[i])
            total += abs(a - b)
        out[row] = total / (right - left)


def upsample(
    values: NDArray[np.float32],
    step: int,
    first: float,
    between: NDArray[np.float32],
    out: NDArray[np.float32],
) -> None:
    """Write a line of chroma at every sample of luma to `out`, linear between its own, the same at the ends.

    Parameters:  step, first : see `luminance`; between : (step, samples of chroma) to work in
    """
    count = len(values)
    for phase in range(step):
        place = (phase - first) / step
        before = -1 if place < 0 else 0
        share = np.float32(place - before)
        low, high = values[: count - 1], values[1:]
        here = between[phase, 1:] if before else between[phase, :-1]
        for i in range(count - 1):
            here[i] = low[i] + share * (high[i] - low[i])
        if before:
            between[phase, 0] = values[0]
        else:
            between[phase, count - 1] = values[count - 1]
    if step == 2:  # both in one go: what is written lies close together
        for i in range(count):
            out[2 * i] = between[0, i]
            out[2 * i + 1] = between[1, i]
    else:
        for phase in range(step):
            for i in range(count):
                out[i * step + phase] = between[phase, i]


def light(value: np.float32) -> np.float32:
    """Return value |value|^1.4, as `code_to_light` does, within 5e-7 of white or of itself.

    It is the third power of value |value|^(-1/5), of which the bits of a float are a guess.
    """
    size = np.float32(abs(value))
    guess = np.int32(_GUESS - _FIFTH * np.float32(size.view(np.int32))).view(np.float32)
    squared = guess * guess
    t = (size * squared) * (squared * guess) - np.float32(1)
    better = _BETTER[5]
    for k in range(4, -1, -1):
        better = better * t + _BETTER[k]
    root = value * (guess * better)
    return root * root * root


WITHIN = eight, upsample, light
"""What the loops call."""
