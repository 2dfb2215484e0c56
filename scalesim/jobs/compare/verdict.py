"""The verdict of a contest: a leader, a tie or a trade-off, and no more than the frames bear.

A *leader* is named from six frames on, when it alone is first in 95 % of the resamples of the frames
and its mean rank is 0.5 ahead of the next. On 22 frames, leaders named by all three turned over on
other frames of the same kinds in 2.3 % of the cases at six frames (8 % without the distance, 22 % by a
single frame's order).

That distance shrinks with every measure in which all tie, which takes nothing from a first place. So one
that *dominates* the next (better in something on most frames, worse in nothing) needs it only over the
measures that tell the two apart. On 22 photos, drawings and pages, six chains in twos and threes, 1 of 39
leaders named so from six frames turned over on the others (13 of 88 without any distance).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.compare.claims import claims_of
from scalesim.jobs.compare.contest import Contest
from scalesim.jobs.compare.place import Kind, Standing, Verdict
from scalesim.jobs.compare.verdict_words import verdict_words

SURE = 0.95
AHEAD = 0.5


def judge(contest: Contest, sure: NDArray | None, kinds: Mapping[str, str]) -> Verdict:
    """Return what may be said of a contest.

    Parameters:
        sure : each contestant's lead, None below six frames
        kinds : frame -> what it is a frame of, where that is known
    """
    order = [int(k) for k in np.argsort(contest.scores, kind="stable") if np.isfinite(contest.scores[k])]
    unbeaten = [k for k in order if not any(contest.dominates(other, k) for other in order if other != k)]
    kind, chosen = _decided(contest, order, unbeaten, sure)
    names = tuple(contest.chains[k] for k in chosen)
    ends = tuple(_standing(contest, k, chosen) for k in chosen) if kind == "trade-off" else ()
    leads = kind in ("leader", "first on these frames")
    return Verdict(
        contest.name,
        kind,
        names[0] if leads else None,
        ends,
        names if kind == "tied" else (),
        tuple(_standing(contest, k, unbeaten) for k in unbeaten) if len(unbeaten) > 1 else (),
        {m.key.name: m.frames for m in contest.deciding},
        {m.key.name: m.frames for m in contest.measures if not m.decides} if len(contest.chains) > 1 else {},
        len(contest.frames),
        verdict_words(contest, kind, chosen, unbeaten, sure, kinds),
        {contest.chains[k]: tuple(contest.chains[p] for p in contest.agreeing(k)) for k in contest.captured},
        claims_of(contest, kind, chosen),
        sure is not None,
    )


def _decided(
    contest: Contest, order: Sequence[int], unbeaten: Sequence[int], sure: NDArray | None
) -> tuple[Kind, list[int]]:
    """Return the verdict and whom it is about."""
    if len(contest.chains) == 1:
        return "alone", [0]
    if len(order) < 2:
        return "not rated", []
    first, scores = order[0], contest.scores
    near = [
        k
        for k in order
        if scores[k] < scores[first] + AHEAD - 1e-9 or (sure is not None and sure[k] > 1 - SURE)
    ]
    alone = scores[order[1]] > scores[first] + 1e-9
    ahead = alone and all(
        scores[k] - scores[first] >= AHEAD - 1e-9 or _clearly_beats(contest, first, k) for k in order[1:]
    )
    rated = all(m.rated[first] for m in contest.deciding)
    if ahead and rated and (sure is None or sure[first] >= SURE):
        return ("first on these frames" if sure is None else "leader"), [first]
    near = _not_surely_beaten(contest, near, sure)
    if len(near) < 2:
        near = list(order[:2])
    ends = _ends(contest, [k for k in near if k in unbeaten])
    return ("trade-off", ends) if ends else ("tied", near)


def _clearly_beats(contest: Contest, one: int, other: int) -> bool:
    """Return whether one dominates another and is 0.5 ahead in the measures that tell the two apart."""
    if not contest.dominates(one, other):
        return False
    telling = [m for m in contest.deciding if m.rated[one] and m.rated[other] and m.differing(one, other)]
    means = [np.nanmean(m.ranks[:, other] - m.ranks[:, one]) for m in telling]
    return bool(np.mean(means) >= AHEAD - 1e-9)


def _not_surely_beaten(contest: Contest, near: Sequence[int], sure: NDArray | None) -> list[int]:
    """Return those near the first whom none of them dominates, or who may be first on other frames.

    One that is beaten in something and better in nothing does not tie with who beats it.
    """
    return [
        k
        for k in near
        if (sure is not None and sure[k] > 1 - SURE)
        or not any(contest.dominates(other, k) for other in near if other != k)
    ]


def _ends(contest: Contest, among: Sequence[int]) -> list[int]:
    """Return the two of whom each is better than the other in most, [] when no two are."""
    best: tuple[int, int] = (0, 0)
    found: list[int] = []
    for one, other in combinations(among, 2):
        better, worse = contest.relation(one, other)
        size = (min(len(better), len(worse)), len(better) + len(worse))
        if size[0] and size > best:
            best, found = size, [one, other]
    return found


def _standing(contest: Contest, own: int, among: Sequence[int]) -> Standing:
    pairs = {contest.chains[k]: contest.relation(own, k) for k in among if k != own}
    better, costs = (
        {
            m.key.name: against
            for m in contest.deciding
            if (against := tuple(other for other, pair in pairs.items() if m in pair[side]))
        }
        for side in (0, 1)
    )
    return Standing(contest.chains[own], tuple(better), tuple(costs), better, costs)
