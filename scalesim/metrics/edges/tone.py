"""The output's levels brought to the source's by a cubic, fitted where the source is flat (see `kernel`)."""

from __future__ import annotations

from math import ceil

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotMeasurable
from scalesim.metrics.edges.view import Classes, View, inside


def toned(view: View, classes: Classes) -> NDArray:
    """Return the output brought to the source's levels by a cubic, straight where no cubic is to be had."""
    reach = ceil(1.5 * abs(view.look.scale))
    lines = inside(view, classes, reach)
    if len(lines) < 8:
        return view.landed
    around = [_windowed(extreme, view.source, 2 * reach + 1) for extreme in (np.minimum, np.maximum)]
    rows = classes.first(lines) - reach
    spread = (around[1] - around[0])[rows].ravel()
    half = max(0, round(abs(view.look.scale) / 2 - 0.5))
    mean = sum(view.source[classes.first(lines) + o] for o in range(-half, half + 1)) / (2 * half + 1)
    weight = 1 / (0.01**2 + spread.astype(np.float64) ** 2)
    weight /= weight.sum()
    landed = view.landed[lines].ravel().astype(np.float64)
    low, high = float(landed.min()), float(landed.max())
    if high - low < 1e-6:
        raise NotMeasurable("the output is of one level throughout")
    return _curved(view.landed, (low, high), (landed, np.asarray(mean).ravel(), weight))


def _windowed(extreme: np.ufunc, values: NDArray, size: int) -> NDArray:
    """Return the least or most of every `size` lines in a row."""
    covered = 1
    while covered < size:  # each step covers up to twice as many
        step = min(covered, size - covered)
        values = extreme(values[:-step], values[step:])
        covered += step
    return values


def _curved(picture: NDArray, ends: tuple[float, float], pairs: tuple[NDArray, NDArray, NDArray]) -> NDArray:
    """Return a picture through the cubic that takes landed to source levels, given (landed, source,
    weight)."""
    from numpy.polynomial.legendre import legder, legval, legvander

    low, high = ends
    landed, source, weight = pairs
    for degree in (3, 1):
        basis = legvander(2 * (landed - low) / (high - low) - 1, degree)
        weighted = basis * weight[:, None]
        ridge = np.diag([0.0, 0.0, 1e-4, 1e-4][: degree + 1])  # curves only as far as the levels show one
        curve = np.linalg.lstsq(weighted.T @ basis + ridge, weighted.T @ source, rcond=None)[0]
        if degree == 1 or np.all(legval(np.linspace(-1, 1, 41), legder(curve)) > 0):
            break
    return np.asarray(legval(2 * (picture.astype(np.float64) - low) / (high - low) - 1, curve))
