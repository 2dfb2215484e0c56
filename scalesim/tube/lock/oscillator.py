"""A relaxation oscillator that sync pulls in, field by field, until it repeats.

A capacitor charges as r = E (1 - e^(-(t - t0) / T)) since it was discharged at t0, and is discharged again
when r + k v reaches 1, v being filtered sync. T is such that without sync a field takes `natural_period` of
the signal's. It is locked when every field's discharge is near vertical sync and comes again a cycle later;
else it rolls, and where it happens to fire says nothing.

Source: textbook relaxation oscillator; structure and ranges from memory. Checked against
`scipy.integrate.solve_ivp` in `tests/external/test_vertical_circuits.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync_wave import Wave
from scalesim.tube.lock.field_windows import are_near, since_line
from scalesim.tube.lock.filter import Filtered

MOST_FIELDS = 80
STEADY_US = 1e-5
MOST_AWAY = 8
"""Fields in a row that may begin far from vertical sync before it counts as rolling."""

_TRIES = 60
_CLOSE_US = 1e-8


@dataclass(frozen=True, eq=False)
class Pull:
    """One oscillator on one filtered signal; see the module. `number` is the filter's."""

    found: Filtered
    natural_period: float
    coupling: float
    charge: float = 1.6
    number: int = 0

    @property
    def charging_us(self) -> float:
        """T, the time constant of charging."""
        return self.natural_period * self.found.wave.field_us / log(self.charge / (self.charge - 1))

    def times(self) -> NDArray | None:
        """Return (fields,) microseconds since each field's line when it is locked, None when it is not."""
        wave = self.found.wave
        fields = len(wave.verticals_us)
        fired, away = [self._from(wave.verticals_us[0])], 0
        while len(fired) < MOST_FIELDS and away < MOST_AWAY:
            fired.append(self._from(fired[-1]))
            away = 0 if _near(wave, fired[-1]) else away + 1
            if len(fired) > 2 * fields and abs(fired[-1] - fired[-1 - fields] - wave.period_us) < STEADY_US:
                return _by_field(wave, fired[-fields:])
        return None

    def _from(self, before: float) -> float:
        """Return when it fires next after it fired at a time."""
        wave, edges = self.found.wave, self.found.edges_us
        whole = np.floor((before - edges[0]) / wave.period_us) * wave.period_us
        since = before - whole
        # with sync at its highest it cannot fire before
        soonest = -self.charging_us * log(1 - (1 - self.coupling) / self.charge)
        first = max(int(np.searchsorted(edges, since + soonest, side="right")) - 1, 0)
        last = int(np.searchsorted(edges, since + self.natural_period * wave.field_us)) + 2
        last = min(last, len(edges) - 1)
        ends = edges[first + 1 : last + 1]
        reach = self.charge * (1 - np.exp((since - ends) / self.charging_us))
        reach += self.coupling * self.found.volts[first + 1 : last + 1, self.number]
        above = np.flatnonzero(reach >= 1)
        if not len(above):
            return before + self.natural_period * wave.field_us
        return float(whole + self._within(first + int(above[0]), since))

    def _within(self, interval: int, since: float) -> float:
        """Return when it fires in an interval at whose end it would have, by Newton's method."""
        begin, end = self.found.edges_us[interval], self.found.edges_us[interval + 1]
        drive = float(interval % 2 == 0)
        taus = self.found.taus[:, self.number].tolist()
        weights = self.found.weights[:, self.number].tolist()
        states = self.found.states[interval, :, self.number].tolist()
        parts = [(w * (x - drive), tau) for w, x, tau in zip(weights, states, taus, strict=True)]
        low, high = 0.0, float(end - begin)
        at = 0.0
        for _ in range(_TRIES):
            left = self.charge * exp((since - begin - at) / self.charging_us)
            fading = [(part * exp(-at / tau), tau) for part, tau in parts]
            over = self.charge - left - 1 + self.coupling * (drive + sum(part for part, _ in fading))
            rise = left / self.charging_us - self.coupling * sum(part / tau for part, tau in fading)
            low, high = (at, high) if over < 0 else (low, at)
            step = at - over / rise if rise > 0 else at
            before, at = at, step if low < step < high else (low + high) / 2
            if abs(at - before) < _CLOSE_US:
                break
        return float(begin + at)


def _near(wave: Wave, fired: float) -> bool:
    """Tell whether a time is near any vertical sync."""
    return any(bool(are_near(wave, since_line(wave, fired, k))) for k in range(len(wave.verticals_us)))


def _by_field(wave: Wave, fired: list[float]) -> NDArray | None:
    """Return the times by field; None when they are not one near each vertical sync."""
    times = np.full(len(wave.verticals_us), np.nan)
    for each in fired:
        since = np.array([float(since_line(wave, each, field)) for field in range(len(times))])
        near = np.flatnonzero(are_near(wave, since))
        if len(near) != 1:
            return None
        times[near[0]] = since[near[0]]
    return None if np.isnan(times).any() else times
