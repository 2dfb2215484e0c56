"""The beam: how a scan line spreads over the dot rows around it.

A line is a Gaussian in light down the screen, and a dot row takes the exact integral of it over its
own height, so that no light is lost or gained whatever the scale. Distances are in field-line pitches,
the distance of two scan lines of one field, from the top of the full raster.

The width follows the beam current, that is the light s^2 of the place and channel:
width = width_black + (width_white - width_black) s, the square root of the light, and no more beyond
white. Common practice for the shape, no published source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.raster import Raster
from scalesim.tube.display import Display

FWHM = 2.0 * math.sqrt(2.0 * math.log(2.0))
"""Full width at half maximum of a Gaussian over its standard deviation, 2.35482."""

DEGREE = 4
"""Of the polynomial in s that stands for the growing beam. Measured against the law itself: within 2e-5
of white for a growth up to 1.7, 5e-4 for 3."""

_REACH = 5.0
"""Standard deviations a beam reaches: 6e-7 of its light lies beyond."""
_NODES = 33


@dataclass(frozen=True, eq=False)
class Taps:
    """What each dot row takes of which lines: columns (rows, taps), weights (rows, taps, terms)."""

    columns: NDArray
    weights: NDArray


def line_places(raster: Raster, phase: int) -> NDArray:
    """Return where the lines of a field phase have their centres, in field-line pitches; (lines,) float64.

    Line 0 of a progressive picture is at 1/2; of the top field of a pair at 1/4 and of the bottom field
    at 3/4, so that the frame's lines fill the same height.
    """
    on_screen = raster.picture_of_landed(phase).inverse()
    first = on_screen(0.5) * raster.landed_pitch
    return first + np.arange(raster.lines, dtype=np.float64)


def sigmas(display: Display) -> tuple[float, float]:
    """Return the standard deviations of the beam at black and at white, in field-line pitches."""
    white = display.beam_width / FWHM
    return white / display.beam_growth, white


def white_peak(display: Display) -> float:
    """Return the light at the middle of a line in a white field, as a share of its mean: 1 where lines merge.

    No dot of a field of code values up to 1 is brighter, whatever the dot rows: a place's light grows with
    that of every line near it, and a row takes the mean over its height.
    """
    _, white = sigmas(display)
    away = np.arange(-math.ceil(_REACH * white), math.ceil(_REACH * white) + 1)
    return float(np.exp(-0.5 * (away / white) ** 2).sum() / (white * math.sqrt(2 * math.pi)))


def beam_taps(places: NDArray, edges: NDArray, display: Display) -> Taps:
    """Return what each dot row takes of the lines, one term for a fixed beam, else DEGREE + 1.

    Parameters:
        places : (lines,) centres of the lines, one pitch apart
        edges : (rows + 1,) edges of the dot rows, in pitches
    Returns: weights of the light times s^m for term m, s the square root of the light; the weights of
        a line times the height of a row sum to 1 for term 0 and to 0 for the others
    """
    black, white = sigmas(display)
    middles = (edges[1:] + edges[:-1]) / 2
    reach = _REACH * white + float(edges[1] - edges[0]) / 2
    first = np.ceil(middles - places[0] - reach).astype(np.int64)
    columns = first[:, None] + np.arange(int(2 * reach) + 1)
    centres = places[0] + columns
    if display.beam_growth == 1:
        return Taps(columns, profile(centres, edges, white)[..., None])
    drive = np.linspace(0.0, 1.0, _NODES)
    widths = black + (white - black) * drive
    profiles = np.stack([profile(centres, edges, sigma) for sigma in widths])
    return Taps(columns, growth_terms(drive, profiles))


def profile(centres: NDArray, edges: NDArray, sigma: float) -> NDArray:
    """Return the mean over each dot row of a unit Gaussian at each of its centres.

    Parameters:  centres : (rows, taps); edges : (rows + 1,); sigma : all in pitches
    Returns:     (rows, taps) float64 in light per pitch: times the row's height it is the share of a
        line's light that falls into the row
    """
    from scipy.special import erf

    scale = sigma * math.sqrt(2.0)
    below = erf((edges[1:, None] - centres) / scale)
    above = erf((edges[:-1, None] - centres) / scale)
    mean: NDArray = 0.5 * (below - above) / (edges[1:] - edges[:-1])[:, None]
    return mean


def growth_terms(drive: NDArray, profiles: NDArray) -> NDArray:
    """Return the polynomial in s, term last, that stands for profiles whose width depends on s.

    Least squares over the nodes, weighted by the light s^2 itself. The profiles of a line sum to the
    same at every s, and a least-squares fit of a constant is that constant: the sum of term 0 is the
    light, that of every other term 0, so that the fit can move light but not make or lose any.
    """
    weight = drive**2
    powers = np.vander(drive, DEGREE + 1, increasing=True)
    fit = np.linalg.pinv(powers * weight[:, None]) * weight
    return np.einsum("mn,nrt->rtm", fit, profiles)
