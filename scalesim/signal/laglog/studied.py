"""From a log to what it tells: the kind that fits best, unless the readings are like none."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.circle import turn_near
from scalesim.signal.laglog.shapes import WIDEST_NOISE
from scalesim.signal.laglog.steps import on_two_steps, step_of
from scalesim.signal.laglog.study import Study
from scalesim.signal.laglog.verdict import Verdict, verdict

_REGULAR = 0.02
MOST_ASTRAY = 0.3
"""Share of readings that fit none of the kinds, above which none is told."""
_THIRD = 0.08
"""Share of the readings that lie together off two levels, from which they are a third one."""
_HALF = 40
"""Readings in each half of a log from which their drifts are compared."""
_UNSTEADY, _LEAST_CHANGE = 6.0, 0.1
"""Standard errors, and share of the whole drift, by which they must differ to be told apart."""
_ALIKE, _SURELY = 0.6, 5.0
"""Ratio of von Neumann below which readings wander, and by how many standard errors it must be below 1."""


def study(
    times: NDArray | None,
    lags: NDArray,
    frame_ms: float,
    *,
    interval: float | None = None,
    step: float = 0.0,
) -> Study:
    """Return what a log tells.

    Parameters:
        times : (n,) s in any order, or None with an `interval` between rows
        lags : (n,) ms; nan where a row has no reading
        frame_ms : length of a frame
        step : of the instrument as it is known otherwise, ms
    """
    if times is None:
        times = np.arange(len(lags)) * (interval or 1.0)
    good = np.isfinite(times) & np.isfinite(lags)
    kept, read = times[good], lags[good]
    if len(kept) and (np.diff(kept) < 0).any():
        order = np.argsort(kept, kind="stable")
        kept, read = kept[order], read[order]
    kept = kept - kept[0] if len(kept) else kept
    step, regular = max(step_of(read), step), interval_of(kept)
    if len(read):
        low, five, middle, most, high = (float(v) for v in np.percentile(read, (0, 5, 50, 95, 100)))
    else:
        low = five = middle = most = high = float("nan")
    found = verdict(kept, read, frame_ms, step=step, interval=regular)
    left_out = int((~good).sum())
    made = Study(kept, read, frame_ms, left_out, step, regular, (low, five, middle, most, high), found)
    why = _unlike(made)
    if why is not None:
        return replace(made, found=Verdict("unknown", 0.0, None, "", 0.0, found.turn, found.scores, why))
    return made


def _unlike(made: Study) -> str | None:
    """Return why the kind that fits best is none after all, "" where no more is known; None where it is."""
    chosen = made.found.chosen
    if chosen is None:
        return None
    if (
        made.step_ms > WIDEST_NOISE * made.frame_ms
        and not made.equal
        and on_two_steps(made.lags, made.step_ms)
    ):
        return (
            f"the readings lie on two neighbouring steps of {made.step_ms:.2g} ms, within which lag may do "
            "anything: read it more finely, with a photodiode or a camera of more pictures a second"
        )
    if made.found.kind == "two-level" and (third := _third_level(made)):
        return f"it steps between more than two levels: {third} readings lie together off the two nearest"
    if made.astray.mean() > MOST_ASTRAY:
        return ""
    if made.drifts:
        return _unsteady(made)
    if made.found.kind in ("jitter", "uniform", "two-level") and wanders(_about(made)[~made.astray]):
        apart = float(np.median(np.abs(np.diff(made.lags))))
        return (
            f"it wanders: readings that follow each other differ by {apart:.2g} ms at the median, far less "
            "than all of them together, and no steady drift fits"
        )
    return None


def _about(made: Study) -> NDArray:
    """Return readings less the nearer of two levels, or as they are."""
    values = made.found.chosen.values if made.found.chosen else {}
    if made.found.kind != "two-level":
        return made.lags
    upper = made.lags > (values["low"] + values["high"]) / 2
    return made.lags - np.where(upper, values["high"], values["low"])


def _unsteady(made: Study) -> str | None:
    """Return that the halves of a log drift otherwise, by far more than their errors; else None."""
    turn, half = made.found.turn, made.count // 2
    if turn is None or half < _HALF:
        return None
    parts = (slice(0, half), slice(half, None))
    one, two = (
        turn_near(made.times[part], made.lags[part], made.frame_ms, turn.drift, made.step_ms)
        for part in parts
    )
    apart = abs(one.drift - two.drift)
    if not apart > _UNSTEADY * hypot(one.error, two.error) or apart < _LEAST_CHANGE * abs(turn.drift):
        return None
    told = [f"{1000 * each.drift:+.3g} \u00b1 {2000 * each.error:.2g} \u00b5s/s" for each in (one, two)]
    return (
        f"its drift is not steady: {told[0]} over the first half of the readings, {told[1]} over the second "
        "(two standard errors); log on until it is, as warmed-up clocks are"
    )


def _third_level(made: Study) -> int:
    """Return how many readings lie together off both of two levels, 0 for too few to be a third."""
    off, values = np.sort(made.lags[made.astray]), made.found.chosen.values if made.found.chosen else {}
    if not len(off):
        return 0
    wide = max(6 * values["spread"], 2 * made.step_ms)
    together = int((np.searchsorted(off, off + wide, side="right") - np.arange(len(off))).max())
    return together if together >= max(_THIRD * made.count, 5) else 0


def wanders(lags: NDArray) -> bool:
    """Tell whether readings that follow each other are more alike than chance would have them.

    Source: von Neumann's ratio (1941), mean squared successive difference over twice the variance: 1 for
    readings that do not depend on each other, with a standard error of one over the root of n.
    """
    if len(lags) < 3 or not (variance := float(lags.var())) > 0:
        return False
    ratio = float((np.diff(lags) ** 2).mean()) / (2 * variance)
    return ratio < min(_ALIKE, 1 - _SURELY / sqrt(len(lags)))


def interval_of(times: NDArray) -> float | None:
    """Return the seconds between readings that stand on a regular grid, gaps allowed; None for others."""
    steps = np.diff(times)
    steps = steps[steps > 0]
    if len(steps) < 2:
        return float(steps[0]) if len(steps) else None
    guess = float(np.median(steps))
    near = steps[np.abs(steps - guess) < 0.2 * guess]
    if len(near) < len(steps) / 4:
        return None
    guess = float(near.mean())
    # a refined step keeps its place over the whole log
    for _ in range(3):
        counts = np.round((times - times[0]) / guess)
        total = float(counts @ counts)
        guess = float(counts @ (times - times[0])) / total if total else guess
    off = (times - times[0]) / guess
    wander = np.abs(off - np.round(off))
    return guess if float(np.percentile(wander, 95)) < _REGULAR else None
