"""The plot of a measured kernel, its weights with their errors, and the named method's weights over it."""

from __future__ import annotations

from math import floor, log10

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.identify.findings import Findings
from scalesim.jobs.identify.plain import LEAST_TOLD
from scalesim.plot import Axis, Panel, Plot, Rule, Series

_MOST_DOTS = 400
_MOST_TEXTS = 9
"""Weights up to which each has its number beside it."""
_RINGS = (
    " Rings are the weights that the named method gives to single lines; they differ where its step is not "
    "whole."
)


def kernel_plot(found: Findings) -> Plot:
    """Return the kernel as measured, and the weights that the named method gives to single lines."""
    offsets, weights, errors = (np.array(each) for each in zip(*found.kernel, strict=True))
    series = []
    if found.methods:
        at, weight = named_weights(found)
        label = f"{found.methods[0]}, line by line"
        series.append(Series(_plain(at), _plain(weight), label, role=1, mark=0, hollow=True, size=11))
    near = np.abs(weights) > LEAST_TOLD * np.abs(weights).max()
    reach = max(2.0, float(np.abs(offsets[near]).max()) + 1.0)
    shown = np.abs(offsets) < reach
    kept = [_plain(each[shown]) for each in (offsets, weights, errors)]
    few = near.sum() <= _MOST_TEXTS
    texts = tuple(
        _with_error(weight, error) if few and big else ""
        for weight, error, big in zip(kept[1], kept[2], near[shown], strict=True)
    )
    measured = f"measured, ± standard error, {len(found.frames.used)} frame"
    measured += "s" if len(found.frames.used) != 1 else ""
    series.append(
        Series(kept[0], kept[1], measured, style="stems", mark=1, error=kept[2], size=5, texts=texts)
    )
    return Plot(
        "kernel",
        "Weights of the source lines in a line of the box's output",
        f"Each stem is the weight of one source line, measured over all lines of the output; the bar is its "
        f"standard error.{_RINGS if found.methods else ''}",
        (
            Panel(
                Axis("distance from where the line looks, source lines (+ is further down)", -reach, reach),
                Axis("weight of a source line, of 1", grid=True),
                tuple(series),
                (Rule("y", 0.0, role="quiet"),),
            ),
        ),
        size=(900, 420),
        legend=2,
    )


def _with_error(weight: float, error: float) -> str:
    """Return "0.3333 ± 0.0002": as many digits as the error has one of."""
    digits = min(max(2, -floor(log10(max(error, 1e-4)))), 4)
    return f"{weight:.{digits}f} ± {max(error, 10.0**-digits):.{digits}f}".replace("-", "\N{MINUS SIGN}")


def _plain(values: NDArray) -> tuple[float, ...]:
    return tuple(float(value) for value in values)


def named_weights(found: Findings) -> tuple[NDArray, NDArray]:
    """Return (offset, weight) of the answer's weights for lines in the middle of the picture."""
    rows, place = found.rows[0], found.places[0]
    middle = len(rows) // 2
    ats, weights = [], []
    for line in range(max(0, middle - 12), min(len(rows), middle + 12)):
        columns = np.flatnonzero(np.abs(rows[line]) > 1e-4)
        ats.append(columns + 0.5 - place(line + 0.5))
        weights.append(rows[line][columns])
    both = np.round(np.column_stack([np.concatenate(ats), np.concatenate(weights)]), 6)
    once = np.unique(both, axis=0)[:_MOST_DOTS]
    return once[:, 0], once[:, 1]
