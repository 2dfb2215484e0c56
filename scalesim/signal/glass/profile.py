"""The shape of a line: light folded over the phase, its width and the depth of its gaps, at several
brightnesses."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.glass.find import Found

BINS = 40
FWHM = 2.3548
"""Full width at half of a Gaussian, of its sigma."""
MOST = 1.5e6
"""Pixels folded."""
FLAT = 0.302
"""Sigma in pitches above which the gaps between Gaussian beams are about half as bright as their peaks."""
FEWEST = 40
"""Values a bin needs."""


@dataclass(frozen=True)
class Profile:
    """A line's light over its height.

    Parameters:
        light : (BINS,) of the local mean, over phase -1/2..1/2 about the middle; None where too few
        share : of the brightest local mean of the photo; width : full width at half the peak, in line pitches
        depth : 1 - least / most; n : pixels; error : of the width by bins' noise
    """

    light: tuple[float, ...]
    share: float
    width: float | None
    depth: float
    n: int
    error: float


def profiles(found: Found) -> tuple[Profile, ...]:
    """Return the folded profile of the brighter half, then of the lower, middle and upper third of
    brightness."""
    view, frame = found.view, found.fit.frame
    step = max(1, int(np.ceil(view.light.size / MOST)))
    phase = frame.field(found.fit.coefficients)[:, ::step]
    light, mean = view.light[:, ::step], view.mean[:, ::step]
    used = used_pixels(found, view.light.shape)[:, ::step]
    top = float(np.percentile(mean[used], 99)) if used.any() else 1.0
    share = mean / (top + 1e-12)
    limits = (
        np.quantile(share[used & (share > 0.05)], (0, 1 / 3, 0.5, 2 / 3, 1)) if used.any() else np.zeros(5)
    )
    ranges = ((limits[2], limits[4]), (limits[0], limits[1]), (limits[1], limits[3]), (limits[3], limits[4]))
    parts = (used & (share >= low) & (share <= high) & (share > 0.05) for low, high in ranges)
    return tuple(
        _folded(light[own] / mean[own], phase[own], mean[own], float(share[own].mean()))
        for own in parts
        if own.sum() > FEWEST * BINS
    )


def used_pixels(found: Found, shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return (rows, columns) of the reduced photo: where lines are."""
    down, across = found.fit.cells.size
    wide = np.repeat(np.repeat(found.fit.used, down, axis=0), across, axis=1)
    out = np.zeros(shape, dtype=bool)
    rows, columns = min(shape[0], wide.shape[0]), min(shape[1], wide.shape[1])
    out[:rows, :columns] = wide[:rows, :columns]
    return out


def _folded(values: NDArray, phase: NDArray, weight: NDArray, share: float) -> Profile:
    # the middle of a line is where its light is greatest: the phase of the folded fundamental
    place = phase % 1
    turn = np.sum(weight * values * np.exp(2j * np.pi * place))
    place = (place - np.angle(turn) / (2 * np.pi) + 0.5) % 1 - 0.5
    number = np.minimum(((place + 0.5) * BINS).astype(int), BINS - 1)
    total = np.bincount(number, weight, BINS)
    light = np.bincount(number, weight * values, BINS) / (total + 1e-12)
    square = np.bincount(number, weight * values**2, BINS) / (total + 1e-12)
    noise = np.sqrt(np.maximum(square - light**2, 0) / np.maximum(np.bincount(number, minlength=BINS), 1))
    light = light / (light.mean() + 1e-12)
    width = full_width(light)
    slope = np.abs(np.gradient(light)).max() * BINS
    error = float(np.sqrt(2) * np.median(noise) / (slope + 1e-9))
    depth = float(1 - max(light.min(), 0) / light.max())
    return Profile(tuple(map(float, light)), share, width, depth, len(values), error)


def full_width(light: NDArray) -> float | None:
    """Return the full width at half the peak of a folded profile, in line pitches; None when gaps are
    brighter.

    Parameters:  light : (bins,) over one pitch, its peak about the middle
    """
    peak = int(np.argmax(light))
    half = light[peak] / 2
    turned = np.roll(light, len(light) // 2 - peak)
    middle = len(light) // 2
    left = _crossing(turned[middle::-1], half)
    right = _crossing(turned[middle:], half)
    if left is None or right is None:
        return None
    return float((left + right) / len(light))


def _crossing(light: NDArray, half: float) -> float | None:
    below = np.flatnonzero(light < half)
    if not len(below) or below[0] == 0:
        return None
    k = int(below[0])
    return float(k - 1 + (light[k - 1] - half) / (light[k - 1] - light[k]))


def without_camera(width: float, period: float, blur_px: float, factor: int = 1) -> float:
    """Return the full width at half of one line's own beam, less what its neighbours and the camera added.

    Beams that overlap raise each other, so that the folded profile is wider than one beam; `beam_of` undoes
    that. Then variances of Gaussians add: sigma^2 - (blur^2 + (factor^2 - 1) / 12) / period^2. A fifth of the
    width is the least that is told.

    Parameters:  width : of the folded profile, line pitches; period : pixels a line
        factor : how far the photo was reduced
        blur_px : sigma of everything between glass and file, pixels
    """
    sigma = beam_of(width)
    square = sigma**2 - (blur_px**2 + (factor**2 - 1) / 12) / period**2
    return float(FWHM * np.sqrt(max(square, (0.2 * sigma) ** 2)))


def beam_of(width: float) -> float:
    """Return the sigma of Gaussian beams, one a pitch, whose sum is `width` pitches wide at half its peak."""
    sigmas = np.linspace(0.02, FLAT, 120)
    return float(np.interp(width, [_summed(s) for s in sigmas], sigmas))


@cache
def _summed(sigma: float) -> float:
    place = (np.arange(400) + 0.5) / 400 - 0.5
    light = sum(np.exp(-0.5 * ((place - k) / sigma) ** 2) for k in range(-3, 4))
    return full_width(np.asarray(light)) or 1.0
