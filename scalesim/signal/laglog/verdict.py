"""Verdict: which kind of lag a log shows, how sure that is, and how much longer to log."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import exp, isfinite

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.circle import Turn, turns
from scalesim.signal.laglog.sawtooth import sawtooth
from scalesim.signal.laglog.shapes import Kind, Shape, shapes

FEWEST = 12
"""Readings for any verdict on their kind."""
ENOUGH = 60
"""Readings below which confidence is lowered by up to a tenth."""
MOST_FITTED = 4000
"""Readings that the shapes are fitted to: a random choice of a longer log, which tells no less."""
MOST_TURNED = 200_000
"""Readings that a drift is worked out from, likewise."""
TEMPERATURE = 1.3
"""The criterion's lead is divided by it before it becomes a chance: found on synthetic logs and frozen."""
SUREST = 0.995
"""No log makes surer of its kind: real lag may be of none of these."""


@dataclass(frozen=True, eq=False)
class Verdict:
    """What kind of lag a log shows.

    Parameters:
        kind : its name; confidence : the chance that it is this kind, 0..1
        chosen : the fit behind it, None for an unknown kind
        runner_up, lead : the next kind, and how much better the criterion is
        turn : the likeliest drift, whether or not it is told, None below three readings
        why : of an unknown kind, where more is known than that nothing fits
    """

    kind: Kind
    confidence: float
    chosen: Shape | None
    runner_up: str
    lead: float
    turn: Turn | None
    scores: Mapping[str, float]
    why: str = ""


def verdict(times: NDArray, lags: NDArray, frame: float, *, step: float, interval: float | None) -> Verdict:
    """Return the kind of lag.

    Parameters:
        times : (n,) s, rising from 0; lags : (n,) ms; frame : its length, ms
        step : of the instrument, ms; interval : s between regular readings, None for irregular ones
    """
    count = len(lags)
    if count < 3 or times[-1] <= times[0]:
        why = "all readings have the same time; log when each was read" if count >= FEWEST else ""
        return Verdict("unknown", 0.0, None, "", 0.0, None, {}, why)
    if count > MOST_TURNED:
        chosen = _some(count, MOST_TURNED)
        times, lags = times[chosen], lags[chosen]
    near = within(lags, frame)
    found = turns(times[near], lags[near], frame, interval=interval, step=step) if near.sum() > 2 else []
    turn = found[0] if found else None
    if count < FEWEST:
        return Verdict("unknown", 0.0, None, "", 0.0, turn, {})
    chosen = _some(len(lags), MOST_FITTED)
    fitted = shapes(lags[chosen], frame, step)
    for each in found[:3]:
        if abs(each.drift) > 3 * each.error:
            fitted += sawtooth(times[chosen], lags[chosen], frame, step, each)
    best: dict[str, Shape] = {}
    for shape in fitted:
        if shape.kind not in best or shape.score < best[shape.kind].score:
            best[shape.kind] = shape
    ordered = sorted(best.values(), key=lambda shape: shape.score)
    lead = ordered[1].score - ordered[0].score
    first = ordered[0]
    if "drift" in first.values:
        turn = next(each for each in found if each.drift == first.values["drift"])
    return Verdict(
        first.kind,
        _confidence(ordered, count),
        first,
        ordered[1].kind,
        lead,
        turn,
        {shape.kind: shape.score for shape in ordered},
    )


def within(lags: NDArray, frame: float) -> NDArray:
    """Return which readings lie about the densest stretch of 1.15 frames: a drift never leaves one frame.

    A quarter of a frame more on each side: where noise is cut off at the ends of the frame it pulls the line.
    """
    ordered = np.sort(lags)
    last = np.searchsorted(ordered, ordered + 1.15 * frame, side="right")
    begin = int((last - np.arange(len(ordered))).argmax())
    low = ordered[begin]
    found: NDArray = (lags >= low - frame / 4) & (lags <= low + 1.4 * frame)
    return found


def _some(count: int, most: int) -> NDArray:
    """Return the places of at most so many of some readings, chosen at random, in order."""
    if count <= most:
        return np.arange(count)
    return np.sort(np.random.RandomState(0).choice(count, most, replace=False))


def _confidence(ordered: list[Shape], count: int) -> float:
    """Return the chance of the best kind: its share of the tempered weights of all kinds."""
    least = ordered[0].score
    weights = [exp(-(shape.score - least) / 2 / TEMPERATURE) for shape in ordered if isfinite(shape.score)]
    share = 1 / sum(weights) if weights else 0.0
    return SUREST * share * min(1.0, 0.9 + 0.1 * count / ENOUGH)
