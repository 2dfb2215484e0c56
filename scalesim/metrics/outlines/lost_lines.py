"""Lost lines: the share of thin horizontal detail that vanished."""

from __future__ import annotations

import numpy as np

from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.judged import Judged
from scalesim.metrics.key import Key, Resolution
from scalesim.metrics.outlines.cases import Verdict, judged_outlines
from scalesim.metrics.outlines.line_doubling import needed_by
from scalesim.metrics.outlines.shares import THIN, outlines_of


@metric(
    Key(
        "lost_lines",
        "0..1",
        "lower",
        "thin horizontal detail lost",
        reading="thin horizontal detail that vanished",
        differs=Resolution(0.015, captured=0.015, position=0.254, position_mean=0.065),
        family="outlines",
        needs="strips",
        share="% of thin detail",
        short="lost thin detail",
        head="lost detail, %",
        wins="loses less thin detail",
        best="least detail lost",
        worst="most detail lost",
        told=True,
        counts="outlines",
        counted=True,
        say="{} % of the thin horizontal detail is gone.",
        judge=lambda evidence: judged_losses(evidence),
        case="{} % of it is gone",
    )
)
def lost_lines(evidence: Evidence) -> tuple[float]:
    """Share of the source's outlines, by contrast times length, that left no trace; 0..1, lower is better.

    An outline is lost when none of the scan lines nearest to it (one either side of its middle) shows
    ``min(0.15, 0.45 thickness)`` of its contrast, thickness in landed lines; see
    `outlines.vanishing_share` for the reason. For outlines of t lines on random rows and a drop of
    one line in three this is max(0, 1 - t/3). Outlines thicker than 1.5 scan lines are not counted: one
    that thick falls on a line wherever it is. Definition of this project.

    Raises: NotMeasurable when the source has too few outlines
    """
    found = _losses(evidence)
    evidence.n["lost_lines"] = found.n
    return (found.value,)


def judged_losses(evidence: Evidence) -> Judged:
    """Return every outline that is thin enough to be lost: severity 1 when it was, else 0.

    Raises: as `lost_lines`
    """
    return judged_outlines(_losses(evidence))


def _losses(evidence: Evidence) -> Verdict:
    outlines = outlines_of(evidence)
    if not outlines.weight[outlines.thin].sum() > 0:
        raise NotMeasurable(f"no outline of the source is thin enough to be lost: {THIN} scan lines at most")
    visible = np.max(outlines.shares, axis=1, initial=0, where=outlines.nearest)
    return Verdict(outlines, outlines.thin, visible < outlines.least_share, needed_by(outlines))
