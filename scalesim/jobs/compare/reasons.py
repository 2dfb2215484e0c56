"""Why a chain has its place: in what it alone is best and worst of those it is ranked with."""

from __future__ import annotations

import numpy as np

from scalesim.jobs.compare.contest import Contest, Measure
from scalesim.jobs.compare.medians import AT_THIS_POSITION, labels, number_of
from scalesim.jobs.compare.tables import listed

ALONE = "the only one on its screen"


def place_reason(contest: Contest, own: int, number: int | None) -> str:
    """Return why a contestant has its place.

    Best and worst are said of medians that nobody shares, neither within the measure's resolution nor as
    they are printed. A fault is no reason for a place that others are behind: what else there is comes first.
    """
    if len(contest.chains) == 1:
        return ALONE
    if number is None:
        return f"not rated: {_missing(contest, own)}"
    agreeing = contest.agreeing(own) if own in contest.captured else []
    if agreeing:
        names = listed(contest.chains[k] for k in agreeing)
        return f"agrees with {names} within what these measures resolve"
    best = [m for m in contest.deciding if stands_out(m, own, 1)]
    worst = [m for m in contest.deciding if m not in best and stands_out(m, own, -1)]
    beside, end = labels([*best, *worst])
    good = ", ".join(f"{m.key.best} ({_value(m, own, 1, beside)})" for m in best)
    bad = ", ".join(f"{m.key.worst} ({_value(m, own, -1, beside)})" for m in worst)
    last = not bool((contest.scores > contest.scores[own] + 1e-9).any())
    said = [good or ("" if last and bad else _nothing(contest, own, number, faulty=bool(worst)))]
    said += [f"but {bad}" if said[0] else bad] if bad else []
    said = [f"{'; '.join(filter(None, said))}{end}"]
    unrated = [m for m in contest.deciding if not m.rated[own]]
    said += [f"not rated on {m.key.short} ({had_on(m, own)})" for m in unrated]
    return "; ".join(said)


def had_on(measure: Measure, own: int) -> str:
    """Return on how many frames a contestant has a measure, in words."""
    known = int(np.isfinite(measure.values[:, own]).sum())
    return f"measured on {known} of {measure.values.shape[0]} frames"


def _missing(contest: Contest, own: int) -> str:
    had = [m for m in contest.measures if np.isfinite(m.values[:, own]).any()]
    if not had:
        return "none of the measures could be taken"
    return ", ".join(f"{m.key.short} {had_on(m, own)}" for m in had)


def _nothing(contest: Contest, own: int, number: int, *, faulty: bool) -> str:
    """Return what is said without anything to be best at: `faulty` where something to be worst at follows."""
    said = "best at nothing alone" if faulty else "neither best nor worst at anything alone"
    if number == 1:
        shown = [f"{score:.2f}" for score in contest.scores]
        others = [contest.chains[k] for k, score in enumerate(shown) if score == shown[own] and k != own]
        lower = any(score < contest.scores[own] - 1e-9 for score in contest.scores)
        if others:
            return f"{said}; the same mean rank as {listed(others)}"
        return said if lower else f"{said}; the lowest mean rank"
    return f"{said}, and tied or in between in the rest" if faulty else said


def _rivals(measure: Measure, own: int) -> list[int]:
    return [k for k in range(measure.rated.size) if k != own and measure.rated[k]]


def _ahead(measure: Measure, own: int, other: int) -> float:
    """Return by how much a contestant's median counts for better than another's, in the metric's unit."""
    one, two = measure.median(own), measure.median(other)
    assert one is not None and two is not None
    one, two = measure.key.merit(one), measure.key.merit(two)
    return one - two if measure.key.better == "higher" else two - one


def stands_out(measure: Measure, own: int, sign: int) -> bool:
    """Return whether a contestant is best (`sign` 1) or worst (-1) by more than the measure resolves."""
    if not measure.rated[own]:
        return False
    for other in _rivals(measure, own):
        pair = [measure.median(k) or 0.0 for k in (own, other)]
        least, share = measure.key.difference_parts(
            captured=bool(measure.captured[own] | measure.captured[other])
        )
        enough = max(least, share * max(map(abs, pair))) + 1e-9
        if sign * _ahead(measure, own, other) <= enough or not measure.printed_apart(own, other):
            return False
    return True


def _value(measure: Measure, own: int, sign: int, beside: dict[str, str]) -> str:
    median = measure.median(own)
    assert median is not None
    unit = measure.key.number(median)[1]
    shown = f"{number_of(measure.key, median)} {unit}".strip() + beside[measure.key.name]
    nearest = min(sign * _ahead(measure, own, other) for other in _rivals(measure, own))
    moves = measure.key.position_moves(measure.frames)
    return f"{shown}, {AT_THIS_POSITION}" if nearest < moves else shown
