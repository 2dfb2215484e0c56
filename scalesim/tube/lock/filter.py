"""Filtered sync, exactly: the voltage of an RC filter on a waveform of pulses, and where it crosses a level.

First order: v' = (u - v) / tau, u being 1 within a pulse. A ladder R, C, mR, C/m has 1 / (1 + a s + tau^2
s^2) with a = tau (2 + 1/m), that is two such filters in parallel, of the time constants (a +- sqrt(a^2 - 4
tau^2)) / 2 and weights tau_i over their difference. Between two edges everything is a sum of exponentials,
so nothing is sampled: the steady state of a cycle is closed, and a crossing is found within the interval
that holds it.

Voltages are shares of the swing. Source: textbook network theory; checked against `scipy.integrate.solve_ivp`
and against a circuit simulator in `tests/external/test_vertical_circuits.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync_wave import Wave

_HALVINGS = 60
_CYCLES = 2
"""Cycles that are laid in a row, so that every field has its time before and after it."""


def modes(tau: float | NDArray, order: int = 1, ratio: float = 1.0) -> tuple[NDArray, NDArray]:
    """Return time constants and weights, (modes, ...) each, of a filter of one or two sections."""
    tau = np.asarray(tau, dtype=np.float64)
    if order == 1:
        return tau[None], np.ones_like(tau)[None]
    a = tau * (2 + 1 / ratio)
    root = np.sqrt(a * a - 4 * tau * tau)
    slow, fast = (a + root) / 2, (a - root) / 2
    return np.stack([slow, fast]), np.stack([slow / root, -fast / root])


@dataclass(frozen=True, eq=False)
class Filtered:
    """Filtered sync over two cycles, for one filter or for many at once.

    Parameters:
        wave : of sync
        taus, weights : (modes, filters), see `modes`
    """

    wave: Wave
    taus: NDArray
    weights: NDArray

    @cached_property
    def edges_us(self) -> NDArray:
        """Edges, two for a pulse, and the end; (intervals + 1,). Even intervals are pulses."""
        begin, end = self.wave.cycles(_CYCLES)
        return np.append(np.stack([begin, end], axis=1).ravel(), begin[0] + _CYCLES * self.wave.period_us)

    @cached_property
    def states(self) -> NDArray:
        """Each mode's own voltage at every edge, in the steady state; (intervals + 1, modes, filters)."""
        count = 2 * len(self.wave.begin_us)
        length = np.diff(self.edges_us[: count + 1])
        kept = np.exp(-length[:, None, None] / self.taus)
        driven = (np.arange(count) % 2 == 0)[:, None, None] * (1 - kept)
        found = np.empty((count + 1, *self.taus.shape))
        found[0] = 0.0
        for k in range(count):
            np.multiply(found[k], kept[k], out=found[k + 1])
            found[k + 1] += driven[k]
        # what is left of the first state after a cycle is known, so the state that repeats is, too
        left = np.cumprod(kept, axis=0)
        first = found[-1] / (1 - left[-1])
        found[0] = first
        found[1:] += first * left
        return np.concatenate([found[:-1]] * _CYCLES + [found[-1:]])

    @cached_property
    def volts(self) -> NDArray:
        """The voltage at every edge, (intervals + 1, filters)."""
        return np.asarray((self.states * self.weights).sum(axis=1))

    @cached_property
    def crests(self) -> tuple[NDArray, NDArray]:
        """When and how high the voltage is highest within every interval; (intervals, filters) each.

        With one section that is at an edge. A ladder goes on rising when a pulse has ended.
        """
        length = np.diff(self.edges_us)[:, None]
        begin, end = self.volts[:-1], self.volts[1:]
        at = np.where(end >= begin, length, 0.0)
        high = np.maximum(begin, end)
        if len(self.taus) == 1:
            return at, high
        drive = (np.arange(len(length)) % 2 == 0)[:, None, None]
        parts = self.weights * (self.states[:-1] - drive)  # v = u + sum parts e^(-t / tau)
        slow, fast = self.taus
        with np.errstate(divide="ignore", invalid="ignore"):
            inner = np.log(-parts[:, 1] * slow / (parts[:, 0] * fast)) / (1 / fast - 1 / slow)
            value = drive[:, 0] + parts[:, 0] * np.exp(-inner / slow) + parts[:, 1] * np.exp(-inner / fast)
        inside = (inner > 0) & (inner < length) & (value > high)
        return np.where(inside, inner, at), np.where(inside, value, high)

    def at(self, times_us: NDArray, filter_: int = 0) -> NDArray:
        """Return one filter's voltage at some times within the two cycles."""
        k = np.clip(np.searchsorted(self.edges_us, times_us, side="right") - 1, 0, len(self.edges_us) - 2)
        gone = times_us - self.edges_us[k]
        drive = (k % 2 == 0).astype(float)
        found = drive.copy()
        for tau, weight, state in zip(
            self.taus[:, filter_], self.weights[:, filter_], self.states[k, :, filter_].T, strict=True
        ):
            found += weight * (state - drive) * np.exp(-gone / tau)
        return found

    def slope(self, time_us: float, filter_: int = 0) -> float:
        """Return one filter's rise at a time, of the swing a microsecond."""
        k = int(np.clip(np.searchsorted(self.edges_us, time_us, side="left") - 1, 0, len(self.edges_us) - 2))
        gone, drive = time_us - self.edges_us[k], float(k % 2 == 0)
        tau = self.taus[:, filter_]
        parts = self.weights[:, filter_] * (drive - self.states[k, :, filter_])
        return float((parts / tau * np.exp(-gone / tau)).sum())

    def crossing(self, interval: NDArray, level: NDArray, filter_: NDArray) -> NDArray:
        """Return when the voltage first rises to a level within an interval whose crest is at least that.

        Parameters:  interval, level, filter_ : (n,) each
        Returns: (n,) microseconds; the interval's begin where it is above from the start
        """
        begin = self.edges_us[interval]
        drive = (interval % 2 == 0).astype(float)
        states = self.states[interval, :, filter_]
        taus, weights = self.taus[:, filter_].T, self.weights[:, filter_].T
        if taus.shape[1] == 1:
            left = np.clip((drive - states[:, 0]) / np.where(drive > level, drive - level, 1.0), 1.0, None)
            return np.asarray(begin + taus[:, 0] * np.log(left))
        low, high = np.zeros_like(begin), self.crests[0][interval, filter_]
        parts = weights * (states - drive[:, None])
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            below = drive + (parts * np.exp(-middle[:, None] / taus)).sum(axis=1) < level
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        return np.asarray(begin + high)


def filtered(wave: Wave, tau: float | NDArray, order: int = 1, ratio: float = 1.0) -> Filtered:
    """Return filtered sync for one time constant or an array of them, microseconds."""
    taus, weights = modes(np.atleast_1d(np.asarray(tau, dtype=np.float64)), order, ratio)
    return Filtered(wave, taus, weights)
