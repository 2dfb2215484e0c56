"""Whether lines carry the picture, as a beam's do, or stand before it, as slats of a fence or a blind do.

On a tube the light of a line is the picture's. At the lines' own frequency the height of what goes up and
down is A1 times the mean light around (the spectrum of lines that sample a picture repeats the picture's own
at every multiple of their frequency), never turned over, and A1 falls where the picture is bright, since
beams grow. Even slats of light s and share d before a picture of light b have the mean d s + (1 - d) b, and a
height in proportion to b - s: turned over where the picture is darker than the slats, falling with the mean
light where slats are the bright part, growing faster than it where they are the dark one. Before black slats
it grows just with it, as do lines of a beam that does not grow: those cannot be told from each other, but by
an opening's profile where that is flatter on top than any beam's.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.candidates import WORKING
from scalesim.signal.glass.carrier import FLOOR
from scalesim.signal.glass.demodulate import cells_of
from scalesim.signal.glass.find import MEAN_LIGHT, Found
from scalesim.signal.glass.impostors import Impostor

AROUND = 12.0
"""Periods about a cell, sigma, with whose mean it is compared: the shade of lens and room falls out."""
BLOCKS = 6
"""Parts each way of which one at a time is left out, for the slope's error (jackknife)."""
FEWEST, LEAST_SHARE = 60, 0.15
"""Cells that tell a slope, and their least share of all that show lines."""
UPRIGHT = 0.95
"""Of the lines' height that must stand alike within every row: a seam between fields runs along rows."""
ERRORS, ERRORS_GROWN = 3.0, 2.0
"""Standard errors by which a slope must lie below 0 to be refused, and below 1 to be a growing beam's."""
FLAT = -0.05
"""A2 below which the top of lines is flatter than a beam's."""


@dataclass(frozen=True)
class Modulation:
    """How the height of lines follows the picture.

    Parameters:
        slope, error : d log(height) / d log(mean light) against their surroundings, and its standard error;
            the lower one of lines in one place and of those half a pitch from them
        upright : |sum| over sum of heights, row of cells by row: 1 where no line is turned over, or it cannot
            tell
    """

    slope: float
    error: float
    upright: float

    @property
    def grows(self) -> bool:
        """Whether lines stand out less of the mean light where it is high, as only a growing beam's do."""
        return bool(0 <= self.slope < 1 - ERRORS_GROWN * self.error)


def modulation(found: Found, *, sideways: bool = False) -> Modulation | None:
    """Return how the lines' height follows the picture; None where too few cells tell.

    Parameters:  sideways : whether the sensor was read along the lines: a seam between fields then runs
        aslant, and lines half a pitch from the others are no slats
    """
    from scipy.ndimage import gaussian_filter

    cells, used, mean = found.fit.cells, found.fit.used, found.view.mean
    # what the carrier was divided by is put back, and both are smoothed alike
    floor = FLOOR * float(np.percentile(mean[::4, ::4], 99))
    spread = MEAN_LIGHT, MEAN_LIGHT * cells.size[0] / cells.size[1]
    own = cells.sum * (1 + floor / (cells.light + 1e-12))
    height = np.abs(gaussian_filter(own.real, spread) + 1j * gaussian_filter(own.imag, spread))
    turned = np.where(used, cells.sum.real, 0.0)
    upright = 1.0 if sideways else float(np.abs(turned.sum(axis=1)).sum() / (np.abs(turned).sum() + 1e-12))
    slopes = []
    for sign in (-1, 1):
        part = used & (np.sign(cells.sum.real) == sign) & (height > 0)
        if part.sum() >= max(FEWEST, LEAST_SHARE * used.sum()):
            slopes.append(_slope(np.log(cells.light[part]), np.log(height[part]), part, spread))
    if not slopes:
        return None
    return Modulation(*min(slopes, key=lambda each: each[0] + ERRORS * each[1]), upright)


def _slope(
    light: NDArray, height: NDArray, part: NDArray[np.bool_], spread: tuple[float, float]
) -> tuple[float, float]:
    """Return the slope of `height` over `light`, both less what is around, and its standard error."""
    x, y = (_less_around(each, part, spread) for each in (light, height))
    down, across = (np.arange(n) * BLOCKS // n for n in part.shape)
    key = (down[:, None] * BLOCKS + across)[part]
    xy, xx = (np.bincount(key, each, BLOCKS**2) for each in (x * y, x * x))
    own = xx > 0
    without = (xy.sum() - xy[own]) / (xx.sum() - xx[own] + 1e-12)
    error = np.sqrt((len(without) - 1) * np.var(without))
    return float(xy.sum() / (xx.sum() + 1e-12)), float(error)


def _less_around(
    values: NDArray, part: NDArray[np.bool_], spread: tuple[float, float]
) -> NDArray[np.float64]:
    from scipy.ndimage import gaussian_filter

    wide = tuple(AROUND / MEAN_LIGHT * each for each in spread)
    full = np.zeros(part.shape)
    full[part] = values
    around = gaussian_filter(full, wide)[part] / gaussian_filter(part.astype(np.float64), wide)[part]
    return np.asarray(values - around)


def second_harmonic(found: Found) -> float:
    """Return A2 in the phase of A1: below 0 where lines are flatter on top than a beam is.

    A Gaussian beam of any width has it above 0, however blurred. An opening of more than half a pitch has it
    below, and so do two fields that lie a quarter to three quarters of a pitch apart.
    """
    view, fit = found.view, found.fit
    cells = cells_of(view.wave, view.mean, fit.frame.parts(fit.coefficients), fit.cells.size, 2.0)
    z = cells.smoothed(2.5 * fit.cells.size[0]).z[fit.used]
    first = fit.cells.z[fit.used]
    return float(2 * np.median((z * np.conj(first / (np.abs(first) + 1e-12)) ** 2).real))


def slats(found: Found, told: Modulation | None) -> Impostor | None:
    """Return what tells that lines are slats before a picture; None when nothing does."""
    if told is None:
        return None
    lines = found.lines
    period = float(lines.period(np.array(lines.centre[0]), np.array(lines.centre[1])))
    if told.upright < UPRIGHT:
        return Impostor("slats", period, _TURNED.format(period))
    if told.slope < -ERRORS * told.error:
        return Impostor("slats", period, _BRIGHT.format(period))
    resolved = period / found.view.factor >= WORKING
    if resolved and not told.grows and second_harmonic(found) < FLAT:
        return Impostor("slats", period, _FLAT.format(period))
    return None


_TURNED = (
    "even stripes of {:.2f} pixels are the bright part in one place and the dark part beside it, as slats "
    "before a picture are; a tube's lines are always the bright part; if this is a tube, give --corners"
)
_BRIGHT = (
    "even stripes of {:.2f} pixels stand out most where the picture is dark, as bright slats before a "
    "picture do; a tube's lines fade with the picture; if this is a tube, show a picture with black parts or "
    "give --corners"
)
_FLAT = (
    "even stripes of {:.2f} pixels are flatter on top than a beam draws lines, and not seen to grow with the "
    "picture, as openings between dark slats are; if this is a tube, its fields lie a quarter to half a line "
    "apart: expose one field, or give --corners"
)
