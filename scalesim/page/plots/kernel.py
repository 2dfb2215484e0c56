"""The plot of a measured kernel, its weights with their errors, and the named method's weights over it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.identify.identification import Identification
from scalesim.page.plots.svg import HUES, QUIET, RULE, clean, new_figure, styled, svg_of

_SIZE = (900, 420)
_MOST_DOTS = 400


def kernel_plot(found: Identification) -> tuple[str, str]:
    """Return (SVG with stand-in colours, caption)."""
    name = "kernel"
    with styled(name):
        figure = new_figure(*_SIZE)
        axes = figure.add_axes((0.085, 0.14, 0.895, 0.72))
        offsets, weights, errors = (np.array(each) for each in zip(*found.kernel, strict=True))
        axes.axhline(0, color=QUIET, linewidth=0.8)
        if found.method != "unknown":
            at, weight = named_weights(found)
            label = f"{clean(found.methods[0], 44)}, line by line"
            axes.plot(at, weight, "o", color=HUES[1], fillstyle="none", markersize=9, label=label, zorder=4)
        axes.errorbar(
            offsets,
            weights,
            yerr=errors,
            color=HUES[0],
            marker="s",
            markersize=4,
            linewidth=1.2,
            zorder=3,
            label="measured, with standard errors",
            ecolor=HUES[0],
            elinewidth=1.4,
            capsize=3,
        )
        near = np.abs(weights) > 0.02 * np.abs(weights).max()
        reach = max(2.0, float(np.abs(offsets[near]).max()) + 1.0)
        axes.set_xlim(-reach, reach)
        axes.set_xlabel("distance from where the line looks, source lines (+ is further down)")
        axes.set_ylabel("weight of a source line")
        axes.grid(axis="y", color=RULE, linewidth=0.6)
        axes.set_axisbelow(True)
        figure.legend(loc="upper left", ncols=2, frameon=False, bbox_to_anchor=(0.075, 1.0))
        svg = svg_of(figure, name, "Weights of the source lines in a line of the box's output")
    return svg, (
        "What a line of the box's output is made of. The squares are the kernel as measured, pooled over all "
        "lines; rings are the weights the named method gives to single lines, which differ where its step is "
        "not whole."
    )


def named_weights(found: Identification) -> tuple[NDArray, NDArray]:
    """Return (offset, weight) of the answer's weights for lines in the middle of the picture."""
    rows, place = found.rows[0], found.places[0]
    middle = len(rows) // 2
    ats, weights = [], []
    for line in range(max(0, middle - 12), min(len(rows), middle + 12)):
        columns = np.flatnonzero(np.abs(rows[line]) > 1e-4)
        ats.append(columns + 0.5 - place(line + 0.5))
        weights.append(rows[line][columns])
    return np.concatenate(ats)[:_MOST_DOTS], np.concatenate(weights)[:_MOST_DOTS]
