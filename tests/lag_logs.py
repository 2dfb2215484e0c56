"""Synthetic lag logs with known truth: NumPy and SciPy only, nothing of the project.

The sawtooth is `scipy.signal.sawtooth` (SciPy's own, period 2 pi, from -1 to 1).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import sawtooth

KINDS = ("constant", "jitter", "uniform", "two-level", "drift", "drift+jitter")


@dataclass(frozen=True, eq=False)
class Log:
    """A log and its truth: drift in ms per s (0 for none), width of jitter in ms, visible or not."""

    kind: str
    times: NDArray
    lags: NDArray
    rate: float
    drift: float
    noise: float
    visible: bool
    base: float
    start: float


def made(random: np.random.RandomState, kind: str, minutes: float, rate: float, every: float = 1.0) -> Log:
    """Return one log: readings every `every` s (to 1 ms), 5 % missing, 2 % astray."""
    frame = 1000 / rate
    times = np.arange(0, 60 * minutes, every)
    times = times[random.uniform(size=len(times)) > 0.05]
    n = len(times)
    noise = float(np.exp(random.uniform(np.log(0.05), np.log(0.6))))
    base, start = random.uniform(5, 60), random.uniform(0, frame)
    drift, visible = 0.0, True
    if kind == "constant":
        ideal = np.zeros(n)
    elif kind == "jitter":
        width = random.uniform(0.2, 0.65) * frame
        ideal = random.uniform(0, width, n) if random.uniform() < 0.7 else random.normal(0, width / 3, n)
    elif kind == "uniform":
        ideal = random.uniform(0, frame, n)
    elif kind == "two-level":
        apart = frame if random.uniform() < 0.3 else random.uniform(0.25, 1.5) * frame
        if random.uniform() < 0.5:
            high = random.uniform(size=n) < random.uniform(0.1, 0.9)
        else:
            high = np.cumsum(random.uniform(size=n) < random.uniform(1, 8) / n) % 2 == 1
        ideal = apart * high
        visible = max(3, 0.05 * n) <= high.sum() <= n - max(3, 0.05 * n) and apart > 5 * noise
    else:
        drift = float(np.exp(random.uniform(np.log(0.001), np.log(2.0)))) * random.choice([-1, 1])
        turn = 2 * np.pi * (start + drift * times) / frame
        ideal = (sawtooth(turn) + 1) / 2 * frame
        visible = abs(drift) * times[-1] > frame
        if kind == "drift+jitter":
            ideal = ideal + random.uniform(0, random.uniform(0.15, 0.5) * frame, n)
    lags = base + ideal + random.normal(0, noise, n)
    astray = random.uniform(size=n) < 0.02
    lags[astray] += random.uniform(-2, 2, astray.sum()) * frame
    return Log(kind, times, np.round(lags, 3), rate, drift, noise, bool(visible), base, start)


def stepped(random: np.random.RandomState, step: float, share: float, drift: float, minutes: float) -> Log:
    """Return a log of drift read by an instrument of a step (ms), with noise of a share of the step.

    Every other log at random times; 5 % missing, 2 % astray. Parameters:  drift : ms per s
    """
    frame = 1001 / 60
    count = round(60 * minutes)
    times = np.arange(count) * 1.0 if random.uniform() < 0.5 else np.sort(random.uniform(0, count, count))
    times = times[random.uniform(size=count) > 0.05]
    base, start = random.uniform(5, 60), random.uniform(0, frame)
    ideal = (sawtooth(2 * np.pi * (start + drift * times) / frame) + 1) / 2 * frame
    lags = base + ideal + random.normal(0, share * step, len(times))
    astray = random.uniform(size=len(times)) < 0.02
    lags[astray] += random.uniform(-2, 2, astray.sum()) * frame
    lags = np.round(np.round(lags / step) * step, 6)
    return Log("drift", times, lags, 1000 / frame, drift, share * step, True, base, start)
