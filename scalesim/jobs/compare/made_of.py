"""What the visible scan lines of a contestant are made of: its chain's own weights, small for a page."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.raster import visible_slices
from scalesim.jobs.predict.outcome import Outcome
from scalesim.result import Taps

_DIGITS = 4
"""Digits of a weight: a ten-thousandth of white is far below a code."""


def looks_of(outcome: Outcome, *, whole: bool = False) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return where the visible lines and samples of a contestant, or all, look on the source (`Layer`)."""
    lines, samples = _shown(outcome, whole)
    down, across = outcome.geometry.landed(outcome.raster), outcome.geometry.samples
    return (
        (_short(down.scale), _short(down(float(lines.start)))),
        (_short(across.scale), _short(across(float(samples.start)))),
    )


def made_of(outcome: Outcome, *, whole: bool = False) -> tuple[Taps | None, str]:
    """Return the weights of a contestant's visible lines, or of all, and why there are none ("" else)."""
    lines, _ = _shown(outcome, whole)
    weights = outcome.coverage()
    if weights is None:
        why = outcome.no_weights or "its lines are no fixed mixture of the source's, or it is not known which"
        return None, f"No weights: {why}."
    patterns, use, first = _patterns(np.round(weights[lines], _DIGITS))
    return Taps(patterns, use, first, outcome.mixes), ""


def _shown(outcome: Outcome, whole: bool) -> tuple[slice, slice]:
    lines, samples = outcome.raster.landed_lines, outcome.raster.samples
    return (slice(0, lines), slice(0, samples)) if whole else visible_slices(outcome.raster, lines, samples)


def _patterns(weights: NDArray) -> tuple[tuple[tuple[float, ...], ...], tuple[int, ...], tuple[int, ...]]:
    """Return the different rows from their first to their last weight, which each line uses, and from where.

    Chains repeat: 240 lines of 720 need a single pattern.
    """
    known: dict[tuple[float, ...], int] = {}
    use, first = [], []
    for row in weights:
        some = np.flatnonzero(row)
        begin, end = (int(some[0]), int(some[-1]) + 1) if len(some) else (0, 0)
        own = tuple(_short(weight) for weight in row[begin:end])
        use.append(known.setdefault(own, len(known)))
        first.append(begin)
    return tuple(known), tuple(use), tuple(first)


def _short(value: float) -> float:
    """Return a number with as few digits as it needs."""
    return int(value) if float(value).is_integer() else round(float(value), _DIGITS)
