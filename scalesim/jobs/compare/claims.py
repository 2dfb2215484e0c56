"""What a title may claim of a verdict: who is better in what, by which medians, and how far that holds."""

from __future__ import annotations

from collections.abc import Sequence

from scalesim.jobs.compare.contest import Contest, Measure
from scalesim.jobs.compare.place import Claim, Kind
from scalesim.jobs.compare.reasons import stands_out

_SEEN_AT_ONCE = ("line_doubling", "lost_lines", "flicker_percent")


def claims_of(contest: Contest, kind: Kind, chosen: Sequence[int]) -> tuple[Claim, ...]:
    """Return what the verdict rests on, the plainest first; () where it claims no difference.

    A trade-off claims what each end is better at than the other; a first place what it alone is best at.
    """
    if kind == "trade-off":
        one, other = chosen
        better, worse = contest.relation(one, other)
        found = [_claim(contest, m, one, other) for m in better]
        found += [_claim(contest, m, other, one) for m in worse]
        return tuple(sorted(found, key=_rank))
    if kind in ("leader", "first on these frames"):
        (first,) = chosen
        best = [m for m in contest.deciding if stands_out(m, first, 1)]
        return tuple(sorted((_claim(contest, m, first, _nearest(m, first)) for m in best), key=_rank))
    return ()


def _claim(contest: Contest, measure: Measure, one: int, other: int) -> Claim:
    key = measure.key
    own, its = (measure.median(k) or 0.0 for k in (one, other))
    apart = abs(key.merit(own) - key.merit(its))
    least, share = key.difference_parts(captured=bool(measure.captured[one] | measure.captured[other]))
    tie = max(least, share * max(abs(own), abs(its)), 1e-9)
    here = apart < key.position_moves(measure.frames)
    won, names = measure.won(one, other), (contest.chains[one], contest.chains[other])
    return Claim(*names, key.name, own, its, measure.frames, won, here, apart / tie)


def _nearest(measure: Measure, own: int) -> int:
    """Return the rival whose median is nearest."""
    value = measure.median(own) or 0.0
    rivals = [k for k in range(measure.rated.size) if k != own and measure.rated[k]]
    return min(rivals, key=lambda k: abs((measure.median(k) or 0.0) - value))


def _rank(claim: Claim) -> tuple[bool, bool, float]:
    """Return what orders claims: those that hold at any position, then those that a picture shows at once."""
    return claim.here, claim.key not in _SEEN_AT_ONCE, -claim.ties
