"""Edge spread: over how many scan lines a horizontal edge is smeared by the chain.

The chain's taps from source to output are measured on the picture (`kernel`), and with them what becomes of a
step at each boundary between two source lines: its 10 % and 90 % crossings nearest the middle, by straight
lines between line centres. **The figure is the mean of those heights, each weighted by the source's own
steps at that boundary**, the sum over 1/240-wide strips of (difference of adjacent lines)^2, so that art
whose edges all fall alike on the lines is judged by how these come out.

A mean, since most kernels have several heights: an average of three lines leaves a step 0.80 tall where it
falls between two output lines and 1.55 at the other two places, and a median jumps from one to the other. A
step between two adjacent output lines reads 0.8 line, the least there is on a raster. The source's own
softness is not in the figure. Definition of this project.
"""

from __future__ import annotations

import numpy as np

from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.edges.kernel import Kernel, kernel_across
from scalesim.metrics.edges.profiles import profile_widths
from scalesim.metrics.key import Key, Resolution

_LEAST_WITH_WIDTH = 0.9
"""Of the source's steps, by weight, must have a 10-90 % width."""


def mean_width(kernel: Kernel) -> float:
    """Return the mean 10-90 % width of a step in output lines (or samples), weighted by the source's steps.

    Raises: NotMeasurable when the responses do not rise from 10 to 90 % at a tenth of the steps or more
    """
    lines, levels = kernel.responses()
    widths = profile_widths(levels, kernel.places - lines[:, 0] - 0.5)
    found = np.isfinite(widths)
    share = float(kernel.weights[found].sum() / kernel.weights.sum())
    if share < _LEAST_WITH_WIDTH:
        raise NotMeasurable(f"only {100 * share:.0f} % of the steps come out as a rise from 10 to 90 %")
    return float(np.average(widths[found], weights=kernel.weights[found]))


@metric(
    Key(
        "edge_spread_lines",
        "scan lines",
        "lower",
        "height of a horizontal edge",
        reading="height to which the chain smears a horizontal edge, 10 to 90 %, on average. 0.8 is as "
        "sharp as a progressive picture can be, 0.4 an interlaced one",
        differs=Resolution(0.01, captured=0.03, position=0.066, position_mean=0.017),
        family="sharpness",
        needs="strips",
        digits=2,
        short="the height of a horizontal edge",
        head="edge height, scan lines",
        improves="sharper",
        wins="has sharper edges",
        best="sharpest edges",
        worst="softest edges",
        told=True,
        say="A horizontal edge is {} scan lines tall "
        "(0.8 is the sharpest a progressive picture can be, 0.4 an interlaced one).",
        captions=("edges {} scan lines tall", "edges {} scan lines tall", "edges {} lines"),
        counts="steps",
        marks=((0.8, "sharpest progressive"), (0.4, "sharpest interlaced")),
    ),
    Key(
        "edge_count",
        "edges",
        "neither",
        "edges measured",
        reading="steps between the source's lines on which the height of an edge rests, strong ones "
        "counting most",
        family="sharpness",
        needs="strips",
        digits=0,
    ),
)
def edge_spread_lines(evidence: Evidence) -> tuple[float, float]:
    """Mean 10-90 % height of a horizontal step in field-line pitches of the output, and the steps it rests
    on.

    On an interlaced raster the landed lines are half a pitch apart. Boundaries the display hides are left
    out. Raises NotMeasurable as `kernel_across` and `mean_width`.
    """
    kernel = kernel_across(evidence, "lines")
    height = mean_width(kernel) * evidence.raster.landed_pitch
    evidence.n["edge_spread_lines"] = steps = round(kernel.steps)
    return height, steps
