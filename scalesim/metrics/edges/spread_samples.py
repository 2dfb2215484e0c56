"""Edge spread along the line: over how much of the picture's width the chain smears a vertical edge."""

from __future__ import annotations

from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.edges.kernel import kernel_across
from scalesim.metrics.edges.spread_lines import mean_width
from scalesim.metrics.key import Key


@metric(
    Key(
        "edge_spread_samples",
        "% of width",
        "lower",
        "width of a vertical edge",
        reading="width to which the chain smears a vertical edge, 10 to 90 %, on average, in percent "
        "of the picture's width",
        family="sharpness",
        digits=2,
        short="the width of a vertical edge",
        improves="sharper",
        counts="steps",
        wins="is sharper along the line",
        best="sharpest along the line",
        worst="softest along the line",
    ),
    Key(
        "edge_samples_count",
        "edges",
        "neither",
        "vertical edges measured",
        reading="steps between the source's samples that the width of an edge rests on, strong ones "
        "counting most",
        family="sharpness",
        digits=0,
    ),
)
def edge_spread_samples(evidence: Evidence) -> tuple[float, float]:
    """Mean 10-90 % width of a vertical step in percent of the output raster's width, and the steps it rests
    on.

    The measure is that of `edge_spread_lines` with the axes exchanged, in strips of 1/240 of the height. In
    percent, so that outputs of unlike samples compare; a step between two adjacent samples reads 80 /
    samples, the least there is (0.0625 % of 1280). Steps the display hides are left out. Raises
    NotMeasurable likewise.
    """
    kernel = kernel_across(evidence, "samples")
    width = 100 * mean_width(kernel) / evidence.raster.samples
    evidence.n["edge_spread_samples"] = steps = round(kernel.steps)
    return width, steps
