"""Which source pictures the lines of a captured picture are of, by least squares.

With c the captured picture and s_n the source's, both after the same chain, e_n(r) = sum over the line of
(c - s_n)^2. A whole picture is of the n with the least sum over lines. A torn one is of a above line r and
of b
below: r is where the running sum of e_a - e_b is least. It is called torn only if that lowers the misfit by
at least half of what the lines would differ by between a and b, and by more than four deviations of what
noise alone would do; and if each side holds 2 % of the change between a and b, for what does not change
cannot tell.

Where lines around r are alike in a and b the tear is known only to an interval. Where source pictures are
alike altogether, the one that was expected is taken: still pictures hide repeats and drops.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_GAIN = 0.5
_DEVIATIONS = 4.0
_LEAST_SHARE = 0.02
_APART = 3
"""Two source pictures of one captured picture are at most so many apart."""
_WEIGHTS = (0.2, 0.8)
_MIXED_GAIN = 0.5
_SEEN = 2.0
"""Codes by which source pictures must differ somewhere for that to count: less is the grain of coding."""
_VISIBLE = 0.02
"""Mean squared difference, over all cells, below which two source pictures are alike."""
_TOGETHER = 8.0
"""Errors of coding go together over so many cells: sums of them vary by so much more than of noise."""
_UNSURE = 3.0
"""Deviations of the noise by which lines must differ in two source pictures to tell a tear's place."""


@dataclass(frozen=True)
class Matched:
    """What a captured picture is of.

    Parameters:
        upper, lower : source pictures; alike when it is whole
        line : where it is torn, None when whole; low, high : between which lines the tear may lie
        weight : of `lower`, the rest of `upper`, when it is a mixture of both; None when it is not
        misfit : mean squared difference in codes that is left
    """

    upper: int
    lower: int
    line: float | None = None
    low: float = 0.0
    high: float = 0.0
    weight: float | None = None
    misfit: float = 0.0


def match(
    captured: NDArray[np.float32], sources: dict[int, NDArray[np.float32]], expected: int, noise: float
) -> Matched:
    """Return what a captured picture is of.

    Parameters:
        captured : (lines, columns) as `reduced` gives it
        sources : number -> the same of source pictures, at the capture's levels
        expected : the number that would come next
        noise : mean squared difference, in codes, that captures have from what they are of
    """
    numbers = np.array(sorted(sources))
    stack = np.stack([sources[int(number)] for number in numbers])
    errors = ((captured - stack) ** 2).sum(axis=2, dtype=np.float64)
    totals = errors.sum(axis=1)
    apart = _apart(stack)
    noise = _TOGETHER * noise
    size = captured.size
    whole = _expected(numbers, totals, apart.sum(axis=2), expected, noise, size)
    best = Matched(int(numbers[whole]), int(numbers[whole]), misfit=float(totals[whole]) / size)
    torn = _torn(numbers, errors, apart, whole, noise, size)
    mixed = _mixed(numbers, captured, stack, totals, whole, noise)
    found = [each for each in (torn, mixed) if each is not None]
    return min(found, key=lambda each: each.misfit) if found else best


def _expected(
    numbers: NDArray, totals: NDArray, apart: NDArray, expected: int, noise: float, size: int
) -> int:
    """Return the index of the best source picture; of those that cannot be told from it, the expected one."""
    best = int(np.argmin(totals))
    unsure = totals - totals[best] <= _DEVIATIONS * 2 * np.sqrt(noise * apart[best])
    unsure |= apart[best] < _VISIBLE * size
    return int(min(np.flatnonzero(unsure), key=lambda k: (abs(int(numbers[k]) - expected), k)))


def _apart(stack: NDArray[np.float32]) -> NDArray[np.float64]:
    """Return the squared differences of source pictures that can be seen, (pictures, pictures, lines)."""
    count, lines, _ = stack.shape
    apart = np.zeros((count, count, lines))
    for a in range(count):
        for b in range(a + 1, count):
            step = stack[b] - stack[a]
            step[np.abs(step) < _SEEN] = 0
            apart[a, b] = apart[b, a] = np.einsum("lc,lc->l", step, step)
    return apart


def _torn(
    numbers: NDArray, errors: NDArray, apart: NDArray, whole: int, noise: float, size: int
) -> Matched | None:
    """Return the tear that explains a picture clearly better than one source picture; None without one."""
    sums = np.concatenate([np.zeros((len(numbers), 1)), np.cumsum(errors, axis=1)], axis=1)
    best: tuple[float, int, int, int] | None = None
    for a in range(len(numbers)):
        for b in range(len(numbers)):
            if a == b or abs(int(numbers[a] - numbers[b])) > _APART:
                continue
            cost = sums[a] + sums[b, -1] - sums[b]
            row = int(np.argmin(cost[1:-1])) + 1
            if best is None or cost[row] < best[0]:
                best = (float(cost[row]), a, b, row)
    if best is None:
        return None
    cost_at, a, b, row = best
    steps = np.concatenate([[0.0], np.cumsum(apart[a, b])])
    shares = (steps[row], steps[-1] - steps[row])
    if min(shares) < _LEAST_SHARE * steps[-1] or steps[-1] <= 0:
        return None
    gain = min(sums[a, -1], sums[b, -1], sums[whole, -1]) - cost_at
    changed = min(shares)
    if gain < max(_GAIN * changed, _DEVIATIONS * 2 * np.sqrt(noise * changed)):
        return None
    slack = (_UNSURE**2) * 4 * noise
    low = int(np.searchsorted(steps, steps[row] - slack, side="left"))
    high = int(np.searchsorted(steps, steps[row] + slack, side="right")) - 1
    return Matched(
        int(numbers[a]),
        int(numbers[b]),
        float(row),
        float(min(low, row)),
        float(max(high, row)),
        misfit=cost_at / size,
    )


def _mixed(
    numbers: NDArray, captured: NDArray, stack: NDArray, totals: NDArray, whole: int, noise: float
) -> Matched | None:
    """Return the mixture of two neighbours that explains a picture clearly better; None without one."""
    best: Matched | None = None
    for a in range(len(numbers) - 1):
        step = stack[a + 1] - stack[a]
        step[np.abs(step) < _SEEN] = 0
        power = float((step * step).sum(dtype=np.float64))
        if power < _VISIBLE * captured.size:
            continue
        weight = float(((captured - stack[a]) * step).sum(dtype=np.float64)) / power
        if not _WEIGHTS[0] < weight < _WEIGHTS[1]:
            continue
        cost = float(((captured - stack[a] - weight * (stack[a + 1] - stack[a])) ** 2).sum(dtype=np.float64))
        gain = min(float(totals[whole]), float(totals[a]), float(totals[a + 1])) - cost
        lesser = min(weight, 1 - weight) ** 2 * power
        clear = max(_MIXED_GAIN * lesser, _DEVIATIONS * 2 * np.sqrt(noise * lesser))
        if gain >= clear and (best is None or cost / captured.size < best.misfit):
            best = Matched(int(numbers[a]), int(numbers[a + 1]), weight=weight, misfit=cost / captured.size)
    return best
