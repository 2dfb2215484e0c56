"""Why a chain has its place: in what it alone is best and worst of those it is ranked with."""

from __future__ import annotations

import numpy as np

from scalesim.jobs.compare.contest import Contest, Measure

ALONE = "the only one on its screen"
AT_THIS_POSITION = "at this position"
"""Said of a difference that moving the frames by part of a scan line could turn."""


def place_reason(contest: Contest, own: int, number: int | None) -> str:
    """Return why a contestant has its place.

    Best and worst are said of medians that nobody shares, neither within the measure's resolution nor as
    they are printed.
    """
    if len(contest.chains) == 1:
        return ALONE
    if number is None:
        return f"not rated: {_missing(contest, own)}"
    best, worst = [], []
    for measure in contest.deciding:
        if _stands_out(measure, own, 1):
            best.append(f"{measure.key.best} ({_value(measure, own, 1)})")
        elif _stands_out(measure, own, -1):
            worst.append(f"{measure.key.worst} ({_value(measure, own, -1)})")
    said = [", ".join(best)] if best else []
    if worst:
        said.append("but " + ", ".join(worst) if best else ", ".join(worst))
    if not said:
        said.append(_nothing(number))
    unrated = [m for m in contest.deciding if not m.rated[own]]
    said += [f"not rated on {m.key.short} ({had_on(m, own)})" for m in unrated]
    return "; ".join(said)


def had_on(measure: Measure, own: int) -> str:
    """Return on how many frames a contestant has a measure, in words."""
    known = int(np.isfinite(measure.values[:, own]).sum())
    return f"had on {known} of {measure.values.shape[0]} frames"


def _missing(contest: Contest, own: int) -> str:
    had = [m for m in contest.measures if np.isfinite(m.values[:, own]).any()]
    if not had:
        return "none of the measures could be had"
    return ", ".join(f"{m.key.short} {had_on(m, own)}" for m in had)


def _nothing(number: int) -> str:
    if number == 1:
        return "neither best nor worst at anything by itself; the lowest mean of ranks"
    return "neither best nor worst at anything by itself"


def _rivals(measure: Measure, own: int) -> list[int]:
    return [k for k in range(measure.rated.size) if k != own and measure.rated[k]]


def _ahead(measure: Measure, own: int, other: int) -> float:
    """Return by how much a contestant's median is better than another's, in the metric's unit."""
    one, two = measure.median(own), measure.median(other)
    assert one is not None and two is not None
    return one - two if measure.key.better == "higher" else two - one


def _stands_out(measure: Measure, own: int, sign: int) -> bool:
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


def _value(measure: Measure, own: int, sign: int) -> str:
    median = measure.median(own)
    assert median is not None
    shown = " ".join(measure.key.number(median)).strip()
    nearest = min(sign * _ahead(measure, own, other) for other in _rivals(measure, own))
    moves = measure.key.position_moves(measure.frames)
    return f"{shown}, {AT_THIS_POSITION}" if nearest < moves else shown
