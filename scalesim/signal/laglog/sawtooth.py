"""A drifting sawtooth fitted to readings: its turn on the circle, and where it wraps."""

from __future__ import annotations

from math import log

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.circle import FASTEST_MS_PER_S, Turn
from scalesim.signal.laglog.density import LEAST_NOISE_MS, bic, flat, log_likelihood, normal
from scalesim.signal.laglog.shapes import (
    NARROWEST_JITTER,
    WIDEST_JITTER,
    WIDEST_NOISE,
    Shape,
    reach_of,
    window,
)

_SPREADS = 16
_STRAY = 5.0
"""Spreads off the line from which a reading is astray."""
RAYLEIGH = 8.0
"""By how much ``n R^2`` must exceed the log of the places looked at: chance e^-8 (Mardia and Jupp)."""


def wrap_place(phase: NDArray, turns: NDArray) -> tuple[float, float, int]:
    """Return where in the frame the sawtooth wraps: (low, high) ms between which it does, and whole frames.

    Parameters:
        phase : (n,) the sawtooth modulo a frame, ms
        turns : (n,) whole frames that each reading lies above its phase
    A reading below the place carries one frame more than one above it; the place is where fewest disagree.
    """
    order = np.argsort(phase, kind="stable")
    ordered, counted = phase[order], turns[order]
    values, many = np.unique(counted, return_counts=True)
    base = int(values[many.argmax()])
    best: tuple[int, int, int] | None = None
    for frames in (base, base - 1):
        wrong_below = np.concatenate([[0], np.cumsum(counted != frames + 1)])
        wrong_above = np.concatenate([np.cumsum((counted != frames)[::-1])[::-1], [0]])
        wrong = wrong_below + wrong_above
        place = int(wrong.argmin())
        if best is None or wrong[place] < best[0]:
            best = int(wrong[place]), place, frames
    assert best is not None
    _, place, frames = best
    low = float(ordered[place - 1]) if place else 0.0
    high = float(ordered[place]) if place < len(ordered) else low
    return low, high, frames


def _wraps(times: NDArray, lags: NDArray, frame: float, turn: Turn, place: float) -> bool:
    """Return whether a log holds a wrap: most readings before and after one, two at least, lie as it says.

    The line is not taken modulo a frame: lag that passes a multiple of a frame goes on along it. Readings off
    it that stand between others on it are strays, however many.
    """
    line = turn.at_start + turn.drift * times
    passed = np.floor((line - place) / frame)
    off = np.round((lags - line) / frame) + passed
    values, many = np.unique(off, return_counts=True)
    agrees = off == values[many.argmax()]
    stretches = (agrees[passed == each] for each in np.unique(passed))
    return sum(own.sum() >= 2 and own.mean() > 0.5 for own in stretches) > 1


def sawtooth(times: NDArray, lags: NDArray, frame: float, step: float, turn: Turn) -> list[Shape]:
    """Return the drift, with noise alone and with jitter, as shapes that compare with those without drift.

    Parameters:  times : s, from the first reading on; lags : ms; step : of the readings, ms
    """
    reach, count = reach_of(lags, frame), len(lags)
    length = float(times[-1] - times[0])
    phase = (turn.at_start + turn.drift * times) % frame
    turns = np.round((lags - phase) / frame).astype(np.int64)
    rest = lags - phase - frame * turns
    # a stray beside the place of the wrap would move it
    on_line = np.abs(rest) <= _STRAY * max(turn.spread, step / 2, LEAST_NOISE_MS)
    on_line = on_line if on_line.sum() > 2 else np.ones(count, bool)
    low, high, frames = wrap_place(phase[on_line], turns[on_line])
    place = (low + high) / 2
    # the reading shows the frame that the place asks for, or lies so near to it that noise decides
    expected = frames + (phase < place)
    near = np.abs(phase - place)
    near = np.minimum(near, frame - near)
    # one may look in so many independent places for a drift
    looked = 2 * log(max(2 * FASTEST_MS_PER_S * length / frame, 1.0))
    wraps = 1.0 if _wraps(times, lags, frame, turn, place) else 0.0
    values = {
        "drift": turn.drift,
        "error": turn.error,
        "at_start": turn.at_start,
        "place": place,
        "frames": frames,
    }
    values |= {"place_low": low, "place_high": high, "wraps_seen": wraps}
    noise = WIDEST_NOISE * frame
    spread = float(np.clip(turn.spread, LEAST_NOISE_MS, noise))
    right = (turns == expected) | ((near <= 4 * spread) & (np.abs(turns - expected) <= 1))
    if step > turn.spread:  # steps hide the noise: the likeliest under them
        spreads = np.geomspace(LEAST_NOISE_MS, noise, _SPREADS)
        spread = float(max(spreads, key=lambda each: log_likelihood(normal(rest, each, step), reach)))
    found = log_likelihood(np.where(right, normal(rest, spread, step), 0), reach)
    made = [Shape("drift", bic(found, 4, count) + looked, {**values, "spread": spread})]
    # Rayleigh's test: would uniform readings turn as one by chance, looked at in so many places?
    together = count * float(np.abs(np.exp(2j * np.pi * rest / frame).mean())) ** 2
    if together < looked / 2 + RAYLEIGH:
        return made
    wide = float(np.clip(turn.spread, noise, frame / 3))
    least, most = NARROWEST_JITTER * frame, WIDEST_JITTER * frame
    near_wrap = (near <= 3 * turn.spread) & (np.abs(turns - expected) <= 1)
    after = np.where(near_wrap, rest, lags - phase - frame * expected)
    before = np.where(_in_a_frame(lags, frame, step), rest, np.inf)
    for left in (after, before):  # jitter after the buffer, and before it
        found = log_likelihood(normal(left, wide, step), reach)
        made.append(Shape("drift+jitter", bic(found, 4, count) + looked, {**values, "spread": wide}))
        kept = np.isfinite(left)
        if kept.sum() < 3:
            continue
        fit = window(left[kept], reach, step, least, most)
        found = log_likelihood(flat(np.where(kept, left - fit.low, -1e9), fit.width, fit.edge, step), reach)
        more = {"spread": turn.spread, "width": fit.width}
        made.append(Shape("drift+jitter", bic(found, 5, count) + looked, {**values, **more}))
    return made


def _in_a_frame(lags: NDArray, frame: float, step: float) -> NDArray:
    """Return which readings lie in the likeliest frame: jitter before the buffer never leaves it."""
    fit = window(lags, reach_of(lags, frame), step, frame, frame)
    slack = 3 * max(fit.edge, 0.1)
    found: NDArray = (lags >= fit.low - slack) & (lags <= fit.low + frame + slack)
    return found
