"""Loops over strips that find outlines and follow them, written so that they can be compiled.

As those of `scalesim.core.loops` they are plain Python on arrays and give the same uncompiled, only slowly;
`pairs` and `follow` have the same in NumPy for where nothing compiles. Arrays lie in a row in memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

LEAST_STRIPS = 2
"""Strips over which an outline goes on at least."""
SOFT_ROWS = 2
"""Most rows of a soft edge on either side of an outline."""

FREE: dict[str, set[str] | bool] = dict.fromkeys(
    ("count_even", "pair", "gather", "follow", "most_adjacent"), False
)
"""What a compiler may do to sums: nothing, so that what is compared with a limit is the same to the bit."""


def count_even(strips: NDArray[np.float32], limit: float) -> int:
    """Return how many places have a second difference along both axes below a limit, see `source.unevenness`.

    Parameters:  strips : (lines, strips), at least 3 of either
    """
    wide, count = strips.shape[1], 0
    down = np.empty(wide, np.float32)
    for line in range(0, len(strips) - 2, 2):
        above, here, below = strips[line], strips[line + 1], strips[line + 2]
        for i in range(wide):
            down[i] = (below[i] - here[i]) - (here[i] - above[i])
        for i in range(wide - 2):
            count += abs((down[i + 2] - down[i + 1]) - (down[i + 1] - down[i])) < limit
    return count


def pair(signs: NDArray[np.int8], thickest: float, out: NDArray[np.int16]) -> int:
    """Write to `out` where a step and the next below it in the same strip are of opposite signs.

    Parameters:
        signs : (SOFT_ROWS + steps + SOFT_ROWS, strips), see `source.find_outlines`
        thickest : rows between the two at most
        out : (steps + 1, strips) zeros; gets how many rows lie between, at the first of them, negative where
            they are darker
    Returns: how many pairs there are
    """
    wide, count = signs.shape[1], 0
    last = np.full(wide, -1, np.int64)
    for step in range(len(signs) - 2 * SOFT_ROWS):
        own = signs[step + SOFT_ROWS]
        for strip in range(wide):
            if own[strip] == 0:
                continue
            above = last[strip]
            if above >= 0 and step - above <= thickest:
                sign = signs[above + SOFT_ROWS, strip]
                if sign != own[strip]:
                    out[above + 1, strip] = (step - above) * sign
                    count += 1
            last[strip] = step
    return count


def gather(
    strips: NDArray[np.float32],
    signs: NDArray[np.int8],
    rows: NDArray[np.int16],
    limits: tuple[float, float],
    strip: NDArray[np.int64],
    contrast: NDArray[np.float64],
    starts: NDArray[np.int64],
    first: NDArray[np.int64],
    thick: NDArray[np.int64],
    soft: NDArray[np.float64],
) -> tuple[int, int]:
    """Write the pieces of outlines: pairs of one sign in neighbouring strips on the same rows.

    Parameters:
        strips : (lines, strips); signs, rows : see `pair`
        limits : what a step exceeds, and the rows that an outline has at most, soft ones by their share
        strip, contrast : (pairs,) of every piece
        starts, first, thick : (pairs,) of every outline: its first piece, and its rows but soft ones
        soft : (2 * SOFT_ROWS, pairs) mean shares of the rows above an outline, from its edge upwards, and of
            those below
    Returns: how many outlines and pieces there are
    """
    wide, found, pieces = strips.shape[1], 0, 0
    shares, sums = np.zeros(2 * SOFT_ROWS), np.zeros(2 * SOFT_ROWS)
    for line in range(len(rows)):
        own, held, begin, whole = rows[line], 0, pieces, 0.0
        for place in range(wide + 1):
            here = own[place] if place < wide else 0
            if here == 0 and held == 0:
                continue
            own_contrast = 0.0
            if here != 0 and (here == held or (place + 1 < wide and here == own[place + 1])):  # not alone
                own_contrast = measure(strips, signs, line, place, here, limits, shares)
            if own_contrast == 0:
                here = 0
            if held != 0 and here != held:  # the outline ends
                if pieces - begin >= LEAST_STRIPS:
                    starts[found], first[found], thick[found] = begin, line, abs(held)
                    for k in range(2 * SOFT_ROWS):
                        soft[k, found] = sums[k] / whole
                    found += 1
                else:
                    pieces = begin
            if here != held:
                begin, whole = pieces, 0.0
                sums[:] = 0.0
            if here != 0:
                strip[pieces], contrast[pieces] = place, own_contrast
                pieces += 1
                whole += own_contrast**2
                for k in range(2 * SOFT_ROWS):
                    sums[k] += shares[k] * own_contrast**2
            held = here
    return found, pieces


def measure(
    strips: NDArray[np.float32],
    signs: NDArray[np.int8],
    first: int,
    strip: int,
    held: int,
    limits: tuple[float, float],
    shares: NDArray[np.float64],
) -> float:
    """Return a piece's contrast, 0 where it is too faint or too thick, and write the shares of its soft rows.

    Parameters:  first, strip : where it is; held : its rows, negative where they are darker; more : `gather`
    """
    rows, sign, (limit, thickest) = abs(held), 1 if held > 0 else -1, limits
    total = strips[first, strip]
    for row in range(first + 1, first + rows):
        total += strips[row, strip]
    level = np.float64(total) / rows
    thickness, least = np.float64(rows), np.float64(np.inf)
    both = np.float32(0)
    for side in range(2):
        edge, way = (first - 1, -1) if side == 0 else (first + rows, 1)  # the first row beyond it
        step = edge + SOFT_ROWS - (0 if side == 0 else 1)  # between that one and the outline
        long = 0
        while long < SOFT_ROWS and signs[step + way * (long + 1), strip] == -way * sign:
            long += 1
        ground = strips[edge + way * long, strip]
        rise = level - ground
        for k in range(SOFT_ROWS):
            share = 0.0
            if k < long and abs(rise) > limit / 2:
                share = min(max((strips[edge + way * k, strip] - ground) / rise, 0.0), 1.0)
            shares[side * SOFT_ROWS + k] = share
            thickness += share
        least = min(least, sign * rise)
        both += ground
    if least > limit and thickness <= thickest:
        return float(level - both / 2)
    return 0.0


def follow(
    outlines: tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.int64], NDArray[np.int64]],
    contrast: NDArray[np.float64],
    columns: tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.float32]],
    landed: NDArray[np.float32],
    near: tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]],
    limits: tuple[float, float, NDArray[np.float64]],
    shares: NDArray[np.float32],
    nearest: NDArray[np.bool_],
) -> None:
    """Write what a chain's weights put of outlines on the landed lines near them, and which are nearest.

    Parameters:
        outlines : first source line and profile of each, its first piece, and the strip of every piece
        contrast : (pieces,)
        columns : V by source lines: where each begins in the other two, landed lines, and weights
        landed : (landed lines, strips) the picture on the screen
        near : of each outline the first line that is looked at, the middle, and how far is looked from there
        limits : a weight that counts; how far the nearest lines are; and of each outline the least contrast
            that is left of it on the screen, in its own
        shares, nearest : (lines, outlines) zeros, to be filled
    """
    (first, profile, starts, strip), (begin, lines, weights) = outlines, columns
    line, middle, reach = near
    touching, closest, least = limits
    count, screen = len(shares), len(landed)
    for k in range(len(first)):
        end = starts[k + 1] if k + 1 < len(starts) else len(strip)
        low, high = count, 0  # lines that show some of it
        for row in range(profile.shape[1]):
            part = np.float32(profile[k, row])
            if part == 0:
                continue
            for at in range(begin[first[k] + row], begin[first[k] + row + 1]):
                place = lines[at] - line[k]
                if 0 <= place < count:
                    shares[place, k] += weights[at] * part
                    low, high = min(low, place), max(high, place + 1)
        top, bottom = count, 0  # lines within reach, and on the screen
        for place in range(count):
            if abs(line[k] + place + 0.5 - middle[k]) < reach[k] and 0 <= line[k] + place < screen:
                top, bottom = min(top, place), max(bottom, place + 1)
        pieces = slice(starts[k], end)
        left = spread(
            landed, strip[pieces], contrast[pieces], line[k] + max(top, low), line[k] + min(bottom, high)
        )
        if left < least[k]:  # further away there may be more
            left = spread(landed, strip[pieces], contrast[pieces], line[k] + top, line[k] + bottom)
        none, before = True, False
        for place in range(low, high):
            none = none and abs(shares[place, k]) <= touching
        for place in range(count):
            here = abs(shares[place, k]) > touching
            after = place + 1 < count and abs(shares[place + 1, k]) > touching
            reached = top <= place < bottom and (none or here or before or after)
            nearest[place, k] = reached and abs(line[k] + place + 0.5 - middle[k]) <= closest
            if not reached or left < least[k]:
                shares[place, k] = 0
            before = here


def spread(
    landed: NDArray[np.float32],
    strip: NDArray[np.int64],
    contrast: NDArray[np.float64],
    first: int,
    last: int,
) -> float:
    """Return how far some landed lines differ among themselves, in an outline's contrast: 0 of no lines.

    Parameters:  strip, contrast : of its pieces; first, last : the first line, the first not meant
    """
    total = whole = 0.0
    for piece in range(len(strip)):
        most = least = landed[first, strip[piece]] if last > first else np.float32(0)
        for line in range(first + 1, last):
            value = landed[line, strip[piece]]
            most, least = max(most, value), min(least, value)
        total += np.float64(most - least) / abs(contrast[piece]) * contrast[piece] ** 2
        whole += contrast[piece] ** 2
    return total / whole


def most_adjacent(shares: NDArray[np.float32], needed: NDArray[np.int64], out: NDArray[np.float64]) -> None:
    """Write the largest sum of as many adjacent shares as each outline needs.

    Parameters:  shares : (lines, outlines); needed, out : (outlines,)
    """
    for k in range(len(out)):
        most = np.float32(-np.inf)
        for line in range(len(shares) - needed[k] + 1):
            total = np.float32(0)
            for more in range(needed[k]):
                total += shares[line + more, k]
            most = max(most, total)
        out[k] = most


WITHIN = measure, spread
"""What the loops call."""
