"""A relaxation oscillator that sync pulls in, field by field, until it repeats.

A capacitor charges as r = E (1 - e^(-(t - t0) / T)) since it was discharged at t0, and is discharged again when
r + k v reaches 1, v being filtered sync. T is such that without sync a field takes `natural_period` of the
signal's. It is locked when every field's discharge is near vertical sync and comes again a cycle later; else it
rolls, and where it happens to fire says nothing.

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

MOST_FIELDS = 400
STEADY_US = 1e-5
_HALVINGS = 60


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
        fired = [self._from(wave.verticals_us[0])]
        while len(fired) < MOST_FIELDS:
            fired.append(self._from(fired[-1]))
            if len(fired) > 2 * fields and abs(fired[-1] - fired[-1 - fields] - wave.period_us) < STEADY_US:
                return _by_field(wave, fired[-fields:])
        return None

    def _from(self, before: float) -> float:
        """Return when it fires next after it fired at a time."""
        wave, edges = self.found.wave, self.found.edges_us
        whole = np.floor((before - edges[0]) / wave.period_us) * wave.period_us
        since = before - whole
        first = int(np.searchsorted(edges, since + 0.3 * wave.field_us))
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
        """Return when it fires in an interval at whose end it is over the voltage of discharge."""
        begin, end = self.found.edges_us[interval], self.found.edges_us[interval + 1]
        drive = float(interval % 2 == 0)
        taus = self.found.taus[:, self.number].tolist()
        weights = self.found.weights[:, self.number].tolist()
        states = self.found.states[interval, :, self.number].tolist()
        parts = [w * (x - drive) for w, x in zip(weights, states, strict=True)]
        low, high = 0.0, float(end - begin)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            volts = drive + sum(p * exp(-middle / tau) for p, tau in zip(parts, taus, strict=True))
            charged = self.charge * (1 - exp((since - begin - middle) / self.charging_us))
            low, high = (middle, high) if charged + self.coupling * volts < 1 else (low, middle)
        return float(begin + high)


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
