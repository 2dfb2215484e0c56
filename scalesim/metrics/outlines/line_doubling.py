"""Line doubling with the source known: how far outlines are split beyond what the chain forces on them."""

from __future__ import annotations

import numpy as np

from scalesim.core.compiled import compiled
from scalesim.errors import NotMeasurable
from scalesim.metrics._base import Evidence, metric
from scalesim.metrics.judged import Judged
from scalesim.metrics.key import Key, Resolution
from scalesim.metrics.outlines import loops
from scalesim.metrics.outlines.cases import Verdict, judged_outlines
from scalesim.metrics.outlines.floor import Floor
from scalesim.metrics.outlines.line_weights import LIKELIEST, LIKELY, likely_shifted
from scalesim.metrics.outlines.shares import Outlines, outlines_of
from scalesim.metrics.outlines.strips import Array

TOLERANCE = 0.1
"""An outline up to this much thicker than a whole number of lines needs that many, not one more."""


@metric(
    Key(
        "line_doubling",
        "0..1",
        "lower",
        "how far outlines are split",
        reading="light of outlines on scan lines they do not need, beyond what the chain's kernel forces at "
        "its best position, in shares of an even split over one line more: a degree, not a count. Outlines "
        "up to two scan lines thick; thicker detail is left out",
        differs=Resolution(0.02, captured=0.06, position=0.152, position_mean=0.039),
        family="outlines",
        needs="strips",
        share="% of an even split",
        short="split of the outlines",
        head="outlines split, % of even",
        wins="splits outlines less",
        best="outlines least split",
        worst="outlines most split",
        told=True,
        say="On average an outline is split {} % of the way to an even split.",
        counts="outlines",
        counted=True,
        captions=("outlines {} % of the way to an even split", "outlines {} % split", "{} % split"),
        judge=lambda evidence: judged_splits(evidence),
        case="{} % of an even split",
    )
)
def line_doubling(evidence: Evidence) -> tuple[float]:
    """Mean of `split_score` over the source's outlines, by contrast times length; 0..1, lower is better.

    A degree, not a count: 0 when every outline is as whole as the chain's kernel can leave it, 1 when
    every outline is spread evenly over one scan line more than it needs. On interlaced rasters the lines
    are frame lines. Outlines that vanished are left out: `lost_lines` counts them. A kernel's own softness
    is no split; read the edge height beside it. Definition of this project; the outlines are those of
    `outlines`, and what the kernel forces is said by `floor`.

    Raises: NotMeasurable when the source has too few outlines, or all of them vanished
    """
    found = _split(evidence)
    said = floor_of(evidence)[1]
    if said:
        evidence.how["line_doubling"] = said
    evidence.n["line_doubling"] = found.n
    return (found.value,)


def judged_splits(evidence: Evidence) -> Judged:
    """Return every outline that is still there, with its `split_score`.

    Raises: as `line_doubling`
    """
    return judged_outlines(_split(evidence))


def _split(evidence: Evidence) -> Verdict:
    outlines = outlines_of(evidence)
    seen = outlines.shares.sum(axis=1) >= outlines.least_share
    if not outlines.weight[seen].sum() > 0:
        raise NotMeasurable("every thin horizontal outline of the source vanished: none is left to be split")
    return Verdict(outlines, seen, splits(evidence, outlines), needed_by(outlines))


def splits(evidence: Evidence, outlines: Outlines) -> Array:
    """Return the `split_score` of every outline, (outlines,)."""
    floor, _ = floor_of(evidence)
    held = floor.held(outlines.found.thickness, needed_by(outlines))
    return split_score(outlines.shares, outlines.thickness, held)


def needed_by(outlines: Outlines) -> Array:
    """Return the landed lines that each outline needs, of those it is looked for on."""
    return lines_needed(outlines.thickness, outlines.shares.shape[1])


def floor_of(evidence: Evidence) -> tuple[Floor, str]:
    """Return the chain's floor, and how it was had where that is not the chain's own kernel, moved."""
    if "floor" not in evidence.cache:
        evidence.cache["floor"] = _find_floor(evidence)
    found: tuple[Floor, str] = evidence.cache["floor"]
    return found


def _find_floor(evidence: Evidence) -> tuple[Floor, str]:
    if evidence.weights is None:
        shifted, name = likely_shifted(evidence), LIKELY[evidence.cache[LIKELIEST]]
        return (
            Floor(shifted),
            f"the floor of {name}: the chain is not known, no plain kernel explains the picture better",
        )
    if evidence.best_whole is None:
        weights = evidence.weights
        dense = weights if isinstance(weights, np.ndarray) else weights.toarray()
        return Floor((dense,)), "the floor at the best source line: the phase is not moved"
    return evidence.best_whole, ""


def lines_needed(thickness: Array, most: int) -> Array:
    """Return N, the landed lines an outline needs.

    Thickness is seldom exact, so N = ceil(tau - 0.1), at least 1.
    Parameters:  thickness : (outlines,) tau, in landed lines; most : N at most
    """
    needed: Array = np.clip(np.ceil(thickness - TOLERANCE), 1, most).astype(np.int64)
    return needed


def split_score(shares: Array, thickness: Array, floor: Array) -> Array:
    """Return how far outlines are split over one line more than they need; 0..1.

    Parameters:  shares : (outlines, lines) w_k of consecutive lines
                 thickness : (outlines,) tau, in landed lines
                 floor : (outlines,) P*, the largest share that as many adjacent lines can hold
    Returns:     (outlines,) S

    With N the lines an outline needs, tau' = min(tau, N), and P the largest share of sum w that N adjacent
    lines hold: S = 2 tau' (P* - P) / (tau' - N + 1), within 0..1. Definition of this project.
    """
    needed = lines_needed(thickness, shares.shape[1])
    fits = np.minimum(np.maximum(thickness, 1e-3), needed)  # below one line S is 2 (P* - P) whatever tau is
    held = _most_on_adjacent(shares, needed) / np.maximum(shares.sum(axis=1), 1e-12)
    score: Array = np.clip(2 * fits * (floor - held) / (fits - needed + 1), 0, 1)
    return score


def _most_on_adjacent(shares: Array, needed: Array) -> Array:
    """Return the largest sum of as many adjacent shares as each outline needs."""
    most, quick = np.zeros(len(shares)), compiled(loops)
    if quick and shares.dtype == np.float32:
        quick.most_adjacent(np.ascontiguousarray(shares.T), needed, most)
        return most
    for lines in range(int(needed.min(initial=1)), int(needed.max(initial=0)) + 1):
        some = np.flatnonzero(needed == lines)
        own = shares.T[:, some]  # outlines along the memory: quicker than rows of a few lines
        sums = sum(own[k : len(own) - lines + 1 + k] for k in range(lines))
        most[some] = np.max(sums, axis=0)
    return most
