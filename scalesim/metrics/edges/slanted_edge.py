"""The response of a slanted edge by the method of ISO 12233, and of an edge spread known at places.

Steps (ISO 12233:2014, 6.2.4-6.2.5 and Annex D): locate the edge in every row by the centroid of its
difference; fit a straight line; project every value along that line into bins of 1/4 point, which
makes an edge spread four times as fine; differentiate with [-1/2, 0, 1/2]; centre; Hamming window;
modulus of the discrete Fourier transform, 1 at zero; divide by the response of the differentiation.

That response at f cycles per point, with bins p points wide, is sin(x)/x with x = 2 pi f p for
[-1/2, 0, 1/2]. The correction min(x / sin x, 10) is limited as in the standard. (The editions of
2014 and 2017 misprint x; the exact form is used here.) The mean over a bin takes sinc(f p) besides,
3.7 % at 0.6 cycles; the standard leaves that in, `bins_corrected` takes it out.

Distances are taken along the row, not across the edge: lines and samples are filtered apart, and
the response asked for is that of one of them.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotMeasurable

BINS = 4
"""Bins per point."""

MOST_CORRECTION = 10.0
_LEAST_ROWS = 4


def slanted_edge_mtf(
    patch: NDArray, starts: NDArray | None = None, *, bins_corrected: bool = False
) -> tuple[NDArray, NDArray]:
    """Return (frequencies in cycles per point, MTF) of one edge that crosses every row of a patch.

    Parameters:
        patch : (rows, points) values of a linear system; for an edge across lines pass the transpose
        starts : (rows,) coordinate of each row's first point, when rows were cut along the edge; 0 without
        bins_corrected : divide by sinc(f p) too, which the standard does not
    Returns:     frequencies 0..1 in steps of 1 / (points spanned), and the MTF, 1 at frequency 0
    Raises: NotMeasurable when there is no edge, or when it does not cross enough points to fill the bins
    """
    patch = np.asarray(patch, dtype=np.float64)
    starts = np.zeros(len(patch)) if starts is None else np.asarray(starts, dtype=np.float64)
    places = fitted(starts + edge_places(patch))
    points = starts[:, None] + np.arange(patch.shape[1])
    spread = binned_spread(points - places[:, None], patch)
    frequencies, mtf = response(spread)
    return frequencies, mtf / np.sinc(frequencies / BINS) if bins_corrected else mtf


def edge_places(patch: NDArray) -> NDArray:
    """Return the centroid of the difference of each row, (rows,) in points from its first.

    Found twice, the second time under a Hamming window about the first line fitted.
    Raises: NotMeasurable when the rows have no step in common
    """
    steps = np.diff(patch, axis=1)
    at = np.arange(steps.shape[1]) + 0.5
    if len(patch) < _LEAST_ROWS or abs(steps.sum()) < 1e-6 * max(np.abs(steps).sum(), 1e-9):
        raise NotMeasurable("the patch has no edge from one side to the other")
    places = _centroids(steps, at, np.ones_like(steps))
    away = at - fitted(places)[:, None]
    window = np.where(np.abs(away) <= len(at) / 2, 0.54 + 0.46 * np.cos(2 * np.pi * away / len(at)), 0.08)
    return _centroids(steps, at, window)


def _centroids(steps: NDArray, at: NDArray, window: NDArray) -> NDArray:
    weights = steps * window
    total = weights.sum(axis=1)
    if np.any(np.abs(total) < 1e-9):
        raise NotMeasurable("a row of the patch has no edge")
    places: NDArray = (weights * at).sum(axis=1) / total
    return places


def fitted(places: NDArray) -> NDArray:
    """Return the straight line through the places of consecutive rows, at each row."""
    rows = np.arange(len(places)) - (len(places) - 1) / 2
    slope = float(rows @ places) / float(rows @ rows)
    line: NDArray = places.mean() + slope * rows
    return line


def binned_spread(distances: NDArray, values: NDArray) -> NDArray:
    """Return the edge spread: the mean of the values in each bin of 1/4 point, from the left.

    The bins lie symmetrically about the edge and reach as far as every row does. A straight line
    fills empty bins between filled ones. Raises: NotMeasurable when more than a fifth are empty
    """
    reach = min(-float(distances[:, 0].max()), float(distances[:, -1].min()))
    half = int(np.floor(reach * BINS))
    if half < BINS:
        raise NotMeasurable("the edge leaves the patch")
    # bins centred on multiples of 1/4, so that one of them is the edge's own place
    index = np.round(distances * BINS).astype(np.int64) + half
    inside = (index >= 0) & (index <= 2 * half)
    count = np.bincount(index[inside], minlength=2 * half + 1)
    total = np.bincount(index[inside], weights=values[inside], minlength=2 * half + 1)
    filled = np.flatnonzero(count)
    if len(filled) < 0.8 * len(count):
        raise NotMeasurable("the edge crosses too few points to tell its spread finer than they are apart")
    return np.interp(np.arange(2 * half + 1), filled, total[filled] / count[filled])


def response(spread: NDArray) -> tuple[NDArray, NDArray]:
    """Return (frequencies, MTF) of an edge spread in bins of 1/4 point: the steps from the derivative on."""
    line = (spread[2:] - spread[:-2]) / 2
    line = _centred(line)
    line = line * np.hamming(len(line))
    modulus = np.abs(np.fft.rfft(line))
    if modulus[0] < 1e-9:
        raise NotMeasurable("the edge spread ends at the level it began with")
    frequencies = np.fft.rfftfreq(len(line), 1 / BINS)
    kept = frequencies <= 1.0
    return frequencies[kept], modulus[kept] / modulus[0] * derivative_correction(frequencies[kept])


def _centred(line: NDArray) -> NDArray:
    """Return the line spread rolled so that its centroid is in the middle."""
    at = np.arange(len(line))
    total = float(line.sum())
    centroid = float(line @ at) / total if abs(total) > 1e-12 else (len(line) - 1) / 2
    middle = round(float(np.clip(centroid, 0, len(line) - 1)))
    moved: NDArray = np.roll(line, len(line) // 2 - middle)
    return moved


def derivative_correction(frequencies: NDArray, *, bins: int = BINS) -> NDArray:
    """Return min(x / sin x, 10) with x = 2 pi f / bins, the inverse of the response of [-1/2, 0, 1/2]."""
    x = 2 * np.pi * np.asarray(frequencies, dtype=np.float64) / bins
    correction: NDArray = np.minimum(1 / np.maximum(np.sinc(x / np.pi), 1e-9), MOST_CORRECTION)
    return correction


def spread_mtf(places: NDArray, spread: NDArray, frequencies: NDArray) -> NDArray:
    """Return the MTF of an edge spread known at some places and straight in between.

    The line spread is then constant from place to place, so its transform is an exact sum:
    |sum_k rise_k sinc(f width_k) exp(-2 pi i f middle_k)| / |sum_k rise_k|.

    Parameters:  places : (n,) rising, in points; spread : (n,) values; frequencies : cycles per point
    """
    rise, width = np.diff(spread), np.diff(places)
    middle = places[:-1] + width / 2
    waves = np.sinc(np.outer(frequencies, width)) * np.exp(-2j * np.pi * np.outer(frequencies, middle))
    if abs(rise.sum()) < 1e-9:
        raise NotMeasurable("the edge spread ends at the level it began with")
    mtf: NDArray = np.abs(waves @ rise) / abs(rise.sum())
    return mtf


def frequency_at_half(frequencies: NDArray, mtf: NDArray) -> float | None:
    """Return where the MTF first falls to 1/2, straight between frequencies; None if it does not."""
    below = np.flatnonzero(mtf < 0.5)
    if not len(below) or below[0] == 0:
        return None
    k = int(below[0])
    share = (mtf[k - 1] - 0.5) / (mtf[k - 1] - mtf[k])
    return float(frequencies[k - 1] + share * (frequencies[k] - frequencies[k - 1]))
