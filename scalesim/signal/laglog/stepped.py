"""Drift of readings that an instrument rounds to its step: each says only that lag lay within its step.

Rounding leaves errors that are alike for as long as lag stays within a step, so n readings tell as much as
the times at which lag passes from one step to the next, not as n independent ones. The likelihood of a line
with normal noise about it, each reading being the probability of its step, knows that by itself. Two standard
errors are the slopes whose likelihood, at their best level and noise, is within e^-2 of the greatest (less
where few readings show the noise); the drift is the middle of them.

Source: regression on grouped data (Kulldorff 1961); intervals of the likelihood's ratio (Wilks 1938), which
are those of a normal law where that holds, and all that fits where readings leave a range without noise.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.density import ASTRAY

COARSE = 1.7
"""Steps coarser than so many deviations hold errors that are alike. Noise of half a step parts them: what
rounding adds that is alike is then under 1 % of a step."""
_PLACES, _SPREADS = 25, 9
"""Slopes and levels, and spreads of noise, that are weighed at a time."""
_ROUNDS = 25
_MOST = 5000
"""Readings that are weighed: a random choice of a longer log."""
_QUIETEST, _LOUDEST = 1e-4, 1.0
"""Noise, of a step, that is weighed."""
_WITHIN = 3.0
"""Steps about the line within which readings are looked at; others are astray."""
_REACH = 4.0
"""Standard deviations to either side that are weighed."""
_TWO_ERRORS = 0.97725
"""Of a normal law, below two standard errors."""
_TELLING, _FEWEST_FREE = 2.0, 2
"""Readings within so many spreads of the end of a step tell of the noise; least degrees of freedom."""
_EDGE = 2e-3
_TAIL = 6.0
_TABLE = 4000


@dataclass(frozen=True)
class Line:
    """A line through readings: its slope per second, that slope's standard error, its level at `middle` s."""

    slope: float
    error: float
    level: float
    middle: float


@dataclass
class _Look:
    """The lines that are weighed next: rises from `pivot` to a half length later, levels there, spreads.

    All in steps; each with half its width.
    """

    pivot: float
    rise: float
    rises: float
    level: float
    levels: float
    quietest: float
    loudest: float


def line_of(times: NDArray, rest: NDArray, step: float, reach: float, error: float) -> Line:
    """Return the line of readings that are steps.

    Parameters:
        times : (n,) s; rest : (n,) what a first line left of each reading, ms; step : of the readings, ms
        reach : range over which stray readings lie, ms
        error : how far off the slope of the first line may be, ms per s
    """
    middle, half = (times[0] + times[-1]) / 2, (times[-1] - times[0]) / 2
    kept = np.flatnonzero(np.abs(rest) <= _WITHIN * step)
    if len(kept) > _MOST:
        kept = np.sort(np.random.RandomState(0).choice(kept, _MOST, replace=False))
    along, off = (times[kept] - middle) / half, rest[kept] / step
    wide = min(4 * error * half / step, _WITHIN) + 2.0
    look = _Look(0.0, 0.0, wide, 0.0, 1.5, _QUIETEST, _LOUDEST)
    stray = ASTRAY * step / reach
    low, high = -wide, wide
    for _ in range(_ROUNDS):
        before = look
        look, low, high = _nearer(along, off, stray, look)
        if _settled(before, look):
            break
    slope, error = (low + high) / 2 * step / half, (high - low) / 4 * step / half
    return Line(slope, error, look.level * step, middle + look.pivot * half)


def _nearer(along: NDArray, off: NDArray, stray: float, look: _Look) -> tuple[_Look, float, float]:
    """Return where to look next, closer about the likeliest lines, and between which rises those lie."""
    across = np.linspace(-1, 1, _PLACES)
    rises, levels = look.rise + look.rises * across, look.level + look.levels * across
    # noise is no finer than the levels that are weighed, else the likeliest falls between two of them
    quietest = max(look.quietest, look.levels / _PLACES)
    spreads = np.geomspace(quietest, max(look.loudest, 2 * quietest), _SPREADS)
    found = _likelihoods(along - look.pivot, off, stray, rises, levels, spreads)
    weights = np.exp(found - found.max())
    weights /= weights.sum()
    by_line, by_spread = weights.sum(axis=0), weights.sum(axis=(1, 2))
    rise, deviation = _moments(rises, by_line.sum(axis=1))
    level, apart = _moments(levels, by_line.sum(axis=0))
    best = np.unravel_index(int(found.argmax()), found.shape)
    off_line = off - rises[best[1]] * (along - look.pivot) - levels[best[2]]
    telling = int((np.abs(0.5 - np.abs(off_line)) < _TELLING * spreads[best[0]]).sum())
    low, high, wide_rise = _between(rises, found.max(axis=(0, 2)), _likely(telling))
    wide_level = max(by_line[:, 0].sum(), by_line[:, -1].sum()) > _EDGE
    # the level is taken where it does not depend on the rise
    together = float((rises - rise) @ by_line @ (levels - level))
    turn = 0.0 if wide_rise or wide_level else -together / max(deviation**2, 1e-30)
    turn = float(np.clip(look.pivot + turn, -1, 1)) - look.pivot
    left = max(apart**2 - (turn * deviation) ** 2, (apart / 30) ** 2) ** 0.5
    likely = np.flatnonzero(by_spread > 1e-3)
    quiet, loud = spreads[max(likely[0] - 1, 0)], spreads[min(likely[-1] + 1, _SPREADS - 1)]
    middle, error = (low + high) / 2, max((high - low) / 4, look.rises / 40)
    after = _Look(
        look.pivot + turn,
        look.rise if wide_rise else middle,
        2 * look.rises if wide_rise else _REACH * error,
        level + turn * rise,
        2 * look.levels if wide_level else _REACH * max(left, look.levels / 40),
        look.quietest if likely[0] == 0 else float(quiet),
        float(loud),
    )
    return after, low, high


def _likely(telling: int) -> float:
    """Return the log likelihood below the greatest at two standard errors, of so many readings that tell.

    Noise that few readings show is not known either: Student's law instead of the normal one, whose limit
    for many is 2.
    """
    from scipy.special import stdtrit

    free = max(telling - 3, _FEWEST_FREE)
    at = float(stdtrit(free, _TWO_ERRORS))
    return (free + 1) / 2 * log(1 + at**2 / free)


def _between(rises: NDArray, best: NDArray, likely: float) -> tuple[float, float, bool]:
    """Return the ends of the likely rises, two standard errors to either side, and whether they are cut."""
    found = best - best.max() + likely
    inside = np.flatnonzero(found > 0)
    first, last = int(inside[0]), int(inside[-1])
    ends = []
    for within, beyond in ((first, first - 1), (last, last + 1)):
        if not 0 <= beyond < len(rises):
            return float(rises[first]), float(rises[last]), True
        share = found[within] / (found[within] - found[beyond])
        ends.append(float(rises[within] + share * (rises[beyond] - rises[within])))
    return ends[0], ends[1], False


def _settled(before: _Look, after: _Look) -> bool:
    """Tell whether looking closer changes nothing more."""
    pairs = ((before.rises, after.rises), (before.levels, after.levels))
    return all(0.8 < new / old < 1.25 for old, new in pairs) and abs(after.pivot - before.pivot) < 0.1


def _likelihoods(
    along: NDArray, off: NDArray, stray: float, rises: NDArray, levels: NDArray, spreads: NDArray
) -> NDArray:
    """Return (spreads, rises, levels) the log likelihood of each, but for what is common to all."""
    # how far within its step each reading is, at most and at least, over all lines
    centre = off - rises[len(rises) // 2] * along - levels[len(levels) // 2]
    moved = np.abs(rises[-1] - rises[0]) / 2 * np.abs(along) + (levels[-1] - levels[0]) / 2
    sure = np.abs(np.abs(centre) - 0.5) > moved + _TAIL * spreads[-1]
    found = np.zeros((len(spreads), len(rises), len(levels)), np.float64)
    tables = [_table(spread, stray) for spread in spreads]
    for place, rise in enumerate(rises):
        within = 0.5 - np.abs((off - rise * along)[~sure, None] - levels)
        for k, (spread, table) in enumerate(zip(spreads, tables, strict=True)):
            index = np.clip(within * (_TABLE / (2 * _TAIL * spread)) + _TABLE / 2, 0, _TABLE).astype(np.intp)
            found[k, place] = table[index].sum(axis=0)
    return found


def _table(spread: float, stray: float) -> NDArray:
    """Return the log likelihood of a reading by how far within its step the line is, over -6..6 spreads."""
    from scipy.special import ndtr

    within = np.linspace(-_TAIL, _TAIL, _TABLE + 1)
    beyond = 1.0 / spread  # the other end of the step
    found: NDArray = np.log((1 - ASTRAY) * (ndtr(within) - ndtr(within - beyond)) + stray)
    found[-1] = log((1 - ASTRAY) * (ndtr(_TAIL) if beyond > 2 * _TAIL else ndtr(beyond / 2) * 2 - 1) + stray)
    return found


def _moments(values: NDArray, weights: NDArray) -> tuple[float, float]:
    mean = float(weights @ values)
    return mean, float(np.sqrt(weights @ (values - mean) ** 2))
