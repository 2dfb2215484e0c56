"""What a circuit looks at, as curves about the vertical syncs of both fields: for pictures.

x is in lines since the begin of the line in which the unmodified vertical sync begins. Nothing is decided
here: the instants come from `landings`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync_wave import Wave
from scalesim.tube.lock.circuit import Circuit, Clocked, Edge, Oscillator, WithFilter
from scalesim.tube.lock.filter import filtered

FROM_LINES, TO_LINES = -4.0, 7.0
_STEPS = 1200


@dataclass(frozen=True, eq=False)
class Curve:
    """What a circuit compares with a level, for each field.

    Parameters:
        label : of what is drawn, with its unit
        x : (points,) lines; y : per field, (points,)
        level : that it is compared with, None for none
        ticks : per field, lines at which a clock ticks, () for none
    """

    label: str
    x: NDArray
    y: tuple[NDArray, ...]
    level: float | None
    ticks: tuple[tuple[float, ...], ...] = ()

    def at(self, field: int, lines: float) -> float:
        """Return the value of a field's curve at a place."""
        return float(np.interp(lines, self.x, self.y[field]))


def sync_curve(wave: Wave) -> Curve:
    """Return sync itself: 1 where it is there."""
    x = np.linspace(FROM_LINES, TO_LINES, 3 * _STEPS)
    return Curve("sync", x, tuple(_sync(wave, x, k) for k in range(len(wave.lines_us))), None)


def curve_of(wave: Wave, circuit: Circuit, times_us: tuple[float, ...] = ()) -> Curve:
    """Return what a circuit looks at; `times_us` are the begins of its fields, when it locks."""
    x = np.linspace(FROM_LINES, TO_LINES, _STEPS)
    fields = range(len(wave.lines_us))
    if isinstance(circuit, Edge):
        y = tuple(_lasted(wave, x, k) for k in fields)
        return Curve("sync has lasted, \u00b5s", x, y, circuit.least_width_us)
    if isinstance(circuit, Clocked) and circuit.front == "level":
        x = np.linspace(FROM_LINES, TO_LINES, 3 * _STEPS)
        y = tuple(_sync(wave, x, k) for k in fields)
        return Curve("sync at the ticks", x, y, None, _ticks(wave, circuit))
    assert isinstance(circuit, WithFilter)
    found = filtered(wave, circuit.time_constant_us, circuit.order, circuit.ladder_ratio)
    volts = tuple(found.at(_within(wave, x, k, found.edges_us)) for k in fields)
    if isinstance(circuit, Oscillator):
        return _charge(wave, circuit, x, volts, times_us)
    level = circuit.threshold_v
    y = tuple(each * circuit.swing_v for each in volts)
    ticks = _ticks(wave, circuit) if hasattr(circuit, "clock_phase") else ()
    return Curve("filtered sync, V", x, y, level, ticks)


def _within(wave: Wave, x: NDArray, field: int, edges: NDArray) -> NDArray:
    """Return times within the two cycles for places of a field."""
    times = wave.lines_us[field] + x * wave.line_us
    return np.asarray(np.where(times < edges[0], times + wave.period_us, times))


def _sync(wave: Wave, x: NDArray, field: int) -> NDArray:
    begin, end = wave.cycles(2)
    times = _within(wave, x, field, begin[:1])
    pulse = np.clip(np.searchsorted(begin, times, side="right") - 1, 0, None)
    return np.asarray(((times >= begin[pulse]) & (times < end[pulse])).astype(float))


def _lasted(wave: Wave, x: NDArray, field: int) -> NDArray:
    begin, end = wave.cycles(2)
    times = _within(wave, x, field, begin[:1])
    pulse = np.clip(np.searchsorted(begin, times, side="right") - 1, 0, None)
    return np.asarray(np.where(times < end[pulse], times - begin[pulse], 0.0))


def _ticks(wave: Wave, circuit: Circuit) -> tuple[tuple[float, ...], ...]:
    whole = isinstance(circuit, Clocked) and circuit.clock == "line"
    every = 1.0 if whole else 0.5
    phase = float(getattr(circuit, "clock_phase", 0.0)) * every
    first = np.ceil((FROM_LINES - phase) / every) * every + phase
    own = tuple(np.arange(first, TO_LINES, every).tolist())
    return (own,) * len(wave.lines_us)


def _charge(
    wave: Wave, circuit: Oscillator, x: NDArray, volts: tuple[NDArray, ...], times_us: tuple[float, ...]
) -> Curve:
    """Return charge and coupled sync together, from the discharge a field before on."""
    natural = circuit.natural_period * wave.field_us
    charging = natural / np.log(circuit.charge / (circuit.charge - 1))
    y = []
    for field, own in enumerate(volts):
        fired = times_us[field] if times_us else 0.0
        before = fired - wave.field_us
        if times_us and len(times_us) > 1:
            last = (field - 1) % len(times_us)
            at, then = wave.lines_us[field], wave.lines_us[last]
            before = times_us[last] + then - at - (wave.period_us if then > at else 0.0)
        since = x * wave.line_us - before
        value = circuit.charge * (1 - np.exp(-since / charging)) + circuit.coupling * own
        y.append(np.where(x * wave.line_us <= fired, value, np.nan) if times_us else value)
    return Curve("charge and sync, of the discharge", x, tuple(y), 1.0)
