"""How still single lines stand inside one frame, free of the camera's motion."""

from __future__ import annotations

from dataclasses import dataclass
from math import erf, exp, log, pi, sqrt

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.demodulate import cells_of
from scalesim.signal.glass.find import Found
from scalesim.signal.glass.profile import used_pixels

BANDS = 16
FEWEST_LINES = 24
TREND = 6
"""Degree of the polynomial of what is no jitter."""
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

    Each line's centre of light is taken in 16 bands of columns, a pixel that two lines share parted between
    them, a slow trend over the lines is taken off, and the medians of even and of odd bands are compared:
    their covariance holds what moves whole lines, noise cancels. `response` says how far a centre goes when
    its line does. Definition of this project.
    """
    view, frame = found.view, found.fit.frame
    phase = frame.field(found.fit.coefficients) + _offset(found)
    used = used_pixels(found, view.light.shape)
    first = int(np.floor(phase.min())) - 1
    lines = int(np.ceil(phase.max())) + 2 - first
    total, moment, count = _banded(view.light, phase, used, first, lines)
    enough = (count > 0.5 * np.median(count[count > 0])) & (total > 0) & _even(total)
    with np.errstate(invalid="ignore", divide="ignore"):
        centre = np.where(enough, moment / total, np.nan)
    return _of_bands(centre, first, found)


def _banded(
    light: NDArray, phase: NDArray, used: NDArray, first: int, lines: int
) -> tuple[NDArray, NDArray, NDArray]:
    """Return (lines, BANDS) light of every line in every band, its first moment about the line, and pixels.

    The light of a pixel is spread evenly over its height: whole pixels would make a line's centre go up and
    down with where the pixels lie, alike in all bands when the lines are level.
    """
    high = np.abs(np.gradient(phase, axis=0))[used]
    upper = phase[used] - high / 2
    lower = upper + high
    band = np.broadcast_to(np.arange(phase.shape[1]) * BANDS // phase.shape[1], phase.shape)[used]
    own = light[used].astype(np.float64)
    one, two = np.rint(upper), np.rint(lower)
    share = np.where(two > one, np.clip((one + 0.5 - upper) / high, 0, 1), 1.0)
    total, moment, count = np.zeros((3, lines * BANDS))
    for number, part, middle in (
        (one, share, upper + share * high / 2 - one),
        (two, 1 - share, lower - (1 - share) * high / 2 - two),
    ):
        key = (number.astype(np.int64) - first) * BANDS + band
        total += np.bincount(key, own * part, lines * BANDS)
        moment += np.bincount(key, own * part * middle, lines * BANDS)
        count += np.bincount(key, part, lines * BANDS)
    shape = (lines, BANDS)
    return total.reshape(shape), moment.reshape(shape), count.reshape(shape)


def response(height: float, pixel: float) -> float:
    """Return how far centres of light go, rms, in lines that each go by 1 rms.

    A Gaussian beam seen through a window of one pitch: what leaves the window is counted for the next line.
    With its density n at the window's edges and its share L of light, a centre goes by L(own) - n(1/2) with
    its
    own line and by L(next) - (n(1/2) + n(3/2)) / 2 with each neighbour.

    Parameters:  height : of the carrier, A1 = 2 exp(-2 pi^2 sigma^2)
        pixel : pitches over which each pixel's light is spread, which widens the beam once more
    """
    sigma = sqrt(max(-log(min(max(height, 0.05), 1.9) / 2) / (2 * pi**2) + pixel**2 / 12, 0.1**2))

    def density(x: float) -> float:
        return exp(-0.5 * (x / sigma) ** 2) / (sigma * sqrt(2 * pi))

    def below(x: float) -> float:
        return 0.5 * (1 + erf(x / sigma / sqrt(2)))

    own = below(0.5) - below(-0.5) - density(0.5)
    beside = below(1.5) - below(0.5) - (density(0.5) + density(1.5)) / 2
    return sqrt(max(own, 0.05) ** 2 + 2 * beside**2)


def _of_bands(centre: NDArray, first: int, found: Found) -> LineJitter | None:
    flat, taken = _trend_off(centre)
    even, odd = flat[:, 0::2], flat[:, 1::2]
    both = (np.isfinite(even).sum(axis=1) >= 3) & (np.isfinite(odd).sum(axis=1) >= 3)
    if both.sum() < FEWEST_LINES:
        return None
    a, b = np.nanmedian(even[both], axis=1), np.nanmedian(odd[both], axis=1)
    a, b = a - a.mean(), b - b.mean()
    # a few lines that lie far off are the picture's own edges
    limit = 6 * 1.4826 * float(np.median(np.abs(a + b) / 2)) + 1e-6
    a, b = np.clip(a, -limit, limit), np.clip(b, -limit, limit)
    square = float(np.mean(a * b)) / (1 - taken)
    error_square = float(np.std(a * b) / np.sqrt(len(a))) / (1 - taken)
    gone = response(height_at(found, 1.0), 1 / found.fit.cells.size[0])
    rms = float(np.sqrt(max(square, 0.0))) / gone
    error_square /= gone**2
    error = error_square / (2 * rms) if rms**2 > error_square else float(np.sqrt(error_square))
    return LineJitter(rms, error, int(both.sum()), (a + b) / 2 / gone, first + np.flatnonzero(both))


def _even(total: NDArray) -> NDArray[np.bool_]:
    """Tell where a line is about as bright as both its neighbours, whose beams reach into its room."""
    out = np.zeros(total.shape, dtype=bool)
    with np.errstate(invalid="ignore", divide="ignore"):
        above, below = total[:-2] / total[1:-1], total[2:] / total[1:-1]
    out[1:-1] = (np.abs(np.log(above + 1e-9)) < ALIKE) & (np.abs(np.log(below + 1e-9)) < ALIKE)
    return out


def _trend_off(centre: NDArray) -> tuple[NDArray[np.float64], float]:
    """Return (lines, bands) without what changes slowly, and the share of even scatter that goes with it.

    Perspective and lens leave more than a cubic; a polynomial of p powers takes p / n of what n lines
    scatter.
    """
    out = np.full_like(centre, np.nan)
    x = np.linspace(-1, 1, len(centre))
    taken = []
    for band in range(centre.shape[1]):
        own = np.isfinite(centre[:, band])
        degree = min(TREND, int(own.sum()) // 10)
        if degree >= 1:
            trend = np.polynomial.Legendre.fit(x[own], centre[own, band], degree)
            out[own, band] = centre[own, band] - trend(x[own])
            taken.append((degree + 1) / own.sum())
    return out, float(np.median(taken)) if taken else 0.0


def _offset(found: Found) -> float:
    z = found.fit.cells.z[found.fit.used]
    return float(np.angle(z.sum()) / (2 * np.pi))


def height_at(found: Found, factor: float) -> float:
    """Return the coherent height of the carrier at `factor` times the lines' frequency, of the mean light."""
    view, fit = found.view, found.fit
    cells = cells_of(view.wave, view.mean, fit.frame.parts(fit.coefficients), fit.cells.size, factor)
    weight = cells.light[fit.used]
    bright = weight > np.quantile(weight, 0.4)
    smooth = cells.smoothed(2.5 * fit.cells.size[0]).z[fit.used]
    return float(2 * np.median(np.abs(smooth[bright])))
