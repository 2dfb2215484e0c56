"""Staircase: how jagged the chain makes slanted edges.

A slanted edge crosses every boundary between two source lines in turn. What the chain makes of a step at
each of them is measured on the picture (`kernel`): there the place is taken where it crosses half way
between its levels (straight lines between line centres). A constant displacement is no stair and is taken
off. What is left, as a root mean square over all boundaries, is divided by that of a pure drop to the same
scan lines, which moves a step to the nearest boundary between lines it shows:

    staircase = sqrt(12 * mean((place - boundary)^2) / (r^2 - 1)),  1 at most,

places in source lines, r source lines to a scan line, (r^2 - 1) / 12 the variance of r equally spaced
places. So a drop to 240 lines reads 1, to the 480 lines of an interlaced picture, half a pitch apart, 1/2;
two lines blended read 1/2, an average of three 1/4, a picture as it was 0.

The source's own stairs, as tall as its lines, are not in it: no chain of lines can take them away. Nor is any
texture, since no edge of the picture is followed: only what the lines of source and output have in common
counts. The figure is of the chain's lines; a scaler that turns its filter along an outline is judged
as if it did so everywhere alike. A blur hides stairs: read it beside `edge_spread_lines`. Definition of this
project.
"""

from __future__ import annotations

import numpy as np

from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.edges.kernel import Kernel, kernel_across
from scalesim.metrics.edges.profiles import half_crossings
from scalesim.metrics.key import Key

LEAST_SHARE = 0.1
"""Of an even share: the source's steps at each place between scan lines must weigh so much."""


@metric(
    Key(
        "staircase",
        "0…1",
        "lower",
        "slanted edges",
        reading="how jagged slanted edges become; 1 is as jagged as dropping lines makes them. Blur "
        "hides stairs, "
        "so read it beside a sharpness",
        family="slopes",
        share="% as jagged as dropping lines",
        counts="steps",
        short="stairs",
        plural=True,
        improves="smoother",
        wins="draws smoother slopes",
        best="smoothest slopes",
        worst="most jagged slopes",
    )
)
def staircase(evidence: Evidence) -> tuple[float]:
    """Root mean square stair of slanted edges in shares of a pure drop's (see the module's text).

    Raises NotMeasurable as `kernel_across`; when the source has no more lines than the raster's scan lines;
    and when its steps all fall alike between the scan lines (art of as many lines to the dot).
    """
    kernel = kernel_across(evidence, "lines")
    ratio = kernel.view.per_scan_line
    if ratio < 1.2:
        raise NotMeasurable(
            f"the source has {ratio:.2f} lines to a scan line; a drop makes stairs of its own from 1.2 on"
        )
    _check_places(kernel)
    lines, levels = kernel.responses()
    places = half_crossings(levels, kernel.places - lines[:, 0] - 0.5) + lines[:, 0] + 0.5
    stairs = (places - kernel.places) * abs(kernel.view.look.scale)
    stairs = stairs[np.isfinite(stairs)]
    if len(stairs) < 0.9 * len(places):
        raise NotMeasurable(f"only {len(stairs)} of {len(places)} places of a step come out as a rise")
    evidence.n["staircase"] = round(kernel.steps)
    evidence.how["staircase"] = "the chain's kernel, as the frame shows it"
    return (min(1.0, float(np.sqrt(12 * np.var(stairs) / (ratio**2 - 1)))),)


def _check_places(kernel: Kernel) -> None:
    """Raise NotMeasurable when the source has hardly a step at some of the places between its scan lines."""
    count = max(1, int(kernel.view.per_scan_line + 1e-6))
    scan_lines = kernel.places * kernel.view.pitch
    place = np.floor((scan_lines % 1) * count + 0.5).astype(np.int64) % count
    shares = np.bincount(place, kernel.weights, minlength=count) / kernel.weights.sum()
    seen = int(np.count_nonzero(shares >= LEAST_SHARE / count))
    if seen < count:
        raise NotMeasurable(
            f"the source's steps fall at {seen} of {count} places between scan lines (art of as many lines "
            "to the dot does so): what slanted edges become cannot be told from it"
        )
