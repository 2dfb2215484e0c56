"""Taps on the source's lines that explain the output's, by least squares for each class (see `kernel`)."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotMeasurable
from scalesim.metrics.edges.view import Classes, View, inside

_RIDGE = 1e-4
_MULTIPLICATIONS, _VALUES = 40_000_000, 2_500_000
"""A fit takes about so many at most; strips are left out, evenly, to keep to it."""


@dataclass(frozen=True, eq=False)
class Fit:
    """Taps of each class, (classes, 2 n + 1), each row's sum 1, and how well they explain the output.

    Parameters:  residual : RMS of what they leave, code values of the source; samples : output lines times
                 strips fitted to; follows : less is left than half of the output's line differences, and no
                 sum of taps was near 0
    """

    taps: NDArray
    residual: float
    samples: int
    follows: bool


def fitted(view: View, classes: Classes) -> Fit:
    """Return the fit with as many taps as the output needs."""
    reach = ceil(2 * view.per_scan_line) + 1
    best = _fit(view, classes, reach)
    for _ in range(view.doublings):
        if np.abs(best.taps[:, [0, 1, -2, -1]]).sum(axis=1).max() < 0.02:
            break
        reach *= 2
        try:
            wider = _fit(view, classes, reach)
        except NotMeasurable:
            break
        if wider.residual > 0.95 * best.residual:
            break
        best = wider
    return best


def _fit(view: View, classes: Classes, reach: int) -> Fit:
    """Return the fit of 2 reach + 1 source lines; raise NotMeasurable when too few lines see so many."""
    lines = inside(view, classes, reach)
    kind, first = classes(lines), classes.first(lines)
    count = 2 * reach + 1
    taken = max(1, len(lines) * count)
    strips = max(16, min(_MULTIPLICATIONS // (taken * count), _VALUES // taken))
    every = -(-view.source.shape[1] // strips)
    source = np.ascontiguousarray(view.source[:, ::every], dtype=np.float64)
    landed = view.landed[:, ::every].astype(np.float64)
    ridge = _RIDGE * float(np.mean(np.diff(source, axis=0) ** 2))
    taps = np.zeros((classes.count, count))
    left, seen = 0.0, 0
    for number in np.unique(kind):
        of_class = np.flatnonzero(kind == number)
        known = np.stack([source[first[of_class] + o].ravel() for o in range(-reach, reach + 1)])
        taps[number], unexplained = _least_squares(known, landed[lines[of_class]].ravel(), ridge)
        left, seen = left + unexplained, seen + known.shape[1]
    total = taps.sum(axis=1)
    missing = np.setdiff1d(np.arange(classes.count), kind) if classes.period else np.zeros(0)
    if not seen or len(missing):
        raise NotMeasurable(
            f"the picture is too small: {len(lines)} of its lines see {count} source lines around them, and "
            f"{classes.count} ways of looking at the source must be told apart"
        )
    shown = total[np.unique(kind)]
    differences = float(np.mean(np.diff(view.landed[lines], axis=0) ** 2))
    follows = left / seen <= 0.5 * differences and float(shown.min()) > 0.2
    if float(shown.mean()) <= 0.05:
        return Fit(taps, float(np.sqrt(left / seen)), seen, False)
    used = np.flatnonzero(total > 0)
    nearest = used[np.argmin(np.abs(used[None] - np.arange(classes.count)[:, None]), axis=1)]
    taps = taps[nearest] / total[nearest, None]  # a class no line is of is never asked for inside the picture
    return Fit(taps, float(np.sqrt(left / seen)) / float(shown.mean()), seen, follows)


def _least_squares(known: NDArray, wanted: NDArray, ridge: float) -> tuple[NDArray, float]:
    """Return the weights of the rows of `known` that make `wanted`, means removed, and the squares left."""
    known -= known.mean(axis=1, keepdims=True)
    wanted = wanted - wanted.mean()
    size = len(wanted)
    weights = np.linalg.solve(known @ known.T / size + ridge * np.eye(len(known)), known @ wanted / size)
    return weights, float(np.sum((wanted - weights @ known) ** 2))
