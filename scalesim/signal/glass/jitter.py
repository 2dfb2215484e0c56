"""How still single lines stand inside one frame, free of the camera's motion."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.demodulate import cells_of
from scalesim.signal.glass.find import Found
from scalesim.signal.glass.profile import used_pixels

BANDS = 16
FEWEST_LINES = 24
ALIKE = 0.2
"""Natural logarithm of the brightness of two lines within which they are alike."""


@dataclass(frozen=True, eq=False)
class LineJitter:
    """rms of single lines about an even pitch, line pitches, with its standard error; lines: how many were
    seen.

    offsets : (lines,) where each line lies, pitches; places : (lines,) its number
    """

    rms: float
    error: float
    lines: int
    offsets: NDArray[np.float64]
    places: NDArray[np.int64]


def line_jitter(found: Found) -> LineJitter | None:
    """Return how far single lines lie off an even pitch; None when too few are seen.

    Each line's centre of light is taken in 16 bands of columns, a cubic trend over the lines is taken off,
    and
    the medians of even and of odd bands are compared: their covariance holds what moves whole lines, noise
    cancels. Beams that overlap pull centres together by sqrt(A1 - A2), which is undone (an empirical law).
    Definition of this project.
    """
    view, frame = found.view, found.fit.frame
    phase = frame.field(found.fit.coefficients) + _offset(found)
    used = used_pixels(found, view.light.shape)
    number = np.round(phase).astype(np.int64)
    first = int(number.min())
    lines = int(number.max()) - first + 1
    band = np.broadcast_to(np.arange(phase.shape[1]) * BANDS // phase.shape[1], phase.shape)
    key = ((number - first) * BANDS + band)[used]
    light = view.light[used].astype(np.float64)
    total = np.bincount(key, light, lines * BANDS)
    count = np.bincount(key, minlength=lines * BANDS)
    moment = np.bincount(key, light * (phase - number)[used], lines * BANDS)
    enough = (
        (count > 0.5 * np.median(count[count > 0])) & (total > 0) & _even(total.reshape(lines, BANDS)).ravel()
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        centre = np.where(enough, moment / total, np.nan).reshape(lines, BANDS)
    return _of_bands(centre, first, found)


def _of_bands(centre: NDArray, first: int, found: Found) -> LineJitter | None:
    flat = _trend_off(centre)
    even, odd = flat[:, 0::2], flat[:, 1::2]
    both = (np.isfinite(even).sum(axis=1) >= 3) & (np.isfinite(odd).sum(axis=1) >= 3)
    if both.sum() < FEWEST_LINES:
        return None
    a, b = np.nanmedian(even[both], axis=1), np.nanmedian(odd[both], axis=1)
    a, b = a - a.mean(), b - b.mean()
    # a few lines that lie far off are the picture's own edges
    limit = 6 * 1.4826 * float(np.median(np.abs(a + b) / 2)) + 1e-6
    a, b = np.clip(a, -limit, limit), np.clip(b, -limit, limit)
    divisor = np.sqrt(max(_height(found, 1) - _height(found, 2), 0.05))
    square = float(np.mean(a * b)) / divisor**2
    error_square = float(np.std(a * b) / np.sqrt(len(a))) / divisor**2
    rms = float(np.sqrt(max(square, 0.0)))
    error = error_square / (2 * rms) if rms**2 > error_square else float(np.sqrt(error_square))
    return LineJitter(rms, error, int(both.sum()), (a + b) / 2 / divisor, first + np.flatnonzero(both))


def _even(total: NDArray) -> NDArray[np.bool_]:
    """Tell where a line is about as bright as both its neighbours, whose beams reach into its room."""
    out = np.zeros(total.shape, dtype=bool)
    with np.errstate(invalid="ignore", divide="ignore"):
        above, below = total[:-2] / total[1:-1], total[2:] / total[1:-1]
    out[1:-1] = (np.abs(np.log(above + 1e-9)) < ALIKE) & (np.abs(np.log(below + 1e-9)) < ALIKE)
    return out


def _trend_off(centre: NDArray) -> NDArray[np.float64]:
    out = np.full_like(centre, np.nan)
    x = np.linspace(-1, 1, len(centre))
    for band in range(centre.shape[1]):
        own = np.isfinite(centre[:, band])
        if own.sum() >= 8:
            out[own, band] = centre[own, band] - np.polyval(np.polyfit(x[own], centre[own, band], 3), x[own])
    return out


def _offset(found: Found) -> float:
    z = found.fit.cells.z[found.fit.used]
    return float(np.angle(z.sum()) / (2 * np.pi))


def _height(found: Found, harmonic: int) -> float:
    return height_at(found, float(harmonic))


def height_at(found: Found, factor: float) -> float:
    """Return the coherent height of the carrier at `factor` times the lines' frequency, of the mean light."""
    view, fit = found.view, found.fit
    cells = cells_of(view.wave, view.mean, fit.frame.field(fit.coefficients), fit.cells.size, factor)
    z, weight = cells.z[fit.used], cells.light[fit.used]
    bright = weight > np.quantile(weight, 0.4)
    smooth = cells.smoothed(2.5 * fit.cells.size[0]).z[fit.used]
    del z
    return float(2 * np.median(np.abs(smooth[bright])))
