"""Drift on the circle: lag modulo one frame turns steadily where two clocks drift.

A lag of ``L + (p + d t mod P)`` is, as an angle ``2 pi lag/P``, one that turns by ``2 pi d/P`` a second,
however often it wraps. The strongest turn is the highest value of
``R(d) = |mean exp(2 pi i (lag - d t)/P)|``, found by one Fourier transform; regression on the circle with
Tukey's weights refines it.

Source: Mardia and Jupp, Directional Statistics (the mean resultant length R); Tukey's biweight with its usual
constant 4.685.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil, sqrt

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.laglog.stepped import COARSE, line_of

FASTEST_MS_PER_S = 5.0
"""Fastest drift that is looked for, ms per s: pairs of nominally equal rates differ by 1.9 at most."""
_FINEST_S = 0.4
_MOST_BINS = 1 << 19
_OVERSAMPLED = 4
_PEAKS = 4
_OPPOSITE = 1 / 8
"""Part of the circle, opposite the line, in which readings are counted as half a frame away."""
_FEW_OPPOSITE = 0.15
"""Of what readings all round would have there: fewer do not pull a line."""
MOST_TOLD = 3
"""Drifts that are returned."""
_TUKEY = 4.685
_SMALL_SAMPLE = 1.1
"""The weights make the spread look a little smaller than it is (findings on 2500 synthetic logs)."""


@dataclass(frozen=True, eq=False)
class Turn:
    """A steady drift.

    Parameters:
        drift : ms per s, above 0 where the lag rises; error : its standard error
        at_start : lag modulo the frame at time 0, ms, 0..frame
        rest : (n,) what is left of each reading, ms, -frame/2..frame/2
        spread : robust standard deviation of what is left, ms
    """

    drift: float
    error: float
    at_start: float
    rest: NDArray
    spread: float


def wrapped(values: NDArray, frame: float) -> NDArray:
    """Return values modulo a frame, as -frame/2..frame/2."""
    found: NDArray = values - frame * np.round(values / frame)
    return found


def turns(
    times: NDArray, lags: NDArray, frame: float, *, interval: float | None, step: float = 0.0
) -> list[Turn]:
    """Return the most likely drifts, the strongest first.

    Parameters:
        times : seconds, rising; lags : ms; frame : ms
        interval : s between the readings where that is regular, which bounds what drift can be told
        step : of the readings, ms
    """
    fastest = FASTEST_MS_PER_S
    if interval is not None:
        fastest = min(fastest, frame / (2 * interval))
    guesses = _peaks(times, lags, frame, fastest, interval)
    found = [_refined(times, lags, frame, guess, step) for guess in (*guesses, 0.0)]
    unlike: list[Turn] = []
    for each in sorted(found, key=lambda turn: turn.spread):
        if all(abs(each.drift - other.drift) > 3 * (each.error + other.error) for other in unlike):
            unlike.append(each)
    settled = (_all_round(times, each, frame) for each in unlike[:MOST_TOLD])
    return [_between_steps(times, each, frame, step) for each in settled]


def turn_near(times: NDArray, lags: NDArray, frame: float, drift: float, step: float) -> Turn:
    """Return the drift nearest to a guess, ms per s, of some of a log's readings; times in s, rising."""
    found = _all_round(times, _refined(times, lags, frame, drift, step), frame)
    return _between_steps(times, found, frame, step)


def _between_steps(times: NDArray, turn: Turn, frame: float, step: float) -> Turn:
    """Return a drift as its passages from step to step tell it, where no noise parts the steps."""
    kept = np.abs(turn.rest) <= 3 * step
    if kept.sum() < 3 or step <= COARSE * float(np.sqrt(np.mean(turn.rest[kept] ** 2))):
        return turn
    line = line_of(times, turn.rest, step, 2 * frame, turn.error if np.isfinite(turn.error) else 0.0)
    rest = wrapped(turn.rest - line.level - line.slope * (times - line.middle), frame)
    begun = (turn.at_start + line.level - line.slope * line.middle) % frame
    spread = 1.4826 * float(np.median(np.abs(rest)))
    return replace(
        turn, drift=turn.drift + line.slope, error=line.error, at_start=begun, rest=rest, spread=spread
    )


def _peaks(
    times: NDArray, lags: NDArray, frame: float, fastest: float, interval: float | None
) -> list[float]:
    """Return the drifts at the highest values of R, ms per s."""
    length = float(times[-1] - times[0])
    if length <= 0:
        return []
    bin_s = _FINEST_S if interval is None else interval / ceil(interval / _FINEST_S)
    places = np.round((times - times[0]) / bin_s).astype(np.int64)
    within = places < _MOST_BINS
    count = int(places[within].max()) + 1
    angles = np.exp(2j * np.pi * lags[within] / frame)
    bins = np.bincount(places[within], angles.real, count) + 1j * np.bincount(
        places[within], angles.imag, count
    )
    from scipy.fft import fft, fftfreq, next_fast_len

    size = next_fast_len(_OVERSAMPLED * count)
    strength = np.abs(fft(bins, size))
    drifts = fftfreq(size, bin_s) * frame
    strength[np.abs(drifts) > fastest * (1 + 1e-9)] = 0
    found: list[float] = []
    apart = 1.5 * frame / max(length, bin_s)
    for _ in range(_PEAKS):
        best = int(strength.argmax())
        if strength[best] <= 0:
            break
        found.append(float(drifts[best]))
        strength[np.abs(drifts - drifts[best]) < apart] = 0
    return found


def _refined(times: NDArray, lags: NDArray, frame: float, drift: float, step: float) -> Turn:
    """Return the drift nearest to a guess by regression on the circle."""
    middle = float(times.mean())
    since = times - middle
    weights = np.ones(len(times))
    level = _mean_angle(lags - drift * since, frame)
    # readings far from the middle lever most: begin with those near it, where a wrong guess does no harm
    for _ in range(12):
        rest = wrapped(lags - drift * since - level, frame)
        # readings on the next step are no strays, however few they are
        spread = max(1.4826 * float(np.median(np.abs(rest))), step / 2, 1e-6)
        weights = np.clip(1 - (rest / (_TUKEY * spread)) ** 2, 0, None) ** 2
        total = weights.sum()
        mean = (weights @ since) / total
        about = since - mean
        power = weights @ about**2
        slope = (weights @ (about * rest)) / power if power > 0 else 0.0
        drift += float(slope)
        level += float(weights @ rest / total - slope * mean)
        if abs(slope) * max(np.abs(since).max(), 1e-9) < 1e-7 * frame:
            break
    rest = wrapped(lags - drift * since - level, frame)
    spread = 1.4826 * float(np.median(np.abs(rest)))
    kept = weights > 0
    deviation = sqrt(float(weights @ rest**2) / max(float(weights.sum()) - 2, 1.0))
    reach = float(weights @ (since - (weights @ since) / weights.sum()) ** 2)
    error = (
        _SMALL_SAMPLE * (1 + 3 / len(times)) * max(deviation, 1e-6) * _alike(rest[kept]) / sqrt(reach)
        if reach > 0 and kept.sum() > 2
        else np.inf
    )
    return Turn(drift, error, (level - drift * middle) % frame, rest, spread)


def _alike(rest: NDArray) -> float:
    """Return by how much neighbours that are alike make a slope less sure than independent ones would.

    Steps of an instrument, or lag that wanders, leave less in n readings than n tell: by the square root of
    (1 + r) / (1 - r), r being the correlation of neighbours (of a first-order autoregression; Bartlett 1946).
    One that chance explains counts as none.
    """
    power = float(rest @ rest)
    if len(rest) < 3 or not power > 0:
        return 1.0
    r = float(rest[1:] @ rest[:-1]) / power
    return sqrt((1 + r) / (1 - r)) if 3 / sqrt(len(rest)) < r < 1 else 1.0


def _all_round(times: NDArray, turn: Turn, frame: float) -> Turn:
    """Return a drift whose readings lie all round the circle, by their sines, which have no end to wrap at.

    Half a frame off the line a reading is above it as much as below; where many are, regression pulls the
    line towards where it began. The sum of sines of what is left is 0 where the mean resultant is greatest;
    the error is that of an M-estimate.
    Source: Mardia and Jupp, Directional Statistics (regression of von Mises variables); Huber 1967.
    """
    if float((np.abs(turn.rest) > frame / 2 * (1 - _OPPOSITE)).mean()) < _OPPOSITE * _FEW_OPPOSITE:
        return turn
    since = times - times.mean()
    power = float(since @ since)
    slope, level, unit = 0.0, 0.0, frame / (2 * np.pi)
    for _ in range(30):
        angle = (turn.rest - slope * since - level) / unit
        gain = max(float(np.cos(angle).mean()), _OPPOSITE)
        more = unit * float(since @ np.sin(angle)) / (power * gain)
        level += unit * float(np.sin(angle).mean()) / gain
        slope += more
        if abs(more) * since[-1] < 1e-7 * frame:
            break
    angle = (turn.rest - slope * since - level) / unit
    gain = max(float(np.cos(angle).mean()), _OPPOSITE)
    error = unit * sqrt(float((since**2) @ np.sin(angle) ** 2)) / (power * gain)
    rest = wrapped(unit * angle, frame)
    return replace(
        turn,
        drift=turn.drift + slope,
        error=_SMALL_SAMPLE * (1 + 3 / len(times)) * error * _alike(rest),
        at_start=(turn.at_start + level - slope * float(times.mean())) % frame,
        rest=rest,
        spread=1.4826 * float(np.median(np.abs(rest))),
    )


def _mean_angle(values: NDArray, frame: float) -> float:
    """Return the circular mean of values modulo a frame (as scipy.stats.circmean)."""
    angle = np.angle(np.exp(2j * np.pi * values / frame).mean())
    return float(angle / (2 * np.pi) * frame)
