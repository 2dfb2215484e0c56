"""Edge spread along the line: over how much of the picture's width a vertical edge is smeared."""

from __future__ import annotations

from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.edges.spread_lines import edges_across, median_width
from scalesim.metrics.key import Key


@metric(
    Key(
        "edge_spread_samples",
        "% of width",
        "lower",
        "width of a vertical edge",
        reading="width of a vertical edge, 10 to 90 %, in percent of the picture's width",
        family="sharpness",
        digits=2,
        short="the width of a vertical edge",
        improves="sharper",
        best="sharpest along the line",
        worst="softest along the line",
    ),
    Key(
        "edge_samples_count",
        "edges",
        "neither",
        "vertical edges measured",
        reading="vertical edges that could be measured",
        family="sharpness",
        digits=0,
    ),
)
def edge_spread_samples(evidence: Evidence) -> tuple[float, float]:
    """Median 10-90 % width across vertical edges, in percent of the output raster's width.

    Rules and measure are those of `edge_spread_lines` with the axes exchanged: strips of 1/240 of the
    height, plateaus of 1/60 of the width (21 samples of 1280), a transition of at most 1/360 of it on
    either side. In percent, so that outputs of unlike samples compare; a step between two adjacent
    samples reads 80 / samples, the least there is (0.0625 % of 1280). Edges the display hides are left
    out. Raises NotMeasurable with fewer than 20 edges.
    """
    width, count = median_width(edges_across(evidence, "samples"), "vertical")
    return 100 * width / evidence.raster.samples, count
