"""The kernel chart: every line carries its own code, so that a capture tells what became of each line.

A box that drops, averages or filters lines makes every output line a weighted sum of source lines.
With 32 random binary cells on each line, independent from line to line, those weights can be solved
for. Random codes, not shifted copies of one sequence: a slip along the line must not look like a
move down the picture. Bars across the width tell where the capture lies along a line, grey ramps what
became of the levels.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.charts._base import Chart
from scalesim.charts.layout import CELLS, COLOUR_SWING, GREY, HIGH, LOW, RAMP, Layout, layout

__all__ = ["kernel_chart"]

CAUTION = (
    "Every line differs from the next, so on an interlaced tube the whole chart flickers at 25 to 30 Hz, "
    "which can trigger seizures in photosensitive people: play it into a capture, not before an audience."
)
_LUMA_SD = (0.299, 0.587, 0.114)
_LUMA_HD = (0.2126, 0.7152, 0.0722)
"""Luma weights of ITU-R BT.601 and BT.709: constant luma is a matter of the matrix a mode is sent with."""


def kernel_chart(mode_name: str, *, page: str = "luma", aspect: str = "full") -> Chart:
    """Return one page of the kernel chart.

    Parameters:
        mode_name : a mode's name, such as "720p60"; interlaced modes give the woven frame
        page : "luma" for the lines, "colour" for what a box does to the lines of colour differences
        aspect : "full", or "4:3" to keep everything in the centre 3/4 of a wide picture
    Returns: the `Chart`; its frame is (frame lines, samples, 3) float32, its truth redraws it
    Raises: ParameterError for an unknown mode, page or aspect
    """
    plan = layout(mode_name, page=page, aspect=aspect)
    return Chart("kernel", plan.mode.name, plan.page, _title(plan), _frame(plan), _truth(plan))


def _frame(plan: Layout) -> NDArray:
    samples = plan.mode.samples
    frame = np.full((plan.lines, samples, 3), GREY, np.float32)
    across = (np.arange(samples) + 0.5) / samples
    cell = np.searchsorted(plan.cell_edges, across, side="right") - 1
    inside = (cell >= 0) & (cell < CELLS)
    frame[:, inside] = _coloured(plan, plan.codes()[:, cell[inside]])
    for edges, levels, bands in (
        (plan.bar_edges, plan.bar_levels(), plan.bars),
        (plan.ramp_edges, np.asarray(RAMP), plan.ramps),
    ):
        step = np.searchsorted(edges, across, side="right") - 1
        on = (step >= 0) & (step < len(levels))
        line = np.where(on, levels[np.clip(step, 0, len(levels) - 1)], GREY)
        for top, bottom in bands:
            frame[top:bottom] = line[:, None]
    return frame


def _coloured(plan: Layout, codes: NDArray) -> NDArray:
    """Return the colours of codes 0 and 1: two greys, or two colours of one luma."""
    if plan.page == "luma":
        return np.where(codes[..., None] == 1, HIGH, LOW)
    weights = _LUMA_HD if plan.mode.frame_lines >= 720 else _LUMA_SD
    blue = COLOUR_SWING * (2 * codes - 1.0)
    others = -blue * weights[2] / (1 - weights[2])
    return GREY + np.stack([others, others, blue], axis=-1)


def _title(plan: Layout) -> str:
    what = "line codes" if plan.page == "luma" else "line codes in colour"
    window = ", inside the centre 4:3" if plan.aspect == "4:3" else ""
    return (
        f"Kernel chart, {plan.mode.name}, {what}{window}: the three striped bands must be sharp and the "
        "three grey ramps must show 16 separate steps; between them every line carries its own code"
    )


def _truth(plan: Layout) -> dict[str, Any]:
    """Return all that redraws the chart, in JSON types."""
    return {
        "chart": "kernel",
        "title": _title(plan),
        "caution": CAUTION,
        "mode": plan.mode.name,
        "page": plan.page,
        "aspect": plan.aspect,
        "lines": plan.lines,
        "samples": plan.mode.samples,
        "interlaced": plan.mode.interlaced,
        "seed": plan.seed,
        "codes": (
            "numpy.random.RandomState(seed).randint(0, 2, (lines, cells)); "
            "frame line i, cell k shows levels.high where it is 1"
        ),
        "cells": CELLS,
        "cell_edges": [float(edge) for edge in plan.cell_edges],
        "levels": {"low": LOW, "high": HIGH, "surround": GREY, "colour_swing": COLOUR_SWING},
        "bars": {
            "lines": [list(band) for band in plan.bars],
            "edges": [float(edge) for edge in plan.bar_edges],
            "levels": [float(level) for level in plan.bar_levels()],
        },
        "ramps": {
            "lines": [list(band) for band in plan.ramps],
            "edges": [float(edge) for edge in plan.ramp_edges],
            "levels": list(RAMP),
        },
    }
