"""The plot of a measured kernel, its weights with their errors, and the named method's weights over it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.identify.findings import Findings
from scalesim.plot import Axis, Panel, Plot, Rule, Series

_MOST_DOTS = 400


def kernel_plot(found: Findings) -> Plot:
    """Return the kernel as measured, and the weights that the named method gives to single lines."""
    offsets, weights, errors = (np.array(each) for each in zip(*found.kernel, strict=True))
    series = []
    if found.methods:
        at, weight = named_weights(found)
        label = f"{found.methods[0]}, line by line"
        series.append(Series(_plain(at), _plain(weight), label, role=1, mark=0, hollow=True, size=9))
    measured = "measured, with standard errors"
    series.append(
        Series(_plain(offsets), _plain(weights), measured, style="both", mark=1, error=_plain(errors), size=4)
    )
    near = np.abs(weights) > 0.02 * np.abs(weights).max()
    reach = max(2.0, float(np.abs(offsets[near]).max()) + 1.0)
    return Plot(
        "kernel",
        "Weights of the source lines in a line of the box's output",
        "What a line of the box's output is made of. The squares are the kernel as measured, pooled over all "
        "lines; rings are the weights the named method gives to single lines, which differ where its step is "
        "not whole.",
        (
            Panel(
                Axis("distance from where the line looks, source lines (+ is further down)", -reach, reach),
                Axis("weight of a source line", grid=True),
                tuple(series),
                (Rule("y", 0.0, role="quiet"),),
            ),
        ),
        size=(900, 420),
        legend=2,
    )


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
    return np.concatenate(ats)[:_MOST_DOTS], np.concatenate(weights)[:_MOST_DOTS]
