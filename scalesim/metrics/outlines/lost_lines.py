"""Lost lines: the share of thin horizontal detail that vanished."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.key import Key
from scalesim.metrics.outlines.shares import Outlines, outlines_of


@dataclass(frozen=True)
class LostLines:
    """Share of outlines that vanished, and the mean contrast left, both 0..1 and weighted alike."""

    lost: float
    visibility: float


@metric(
    Key(
        "lost_lines",
        "0..1",
        "lower",
        "thin horizontal detail lost",
        reading="thin horizontal detail that vanished",
        family="outlines",
        needs="strips",
        share="% of thin detail",
        short="lost thin detail",
        head="lost detail, %",
        best="least detail lost",
        worst="most detail lost",
        told=True,
        say="{} % of the thin horizontal detail is gone.",
    )
)
def lost_lines(evidence: Evidence) -> tuple[float]:
    """Share of the source's outlines, by contrast times length, that left no trace; 0..1, lower is better.

    An outline is lost when none of the scan lines nearest to it (one either side of its middle) shows
    ``min(0.15, 0.45 thickness)`` of its contrast, thickness in landed lines; see
    `outlines.vanishing_share` for the reason. For outlines of t lines on random rows and a drop of
    one line in three this is max(0, 1 - t/3). Definition of this project.

    Raises: NotMeasurable when the source has too few outlines
    """
    return (measure_lost(outlines_of(evidence)).lost,)


def measure_lost(outlines: Outlines) -> LostLines:
    """Return the lost share and the mean visibility of outlines on the screen.

    Visibility of one outline is its largest share on the nearest scan lines, within 0..1.
    """
    visible = np.where(outlines.nearest, outlines.shares, 0).max(axis=1, initial=0)
    lost = visible < outlines.least_share
    return LostLines(
        lost=float(np.average(lost, weights=outlines.weight)),
        visibility=float(np.average(np.clip(visible, 0, 1), weights=outlines.weight)),
    )
