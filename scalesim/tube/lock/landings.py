"""Landings: where a circuit makes a display draw the second field, for one set of values or many at once.

With both begins since the line in which the unmodified vertical sync begins, and lines staying where they
are, the second field lands at L = 1 - (t2 - t1) / H lines below the first (progressive fields: (t1 - t2) /
H). L = 1/2 interlaces; 0 and 1 put both fields on one set of lines, and pair other lines of the frame.

Definition of this project.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync import SYNC_525, SYNC_625
from scalesim.core.sync_wave import Wave, interlaced_wave
from scalesim.tube.lock import direct
from scalesim.tube.lock.circuit import Circuit, Clocked, Countdown, Edge, Flywheel, Oscillator, WithFilter
from scalesim.tube.lock.counted import countdown, flywheel
from scalesim.tube.lock.filter import filtered
from scalesim.tube.lock.oscillator import Pull

History = Literal["cold", "switched"]
"""Started on the signal, or switched over to it from the standard signal."""

Outcome = Literal["one set", "uneven", "two sets", "no lock"]
OUTCOMES: tuple[Outcome, ...] = ("one set", "uneven", "two sets", "no lock")

ONE_SET, TWO_SETS = 0.1, 0.4
"""Distance of L from a whole number: below the first it is one set of lines, from the second on it is two."""

Values = Mapping[str, NDArray]


@dataclass(frozen=True)
class Landing:
    """What one circuit makes of one signal.

    Parameters:
        lines : L, None when it does not lock
        times_us : per field, its begin since the line of the unmodified vertical sync
        why : why it does not lock
        history : what went before, "" where that makes no difference
        line_us : length of a line, 0 where it is not known
    """

    lines: float | None
    times_us: tuple[float, ...] = ()
    why: str = ""
    history: History | Literal[""] = ""
    line_us: float = 0.0

    @property
    def outcome(self) -> Outcome:
        """How the fields lie."""
        return outcome_of(self.lines)

    @property
    def pair(self) -> str:
        """Which frame lines share a scan line: "down" 2k and 2k+1, "up" 2k and 2k-1; "" where none do."""
        return pair_of(self.lines)


def outcome_of(lines: float | None) -> Outcome:
    """Return how fields lie that land so far apart."""
    if lines is None or not np.isfinite(lines):
        return "no lock"
    away = abs(lines - round(lines))
    return "one set" if away < ONE_SET else "two sets" if away >= TWO_SETS else "uneven"


def pair_of(lines: float | None) -> str:
    """Return which frame lines share a scan line, "" where none do."""
    if outcome_of(lines) != "one set" or lines is None:
        return ""
    whole = round(lines)
    return {0: "down", 1: "up"}.get(whole, f"{1 - 2 * whole:+d}")


def land(wave: Wave, circuit: Circuit, history: History = "cold") -> Landing:
    """Return where a circuit lands the fields of a signal at its own values."""
    times, why = _times(wave, circuit, {}, 1, history)
    told: History | Literal[""] = history if isinstance(circuit, Countdown) else ""
    if np.isnan(times[0]).any():
        return Landing(None, why=why or "it does not settle", history=told)
    lines, begins = float(_lines(wave, times)[0]), tuple(times[0].tolist())
    return Landing(lines, begins, history=told, line_us=wave.line_us)


def histories(circuit: Circuit) -> tuple[History, ...]:
    """Return the histories that can make a difference to a circuit."""
    return ("cold", "switched") if isinstance(circuit, Countdown) else ("cold",)


def landings(wave: Wave, circuit: Circuit, values: Values, history: History = "cold") -> NDArray:
    """Return L for many sets of values at once, (points,), NaN where it does not lock.

    Parameters:  values : key -> (points,); keys left out are the circuit's own
    """
    count = len(next(iter(values.values())))
    return _lines(wave, _times(wave, circuit, values, count, history)[0])


def _lines(wave: Wave, times: NDArray) -> NDArray:
    if times.shape[1] < 2:
        return np.where(np.isnan(times[:, 0]), np.nan, 0.0)
    if wave.recorded:  # which field comes first is not known either: half a line is half a line
        return np.asarray(np.mod(0.25 - (times[:, 1] - times[:, 0]) / wave.line_us, 1.0) - 0.25)
    interlaced = wave.lines_us[1] != wave.verticals_us[1]
    return np.asarray((1.0 if interlaced else 0.0) - (times[:, 1] - times[:, 0]) / wave.line_us) + 0.0


def _times(wave: Wave, circuit: Circuit, values: Values, count: int, history: History) -> tuple[NDArray, str]:
    """Return (points, fields) begins, and why there is none when there is one point."""

    def of(key: str) -> NDArray:
        return np.asarray(values.get(key, np.full(count, getattr(circuit, key))), dtype=np.float64)

    if isinstance(circuit, Edge):
        times, reasons = direct.widths(wave, of("least_width_us"))
        return times, reasons[0]
    if isinstance(circuit, Clocked) and circuit.front == "level":
        return _sampled(wave, circuit, of("clock_phase"))
    assert isinstance(circuit, WithFilter)
    taus, which = np.unique(of("time_constant_us"), return_inverse=True)
    found = filtered(wave, taus, circuit.order, circuit.ladder_ratio)
    if isinstance(circuit, Oscillator):
        each = zip(which, of("natural_period"), of("coupling"), of("charge"), strict=True)
        pulled = [Pull(found, float(n), float(k), float(e), int(w)).times() for w, n, k, e in each]
        nothing = np.full(len(wave.verticals_us), np.nan)
        times = np.array([nothing if one is None else one for one in pulled])
        return times, "it rolls: sync does not pull it in"
    levels = of("threshold_v") / of("swing_v")
    raw = direct.thresholds(found, which, levels)
    why = direct.why_no_threshold(found, float(levels[0])) if count == 1 and np.isnan(raw[0]).any() else ""
    if isinstance(circuit, Flywheel):
        nominal = np.array(wave.verticals_us) - np.array(wave.lines_us)
        return flywheel(raw, nominal, of("correction")), why
    if isinstance(circuit, Clocked):
        every = _every(wave, circuit)
        return direct.ticks(raw, (of("clock_phase") * every)[:, None], every), why
    if isinstance(circuit, Countdown):
        return _counted(wave, circuit, raw, (found.taus[0], which, levels, of("clock_phase")), history), why
    return raw, why


def _every(wave: Wave, circuit: Clocked) -> float:
    return wave.line_us * (1.0 if circuit.clock == "line" else 0.5)


def _sampled(wave: Wave, circuit: Clocked, phases: NDArray) -> tuple[NDArray, str]:
    every = _every(wave, circuit)
    found = [direct.levels_on_ticks(wave, float(phase) * every, every) for phase in phases]
    return np.array([times for times, _ in found]), found[0][1]


def _counted(
    wave: Wave,
    circuit: Countdown,
    raw: NDArray,
    front: tuple[NDArray, NDArray, NDArray, NDArray],
    history: History,
) -> NDArray:
    """Return the begins of a countdown, whose front found vertical sync at `raw`."""
    taus, which, levels, phases = front
    half = wave.line_us / 2
    halves = round(wave.field_us / half)
    system = SYNC_525 if abs(halves - 525) < 50 else SYNC_625
    standard = interlaced_wave(system)
    before = filtered(standard, taus, circuit.order, circuit.ladder_ratio)
    warm = direct.thresholds(before, which, levels)
    lines = np.array(wave.lines_us)
    times = np.full_like(raw, np.nan)
    for k in np.flatnonzero(~np.isnan(raw).any(axis=1) & ~np.isnan(warm).any(axis=1)):
        ticks = [_half_lines(t + at, half, phases[k]) for t, at in zip(raw[k], lines, strict=True)]
        first = _half_lines(warm[k, 0] + standard.lines_us[0], half, phases[k])
        own = first + _since_standard(wave, ticks, first)
        counted = countdown(
            tuple(ticks),
            own,
            round(wave.period_us / half),
            system.lines,
            circuit.rule,
            circuit.window,
            circuit.fields_in,
            circuit.misses_out,
            history == "switched",
        )
        if counted is not None:
            times[k] = np.array(counted[0]) * half + phases[k] * half - lines
    return times


def _since_standard(wave: Wave, ticks: list[int], first: int) -> int:
    """Return by how many half lines the standard signal, left running, is ahead of where it is reckoned from.

    0 but for a record, whose time begins anywhere: there the standard signal had its fields where the record
    has them, and the field that still begins where the standard's does tells which.
    """
    if not wave.recorded:
        return 0
    half = wave.line_us / 2
    fields = round(wave.period_us / half) / len(ticks)
    places = [round(at / half) for at in wave.verticals_us]
    stays = next((k for k, at in enumerate(places) if ticks[k] == first + at), 0)
    return places[stays] - floor(stays * fields)


def _half_lines(time_us: float, half: float, phase: float) -> int:
    """Return the number of the first half line, moved by a phase, at or after a time."""
    return -floor(-(time_us / half - phase) + 1e-9)
