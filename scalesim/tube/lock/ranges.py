"""What else can come out: outcomes over ranges of a circuit's values, and how near the next one is.

A share is that of a grid over the ranges, evenly spaced (time constants by ratio), of those points that lock
on the standard signal: how much of what is thought possible gives an outcome, no chance of meeting it.

Definition of this project.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import product
from math import hypot

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync import SYNC_525, SYNC_625
from scalesim.core.sync_wave import Wave, interlaced_wave
from scalesim.tube.lock.circuit import Circuit, Clocked, Countdown, Edge, Flywheel, Oscillator, WithFilter
from scalesim.tube.lock.direct import thresholds
from scalesim.tube.lock.filter import filtered
from scalesim.tube.lock.landings import (
    OUTCOMES,
    History,
    Landing,
    Outcome,
    histories,
    landings,
    outcome_of,
    pair_of,
)

POINTS = {
    "least_width_us": 121,
    "clock_phase": 20,
    "natural_period": 14,
    "coupling": 3,
    "correction": 12,
}
"""How many values of a key are tried, evenly over its range."""

TOGETHER = {"time_constant_us": 8, "threshold_v": 14}
"""The same where a circuit has three."""

OF_OSCILLATOR = {"time_constant_us": 3}
"""The same of an oscillator, which is run field by field."""

ALONE = {"time_constant_us": 24, "threshold_v": 40, "clock_phase": 120}
"""The same where a circuit has one or two ranges."""

JUMP = 0.2
"""Lines by which L must change to count as another landing."""

_FINER, _PARTS = 2, 21

DRIFTS = (1, 2, 5, 10, 20)
"""Percent by which values may drift as a set warms up or ages: engineering judgement."""


@dataclass(frozen=True)
class Spread:
    """Outcomes over the ranges.

    Parameters:
        shares : outcome -> share of the grid, those that occur
        pairs : pair -> share of the grid, of those on one set
        n : points of the grid that lock on the standard signal
        lines : (lowest, highest) L of those that lock, None for none
    """

    shares: Mapping[Outcome, float]
    pairs: Mapping[str, float]
    n: int
    lines: tuple[float, float] | None


@dataclass(frozen=True)
class Margin:
    """How far a value is from the next landing.

    Parameters:
        key : that is changed alone; unit : of `by`
        by : the least change, less than 0 downward; to : L there, None for no lock
    """

    key: str
    unit: str
    by: float
    to: float | None


@dataclass(frozen=True)
class Border:
    """A drift that changes the outcome: `key` by `percent` gives L `to`, None for no lock."""

    key: str
    percent: float
    to: float | None


def grid_of(circuit: Circuit) -> dict[str, NDArray]:
    """Return key -> (points,): every combination of values within the ranges."""
    spans = circuit.spans
    more = OF_OSCILLATOR if isinstance(circuit, Oscillator) else ALONE if len(spans) < 3 else TOGETHER
    points = {**POINTS, **more}
    axes = [_axis(key, span, points[key]) for key, span in spans.items()]
    whole = np.array(list(product(*axes)))
    return {key: whole[:, k] for k, key in enumerate(spans)}


def _axis(key: str, span: tuple[float, float], count: int) -> NDArray:
    low, high = span
    if low == high:
        return np.array([low])
    if key == "clock_phase":  # a whole turn is none
        return low + (high - low) * (np.arange(count) + 0.5) / count
    return np.geomspace(low, high, count) if key == "time_constant_us" else np.linspace(low, high, count)


def spreads_of(wave: Wave, circuit: Circuit) -> tuple[Spread, ...]:
    """Return the outcomes over a circuit's ranges, one for each of its histories."""
    values = grid_of(circuit)
    works = np.isfinite(landings(standard_like(wave), circuit, values))
    kept = {key: each[works] for key, each in values.items()} if works.any() else values
    return tuple(spread_from(landings(wave, circuit, kept, each)) for each in histories(circuit))


def standard_like(wave: Wave) -> Wave:
    """Return the standard signal of a wave's system."""
    halves = wave.field_us / wave.line_us * 2
    return interlaced_wave(SYNC_525 if abs(halves - 525) < 50 else SYNC_625)


def spread_from(lines: NDArray) -> Spread:
    """Return the outcomes of some landings, NaN for no lock."""
    n, there = lines.size, lines[np.isfinite(lines)]
    told = [outcome_of(float(each)) for each in lines.ravel()]
    pairs = [pair_of(float(each)) for each in there]
    return Spread(
        {each: told.count(each) / n for each in OUTCOMES if each in told},
        {each: pairs.count(each) / n for each in sorted(set(pairs) - {""})},
        n,
        (float(there.min()), float(there.max())) if there.size else None,
    )


def margins(wave: Wave, circuit: Circuit, landing: Landing, history: History = "cold") -> tuple[Margin, ...]:
    """Return how far each value is from the next landing, in its own unit; none without a lock.

    A band of another landing narrower than the noise is passed over: nothing stays in it.
    """
    if landing.lines is None:
        return ()
    found = []
    for key, unit, scale, values, band in _walks(wave, circuit):
        at = float(getattr(circuit, key))
        lines = landings(wave, circuit, {key: values}, history)
        ends = _nearest(values, lines, at, landing.lines, band)
        if ends is None:
            continue
        for _ in range(_FINER):  # between the last value that lands alike and the first that does not
            between = np.linspace(*ends, _PARTS)
            alike = np.abs(landings(wave, circuit, {key: between}, history) - landing.lines) <= JUMP
            last = int(np.flatnonzero(alike)[-1]) if alike[0] else 0
            ends = float(between[last]), float(between[min(last + 1, _PARTS - 1)])
        to = float(landings(wave, circuit, {key: np.array([ends[1]])}, history)[0]) + 0.0
        found.append(Margin(key, unit, scale * (ends[1] - at), None if np.isnan(to) else to))
    return tuple(found)


def _walks(wave: Wave, circuit: Circuit) -> list[tuple[str, str, float, NDArray, float]]:
    """Return (key, unit, that unit in one of the key, values to try, narrowest band) of what can be moved."""
    walks: list[tuple[str, str, float, NDArray, float]] = []
    if isinstance(circuit, Edge):
        return [("least_width_us", "us", 1.0, np.arange(1.0, 60.0, 0.05), circuit.jitter_us)]
    if isinstance(circuit, Clocked | Countdown):
        period = wave.line_us * (1.0 if isinstance(circuit, Clocked) and circuit.clock == "line" else 0.5)
        phases = circuit.clock_phase + np.linspace(-0.5, 0.5, 401)
        walks.append(("clock_phase", "us", period, phases, circuit.jitter_us / period))
    if isinstance(circuit, Oscillator):
        walks.append(("natural_period", "% of a field", 100.0, np.arange(1.002, 1.2, 0.004), 0.0))
    elif isinstance(circuit, WithFilter) and not (isinstance(circuit, Clocked) and circuit.front == "level"):
        values = np.linspace(0.002, 0.998, 600) * circuit.swing_v
        walks.append(("threshold_v", "mV", 1000.0, values, circuit.noise_mv / 1000))
    return walks


def _nearest(
    values: NDArray, lines: NDArray, at: float, own: float, band: float
) -> tuple[float, float] | None:
    """Return the last value that lands alike and the first that does not, the nearer way; None for none."""
    other = ~(np.abs(lines - own) <= JUMP)  # NaN is another, too
    edges = np.flatnonzero(np.diff(np.concatenate([[0], other.astype(int), [0]])))
    best: tuple[float, float] | None = None
    for first, last in edges.reshape(-1, 2):
        if values[last - 1] - values[first] < band and first > 0 and last < len(values):
            continue
        up = values[first] >= at
        place = first if up else last - 1
        beside = at if not 0 <= place + (-1 if up else 1) < len(values) else values[place + (-1 if up else 1)]
        inside = max(at, beside) if up else min(at, beside)
        if best is None or abs(values[place] - at) < abs(best[1] - at):
            best = float(inside), float(values[place])
    return best


def borders(wave: Wave, circuit: Circuit, landing: Landing, history: History = "cold") -> tuple[Border, ...]:
    """Return, for every value with a range, the least drift of `DRIFTS` that gives another landing.

    That is another outcome at an L that jumps: one that slides past a limit of outcomes crosses no border.
    """
    found = []
    for key in circuit.spans:
        at = float(getattr(circuit, key))
        percents = np.array([sign * each for each in DRIFTS for sign in (-1.0, 1.0)])
        # a phase has no size of its own: its drift is a share of the period
        values = at + percents / 100 * (1.0 if key == "clock_phase" else at)
        if key == "natural_period":
            values = np.maximum(values, 1.0001)
        if key == "threshold_v" and isinstance(circuit, WithFilter):
            values = np.minimum(values, 0.999 * circuit.swing_v)
        lines = landings(wave, circuit, {key: values}, history)
        for percent, each in zip(percents, lines, strict=True):
            jumps = landing.lines is None or not abs(each - landing.lines) <= JUMP  # NaN is another, too
            if jumps and outcome_of(float(each)) != landing.outcome:
                found.append(Border(key, float(percent), None if np.isnan(each) else float(each)))
                break
    return tuple(found)


def jitter_lines(wave: Wave, circuit: Circuit, landing: Landing) -> float | None:
    """Return how much noise moves L from field to field, rms in lines; None without a lock.

    At a threshold it is noise over slope, both fields' together; a clock or a width has its own jitter. A
    flywheel averages it; an oscillator's is not modelled and is left out.
    """
    if landing.lines is None or len(landing.times_us) < 2:
        return None
    if isinstance(circuit, Edge | Clocked | Countdown):
        return hypot(circuit.jitter_us, circuit.jitter_us) / wave.line_us
    if not isinstance(circuit, WithFilter) or isinstance(circuit, Oscillator):
        return None
    found = filtered(wave, circuit.time_constant_us, circuit.order, circuit.ladder_ratio)
    raw = [t + at for t, at in zip(landing.times_us, wave.lines_us, strict=True)]
    slopes = [found.slope(each if each > found.edges_us[0] else each + wave.period_us) for each in raw]
    if min(slopes) <= 0:
        return None
    moved = [circuit.noise_mv / 1000 / circuit.swing_v / slope for slope in slopes]
    share = circuit.correction / (2 - circuit.correction) if isinstance(circuit, Flywheel) else 1.0
    return share * hypot(*moved) / wave.line_us


def hum_lines(wave: Wave, circuit: Circuit) -> float | None:
    """Return how far hum at a threshold moves L, lines peak to peak, its phase being any in each field."""
    if not isinstance(circuit, WithFilter) or isinstance(circuit, Oscillator) or circuit.hum_mv == 0:
        return None
    away = circuit.hum_mv / 2000
    values = np.clip(
        circuit.threshold_v + away * np.linspace(-1, 1, 41), 1e-6 * circuit.swing_v, 0.9999 * circuit.swing_v
    )
    found = filtered(wave, circuit.time_constant_us, circuit.order, circuit.ladder_ratio)
    times = thresholds(found, np.zeros(len(values), dtype=np.int64), values / circuit.swing_v)
    if times.shape[1] < 2 or np.isnan(times).any():
        return None
    apart = times[:, 1][:, None] - times[:, 0][None, :]
    return float((apart.max() - apart.min()) / wave.line_us)
