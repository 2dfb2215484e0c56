"""How lag may be spread where it does not drift: constant, jitter, uniform in a frame, two levels.

Each shape is fitted by its own likelihood (`density`); the Bayesian information criterion compares them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from math import log
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.density import ASTRAY, LEAST_NOISE_MS, bic, flat, log_likelihood, normal

Kind = Literal["constant", "jitter", "uniform", "two-level", "drift", "drift+jitter", "unknown"]

WIDEST_NOISE = 1 / 16
"""Standard deviation, of a frame, up to which readings still are one value with noise."""
NARROWEST_JITTER = 1 / 8
WIDEST_JITTER = 0.85
"""Width of flat jitter, of a frame; wider is a whole frame as far as readings tell."""
_EDGES_MS = (0.02, 0.1, 0.3, 0.8)
_MOVES = ((1, 0), (-1, 0), (0, 1), (0, -1), (1, -1), (-1, 1))
_ROUNDS = 25
_MOST_CELLS = 100_000
FEWEST_OF_A_LEVEL = 2.5
"""Readings of a level: two that lie near each other may both be astray."""


@dataclass(frozen=True)
class Shape:
    """A shape fitted to readings.

    Parameters:
        kind : its name; score : criterion, less is better
        values : what was fitted, in ms (shares as 0..1)
    """

    kind: Kind
    score: float
    values: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Window:
    """A flat spread: its low end, width and the noise at its edges, ms; `found` is its log likelihood."""

    low: float
    width: float
    edge: float
    found: float


def reach_of(lags: NDArray, frame: float) -> float:
    """Return the range over which stray readings lie, ms."""
    return max(float(lags.max() - lags.min()), 2 * frame)


def shapes(lags: NDArray, frame: float, step: float) -> list[Shape]:
    """Return every shape without drift, fitted to readings in the order of time."""
    reach = reach_of(lags, frame)
    noise = WIDEST_NOISE * frame
    count = len(lags)
    middle, spread, found = _one(lags, reach, step, LEAST_NOISE_MS, noise)
    fitted = [Shape("constant", bic(found, 2, count), {"at": middle, "spread": spread})]
    middle, spread, found = _one(lags, reach, step, noise, frame / 3)
    fitted.append(Shape("jitter", bic(found, 2, count), {"at": middle, "spread": spread}))
    narrow = window(lags, reach, step, NARROWEST_JITTER * frame, WIDEST_JITTER * frame)
    fitted.append(Shape("jitter", bic(narrow.found, 3, count), {"low": narrow.low, "width": narrow.width}))
    whole = window(lags, reach, step, frame, frame)
    fitted.append(Shape("uniform", bic(whole.found, 1, count), {"low": whole.low, "width": frame}))
    two = _two(lags, reach, step, noise)
    return [*fitted, *([two] if two else [])]


def _one(lags: NDArray, reach: float, step: float, least: float, most: float) -> tuple[float, float, float]:
    """Return (middle, spread, log likelihood) of one normal level among stray readings."""
    middle = float(np.median(lags))
    spread = float(np.clip(1.4826 * np.median(np.abs(lags - middle)), least, most))
    for _ in range(_ROUNDS):
        density = (1 - ASTRAY) * normal(lags - middle, spread, step)
        share = density / (density + ASTRAY / reach)
        total = max(float(share.sum()), 1e-9)
        middle = float(share @ lags) / total
        variance = float(share @ (lags - middle) ** 2) / total - step**2 / 12
        after = float(np.clip(np.sqrt(max(variance, 0.0)), least, most))
        if abs(after - spread) < 1e-4 * spread:
            break
        spread = after
    found = log_likelihood(normal(lags - middle, spread, step), reach)
    return (middle, spread, found) if step < spread else _stepped(lags, middle, reach, step, least, most)


def _stepped(
    lags: NDArray, middle: float, reach: float, step: float, least: float, most: float
) -> tuple[float, float, float]:
    """Return the likeliest level and spread where readings fall on a few steps of the instrument."""
    values, many = np.unique(lags, return_counts=True)
    best = (middle, least, -np.inf)
    for spread in np.geomspace(max(least, step / 50), max(min(most, 2 * step), 1.01 * least), 16):
        for at in middle + step * np.linspace(-1, 1, 41):
            density = normal(values - at, float(np.clip(spread, least, most)), step)
            found = float(many @ np.log((1 - ASTRAY) * density + ASTRAY / reach))
            if found > best[2]:
                best = float(at), float(np.clip(spread, least, most)), found
    return best


def window(lags: NDArray, reach: float, step: float, least: float, most: float) -> Window:
    """Return the likeliest flat spread of a width between two limits, ms."""
    ordered = np.sort(lags)
    count = len(ordered)
    cuts = sorted({min(k, count // 3) for k in (0, 1, 2, round(0.01 * count), round(0.03 * count))})

    def judged(low: float, width: float, edge: float) -> tuple[float, float, float, float]:
        width = min(max(width, least), most)
        return log_likelihood(flat(lags - low, width, edge, step), reach), low, width, edge

    best = (-np.inf, float(ordered[0]), least, _EDGES_MS[0])
    for below in cuts:
        for above in cuts:
            low, high = float(ordered[below]), float(ordered[count - 1 - above])
            width = min(max((high - low) * (1 + 1 / count), least), most)
            begins = ((low + high - width) / 2, low, high - width)
            best = max(best, *(judged(begin, width, _EDGES_MS[1]) for begin in begins))
    best = max(best, *(judged(*best[1:3], edge) for edge in _EDGES_MS))
    for by in (0.4, 0.2, 0.1, 0.05, 0.02):
        for _ in range(4):
            _, low, width, edge = best
            moved = (judged(low + a * by, width + b * by, edge) for a, b in _MOVES)
            after = max(*moved, *(judged(low, width, edge * much) for much in (0.7, 1.4)))
            if after[0] <= best[0] + 1e-9:
                break
            best = after
    return Window(best[1], best[2], best[3], best[0])


def _two(lags: NDArray, reach: float, step: float, noise: float) -> Shape | None:
    """Return the fit of two levels, None where no second one shows."""
    ordered = np.sort(lags)
    gaps = np.diff(ordered)
    places = [p for p in np.argsort(gaps)[::-1] if 2 <= p + 1 <= len(ordered) - 2 and gaps[p] > 0][:3]
    splits = [float(ordered[place] + gaps[place] / 2) for place in places]
    starts = [(float(np.median(lags[lags <= at])), float(np.median(lags[lags > at]))) for at in splits]
    starts += _crowds(lags, noise)
    best: Shape | None = None
    for first, second in starts:
        found = _two_from(lags, first, second, reach, step, noise)
        if found is not None and (best is None or found.score < best.score):
            best = found
    return best


def _crowds(lags: NDArray, noise: float) -> list[tuple[float, float]]:
    """Return the two places with the most readings, at least three times the widest noise apart."""
    if lags.max() - lags.min() > _MOST_CELLS * noise / 2:
        return []
    edges = np.arange(lags.min() - noise, lags.max() + 2 * noise, noise / 2)
    crowd = np.convolve(np.histogram(lags, edges)[0], (1, 2, 1), mode="same")
    middles = (edges[1:] + edges[:-1]) / 2
    first = float(middles[crowd.argmax()])
    crowd = np.where(np.abs(middles - first) < 3 * noise, 0, crowd)
    second = float(middles[crowd.argmax()])
    return [(min(first, second), max(first, second))] if crowd.max() else []


def _two_from(
    lags: NDArray, first: float, second: float, reach: float, step: float, noise: float
) -> Shape | None:
    high = lags > (first + second) / 2
    rest = np.where(high, lags - second, lags - first)
    spread = float(np.clip(1.4826 * np.median(np.abs(rest)), LEAST_NOISE_MS, noise))
    share = float(high.mean())
    for _ in range(_ROUNDS):
        lower = (1 - ASTRAY) * (1 - share) * normal(lags - first, spread, step)
        upper = (1 - ASTRAY) * share * normal(lags - second, spread, step)
        whole = lower + upper + ASTRAY / reach
        lower, upper = lower / whole, upper / whole
        below, above = float(lower.sum()), float(upper.sum())
        if min(below, above) < FEWEST_OF_A_LEVEL:
            return None
        first, second = float(lower @ lags) / below, float(upper @ lags) / above
        variance = float(lower @ (lags - first) ** 2 + upper @ (lags - second) ** 2) / (below + above)
        spread = float(np.clip(np.sqrt(max(variance - step**2 / 12, 0.0)), LEAST_NOISE_MS, noise))
        share = above / (below + above)
    if second - first < max(4 * spread, 2 * step):
        return None  # neighbouring steps of the instrument are no levels
    density = (1 - share) * normal(lags - first, spread, step) + share * normal(lags - second, spread, step)
    found = log_likelihood(density, reach)
    count = len(lags)
    chosen = upper > lower
    jumps = int((chosen[1:] != chosen[:-1]).sum())
    # levels that hold for a while tell themselves by how seldom they change
    alone = count * _entropy(share)
    chained = (count - 1) * _entropy(jumps / max(count - 1, 1))
    score = min(bic(found, 4, count), bic(found + alone - chained, 5, count))
    values = {"low": first, "high": second, "share": share, "spread": spread, "jumps": float(jumps)}
    return Shape("two-level", score, values)


def _entropy(share: float) -> float:
    return 0.0 if share in (0.0, 1.0) else -share * log(share) - (1 - share) * log(1 - share)
