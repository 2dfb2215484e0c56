"""Lag from an oscilloscope: the source's flash paired with that of a photodiode on the tube.

A flash is a rise after darkness: the first of a group of pulses, since a tube lights a place once a field and
a video signal is dark in its blanking. Each flash of the source is paired with the first one of the tube
after it, as long as no other flash of the source comes between.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotMeasurable

DARK_S = 0.06
"""Darkness before a flash: longer than three fields of 50 Hz, so that pulses of one flash are one."""
_LOW, _HIGH = 0.4, 0.6
_CLEAR = 4.0
_LASTS_S, _LASTING = 0.0001, 0.35
"""A flash stays so long above so much of its height, at the mean: phosphors fade, and the beam passes a
photodiode line by line. Noise does not stay."""
_EARLY_S = 0.001
"""A tube may light so much before the source's flash is seen: the two slopes differ."""


def rises(values: NDArray, interval: float) -> NDArray:
    """Return when flashes begin, in seconds from the first sample on.

    Parameters:  values : (samples,) volts; interval : s between samples
    The level is half way between dark and bright, placed between samples by a straight line; a signal that is
    bright most of the time is taken as one that goes down when light comes.
    Raises: NotMeasurable where nothing rises above the noise
    """
    dark, bright = (
        float(value) for value in np.percentile(values[:: max(1, len(values) // 1_000_000)], (1, 99.9))
    )
    middle = float(np.median(values[:: max(1, len(values) // 1_000_000)]))
    signal = values if middle - dark <= bright - middle else -values
    if signal is not values:
        low_end = float(np.percentile(values[:: max(1, len(values) // 1_000_000)], 0.1))
        dark, bright, middle = -middle, -low_end, -middle
    noise = 1.4826 * float(np.median(np.abs(signal[:: max(1, len(signal) // 1_000_000)] - middle)))
    span = bright - middle
    if not span > max(_CLEAR * noise, 1e-6):
        raise NotMeasurable("no flash rises above the noise")
    high = np.flatnonzero(signal > middle + _HIGH * span)
    high = high[_lasts(signal, high, round(_LASTS_S / interval), middle + _LASTING * span)]
    if not len(high):
        raise NotMeasurable("no flash rises above the noise")
    begins = high[np.concatenate([[True], np.diff(high) * interval > DARK_S])]
    found = []
    level = middle + 0.5 * span
    for begin in begins:
        k = int(begin)
        while k > 0 and signal[k - 1] > level:
            k -= 1
        if k == 0:
            continue  # bright from the beginning: its rise was not recorded
        below, above = float(signal[k - 1]), float(signal[k])
        part = (level - below) / (above - below) if above > below else 1.0
        found.append((k - 1 + part) * interval)
    if not found:
        raise NotMeasurable("the record begins bright and no flash rises in it")
    return np.array(found)


def _lasts(signal: NDArray, places: NDArray, samples: int, level: float) -> NDArray:
    """Return at which places a signal stays above a level, at the mean of so many samples from there on.

    One sample alone may be noise: of a million, some lie five deviations up.
    """
    many = min(samples, len(signal))
    if many < 2 or not len(places):
        return np.ones(len(places), dtype=bool)
    total = np.concatenate([[0.0], np.cumsum(signal, dtype=np.float64)])
    ends = np.minimum(places + many, len(signal))
    return np.asarray((total[ends] - total[places]) / (ends - places) > level)


def paired(source: NDArray, tube: NDArray) -> tuple[NDArray, NDArray, int]:
    """Return (times of the source's flashes, lags, flashes of the source without one of the tube), in s."""
    place = np.searchsorted(tube, source - _EARLY_S)
    until = np.append(source[1:], np.inf)
    follows = np.where(place < len(tube), tube[np.minimum(place, len(tube) - 1)], np.inf)
    good = follows < until - _EARLY_S
    return source[good], (follows - source)[good], int((~good).sum())
