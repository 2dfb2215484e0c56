"""Line doubling with the source known: outlines split over one scan line more than they need."""

from __future__ import annotations

import numpy as np

from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.key import Key, Resolution
from scalesim.metrics.outlines.shares import outlines_of
from scalesim.metrics.outlines.strips import Array

TOLERANCE = 0.1
"""An outline up to this much thicker than a whole number of lines needs that many, not one more."""


@metric(
    Key(
        "line_doubling",
        "0..1",
        "lower",
        "outlines split over two lines",
        reading="outlines that sit on one scan line more than they need",
        differs=Resolution(0.02, captured=0.06, position=0.152, position_mean=0.039),
        family="outlines",
        needs="strips",
        share="% of outlines",
        short="split outlines",
        plural=True,
        head="split outlines, %",
        best="fewest split outlines",
        worst="most split outlines",
        told=True,
        say="{} % of the outlines are split over one scan line more than they need.",
        captions=("{} % of the outlines split", "{} % of outlines split", "{} % split"),
    )
)
def line_doubling(evidence: Evidence) -> tuple[float]:
    """Mean of `split_score` over the source's outlines, by contrast times length; 0..1, lower is better.

    0 when every outline is on as few scan lines as it can be, 1 when every outline is spread evenly
    over one more. On interlaced rasters the lines are frame lines. Outlines that vanished are left
    out: `lost_lines` counts them. Definition of this project; the outlines are those of `outlines`.

    Raises: NotMeasurable when the source has too few outlines, or all of them vanished
    """
    outlines = outlines_of(evidence)
    seen = outlines.shares.sum(axis=1) >= outlines.least_share
    if not outlines.weight[seen].sum() > 0:
        raise NotMeasurable("every thin horizontal outline of the source vanished: none is left to be split")
    score = split_score(outlines.shares[seen], outlines.cover[seen])
    return (float(np.average(score, weights=outlines.weight[seen])),)


def split_score(shares: Array, cover: Array) -> Array:
    """Return how far outlines are split over one line more than they need; 0..1.

    Parameters:  shares : (outlines, lines) w_k of consecutive lines
                 cover : (outlines,) tau, the sum the shares ought to have, in lines
    Returns:     (outlines,) S

    With N = ceil(tau), the lines an outline needs, and P the largest share of sum w that N adjacent
    lines hold: S = 2 tau (1 - P) / (tau - N + 1), within 0..1. Thickness is seldom exact, so N =
    ceil(tau - 0.1), and tau is N where it exceeds it by less:
    S = 2 (min(tau, N) - tau P) / (min(tau, N) - N + 1). Definition of this project.
    """
    cover = np.maximum(cover, 1e-3)  # below one line S is 2 (1 - P) whatever tau is
    needed = np.clip(np.ceil(cover - TOLERANCE), 1, shares.shape[1]).astype(np.int64)
    held = _most_on_adjacent(shares, needed) / np.maximum(shares.sum(axis=1), 1e-12)
    fits = np.minimum(cover, needed)
    score: Array = np.clip(2 * (fits - cover * held) / (fits - needed + 1), 0, 1)
    return score


def _most_on_adjacent(shares: Array, needed: Array) -> Array:
    """Return the largest sum of as many adjacent shares as each outline needs."""
    most = np.zeros(len(shares))
    for lines in range(int(needed.min(initial=1)), int(needed.max(initial=0)) + 1):
        sums = sum(shares[:, k : shares.shape[1] - lines + 1 + k] for k in range(lines))
        most = np.where(needed == lines, np.max(sums, axis=1), most)
    return most
