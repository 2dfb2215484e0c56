"""Which peaks of many tiles belong to one pattern: a frequency that changes evenly over the photo."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.carrier import Peaks

SEEDS = 120
TOLERANCES = (0.15, 0.12, 0.09, 0.06)
"""Distance of frequency vectors, of their length, at which a peak still belongs; it shrinks as the fit
grows."""
FEWEST = 4


@dataclass(frozen=True, eq=False)
class Pattern:
    """Peaks that agree.

    Parameters:
        coefficients : (3, 2) of the frequency vector in (1, x, y) about `middle`, cycles a pixel
        chosen : of the peaks; share : of the bright tiles; score : sum of the log prominence, one vote a tile
    """

    coefficients: NDArray[np.float64]
    middle: NDArray[np.float64]
    chosen: NDArray[np.int64]
    share: float
    score: float

    @property
    def period(self) -> float:
        """Pixels from line to line at the middle."""
        return float(1 / np.hypot(*self.coefficients[0]))

    def frequency(self, at: NDArray) -> NDArray[np.float64]:
        """Return (n, 2) cycles a pixel at places, (n, 2) pixels."""
        return np.column_stack([np.ones(len(at)), at - self.middle]) @ self.coefficients


def patterns(found: Peaks, most: int = 3) -> list[Pattern]:
    """Return up to `most` patterns, the strongest first, no peak in two of them."""
    left = np.ones(len(found.power), dtype=bool)
    made: list[Pattern] = []
    while len(made) < most and left.sum() >= FEWEST:
        best = _best(found, left)
        if best is None:
            break
        made.append(best)
        left[best.chosen] = False
        left &= ~_near(found, best)
    return made


def _near(found: Peaks, pattern: Pattern) -> NDArray[np.bool_]:
    return _distance(found, pattern.coefficients, pattern.middle) < TOLERANCES[-1]


def _best(found: Peaks, left: NDArray[np.bool_]) -> Pattern | None:
    middle = found.at.mean(axis=0)
    order = np.argsort(np.where(left, -found.power, 0))[:SEEDS]
    best: Pattern | None = None
    tried: set[bytes] = set()
    for seed in order[left[order]]:
        grown = _grown(found, left, int(seed), middle, tried)
        if grown is not None and (best is None or grown.score > best.score):
            best = grown
    return best


def _grown(
    found: Peaks, left: NDArray[np.bool_], seed: int, middle: NDArray, tried: set[bytes]
) -> Pattern | None:
    """Return what grows from a seed; None where it is too little, or grew from another seed before.

    Parameters:  tried : what seeds begin with, added to: the same beginning grows to the same pattern
    """
    coefficients = np.zeros((3, 2))
    coefficients[0] = found.f[seed]
    chosen = np.array([seed])
    for tolerance in TOLERANCES:
        distance = np.where(left, _distance(found, coefficients, middle), np.inf)
        chosen = _one_a_tile(found, distance, tolerance)
        if len(chosen) < FEWEST:
            return None
        if tolerance == TOLERANCES[0]:
            if (begun := chosen.tobytes()) in tried:
                return None
            tried.add(begun)
        coefficients = _fitted(found, chosen, middle)
    score = float(np.log(found.power[chosen]).sum())
    return Pattern(coefficients, middle, chosen, len(chosen) / max(found.tiles, 1), score)


def _distance(found: Peaks, coefficients: NDArray, middle: NDArray) -> NDArray[np.float64]:
    at = found.at - middle
    expected = coefficients[0] + at[:, :1] * coefficients[1] + at[:, 1:] * coefficients[2]
    length = np.maximum(np.hypot(expected[:, 0], expected[:, 1]), 1e-6)
    return np.asarray(np.hypot(*(found.f - expected).T) / length)


def _one_a_tile(found: Peaks, distance: NDArray, tolerance: float) -> NDArray[np.int64]:
    order = np.argsort(distance)
    order = order[distance[order] < tolerance]
    _, first = np.unique(found.tile[order], return_index=True)
    return np.asarray(order[first])


def _fitted(found: Peaks, chosen: NDArray, middle: NDArray) -> NDArray[np.float64]:
    at, f = found.at[chosen] - middle, found.f[chosen]
    reach = np.abs(at).max() + 1
    design = np.column_stack([np.ones(len(at)), at / reach])
    # slopes are held small unless the tiles ask for them: few tiles must not invent a perspective
    ridge = np.diag([0.0, 0.05 * len(at) / 9, 0.05 * len(at) / 9])
    found_ = np.linalg.solve(design.T @ design + ridge, design.T @ f)
    return np.asarray(found_ / np.array([[1.0], [reach], [reach]]))
