"""Pictures that are a mixture of two source pictures: which two, and with what weight.

Reading cells as black or white is a trap: of 25 parts of one picture and 75 of another it reads the other.
So the mean level of every cell is held against what each number should give. What a number gives is not its
cells alone: blur carries neighbours over, so three taps and an offset are fitted to the clip first.

    x = (1 - w) p(n) + w p(m),   w = (x - p(n)) . (p(m) - p(n)) / |p(m) - p(n)|^2

with x and p the levels of the 48 cells, 0 the black and 1 the white guard. The weight is of code values.
Definition of this project; the estimate of w is least squares.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.counter.code import CELLS, COPIES, NUMBERS, cells

REACH = 8
"""Two pictures of a mixture are at most so many numbers apart."""
LEAST_WEIGHT = 0.08
"""Below this share of the other picture a mixture is taken for one picture."""
_LIMITS = ((0.035, 1.5), (0.09, 2.0), (0.25, 4.0))
"""Least misfit, and how often the clip's own, from which on a picture is looked at for a second number,
levels are not explained, and lines are not of the number they spell: even mixtures spell any by chance."""
_CLEARER = 1.8
"""How many times worse than the best every other explanation must be."""
_TAPS = 3


@dataclass(frozen=True)
class Mixture:
    """`weight` of the picture `second`, the rest of `first`, which comes before it; numbers modulo 4096."""

    first: int
    second: int
    weight: float
    misfit: float

    @property
    def pure(self) -> int | None:
        """The one number, when the other's share is too small to be told."""
        if self.weight < LEAST_WEIGHT:
            return self.first
        return self.second if self.weight > 1 - LEAST_WEIGHT else None


class Patterns:
    """What the cells of every number should read: `levels` is (4096, 48).

    Parameters:
        response : the three taps and the offset; None reads cells as they were drawn
        floor : misfit that clear pictures of the clip have
    Misfits are rms over the cells, in shares of the step between black and white cells as they read here.
    """

    def __init__(self, response: NDArray | None = None, floor: float = 0.0) -> None:
        neighbours = _neighbours()
        self.response = np.array([0.0, 1.0, 0.0, 0.0]) if response is None else response
        taps, offset = self.response[:_TAPS], self.response[_TAPS]
        self.levels = np.asarray(neighbours @ taps.astype(np.float32) + np.float32(offset), np.float32)
        self._step = max(2 * float(self.levels.std()), 1e-3)
        self.off, self.fits, self.other = (max(least, times * floor) for least, times in _LIMITS)

    def weight(self, x: NDArray, first: int, second: int) -> NDArray:
        """Return the share of `second`, the rest being `first`: (...,) of levels (..., 48)."""
        step = self.levels[second] - self.levels[first]
        return np.asarray((x - self.levels[first]) @ step / (step @ step))

    def misfit(self, x: NDArray, number: int) -> float:
        """Return the misfit of levels (48,) from a number's."""
        return float(np.sqrt(np.mean((x - self.levels[number]) ** 2))) / self._step

    def explain(self, x: NDArray, near: NDArray | None = None) -> Mixture | None:
        """Return the mixture of two numbers, at most `REACH` apart, that levels are; None when none is clear.

        Parameters:  x : (48,); near : numbers one of which is the first, None for any
        """
        best = self._tried(x, near)
        found = best[0]
        rivals = [each for each in best[1:] if not _same(found, each)]
        if found.misfit > self.fits:
            return None
        if rivals and rivals[0].misfit < min(_CLEARER * found.misfit, self.fits):
            return None
        return found

    def closest(self, x: NDArray, near: NDArray | None = None) -> Mixture:
        """Return the mixture that comes closest to levels, clear or not."""
        return self._tried(x, near)[0]

    def _tried(self, x: NDArray, near: NDArray | None) -> list[Mixture]:
        """Return the closest mixtures, best first."""
        first = np.arange(NUMBERS) if near is None else np.unique(np.asarray(near) % NUMBERS)
        best: list[Mixture] = []
        base = self.levels[first]
        rest = x - base
        for apart in range(1, REACH + 1):
            second = (first + apart) % NUMBERS
            step = self.levels[second] - base
            weight = np.clip((rest * step).sum(axis=1) / (step * step).sum(axis=1), 0, 1)
            misfit = np.sqrt(((rest - weight[:, None] * step) ** 2).mean(axis=1)) / self._step
            for k in np.argsort(misfit)[:3]:
                best.append(Mixture(int(first[k]), int(second[k]), float(weight[k]), float(misfit[k])))
        return sorted(best, key=lambda each: each.misfit)


def fitted(levels: NDArray, mixtures: list[Mixture]) -> NDArray[np.float64]:
    """Return the response that makes of drawn cells what was read: three taps and an offset, least squares.

    Parameters:  levels : (pictures, 48); mixtures : what each of them is of
    """
    drawn = _neighbours()
    weights = np.array([[each.weight] for each in mixtures])[..., None]
    first, second = ([getattr(each, name) for each in mixtures] for name in ("first", "second"))
    mixed = (1 - weights) * drawn[first] + weights * drawn[second]
    rows = mixed.reshape(-1, _TAPS)
    found, *_ = np.linalg.lstsq(np.column_stack([rows, np.ones(len(rows))]), levels.ravel(), rcond=None)
    return np.asarray(found)


def spread_of(levels: NDArray, numbers: NDArray) -> NDArray[np.float64]:
    """Return a first guess of the response, from the numbers that pictures spell, as of `fitted`.

    What spells a number may hold a part of the one before or after. So the taps are fitted to all three; as
    the weights of a mixture add up to one, the taps of all three together are those of a whole picture.
    """
    drawn = _neighbours()
    rows = [drawn[(numbers + step) % NUMBERS].reshape(-1, _TAPS) for step in (-1, 0, 1)]
    found, *_ = np.linalg.lstsq(np.column_stack([*rows, np.ones(len(rows[0]))]), levels.ravel(), rcond=None)
    return np.append(found[:-1].reshape(3, _TAPS).sum(axis=0), found[-1])


def _same(found: Mixture, other: Mixture) -> bool:
    """Tell whether two explanations are the same picture in other words."""
    return found.pure is not None and found.pure == other.pure


@cache
def _neighbours() -> NDArray[np.float32]:
    """Return what lies left of, at and right of every cell of every number: (4096, 48, 3)."""
    strip = np.zeros((NUMBERS, COPIES, CELLS + 2), np.float32)  # beside the code stand the black guards
    strip[..., 1:-1] = cells()
    drawn = np.stack([strip[..., k : k + CELLS] for k in range(_TAPS)], axis=-1)
    return drawn.reshape(NUMBERS, COPIES * CELLS, _TAPS)
