"""Weighing: the order when sharpness, clean detail and steadiness count for more or less than one another.

The rule is the ranking's own, a weighted mean of ranks instead of a plain one: each measure counts as much
as its group is weighed, so that equal weights give the ranking's scores and places. A page does the same
sum again for other weights; what it is given here is all that the sum needs.
"""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError
from scalesim.jobs.compare.contest import Contest, Measure
from scalesim.jobs.compare.lead import RESAMPLES, alone_first, frame_counts
from scalesim.metrics.key import Key
from scalesim.result import Weighed, Weighing, Weight

SHARPNESS, CLEAN, STEADINESS, REST = "Sharpness", "Clean detail", "Steadiness", "The rest"
GROUPS = (SHARPNESS, CLEAN, STEADINESS, REST)
_FAMILIES = {"sharpness": SHARPNESS, "outlines": CLEAN, "slopes": CLEAN, "flicker": STEADINESS}
_FALSE = ("false_detail", "false_detail_samples")
"""Told of with sharpness, but what they count against is detail that is not there."""

_DIGITS = string.digits + string.ascii_lowercase
"""Of how often a frame is drawn; that one of many is drawn 36 times does not happen."""

BAND = 0.9
"""Share of the resamples whose scores lie in a contestant's band."""


def group_of(key: Key) -> str:
    """Return with what a measure is weighed."""
    return CLEAN if key.name in _FALSE else _FAMILIES.get(key.family, REST)


def weighed(own: Contest, weights: Mapping[str, float] | None = None) -> tuple[Weighed, ...]:
    """Return the contestants best first, by the weighted mean of their ranks.

    Parameters:  weights : group -> how much each of its measures counts for, 0 and above; 1 where left out
    Raises: ParameterError for a group that is not known, or a weight that is no such number
    """
    shares = _shares(own, weights or {})
    scores = own.scores_over(np.ones((1, len(own.frames))), shares)[0]
    standings = own.standings_by(scores)
    known = standings[np.isfinite(standings)]
    low, high, lead = _bands(own, shares)
    found = []
    for k in np.argsort(standings, kind="stable"):  # NaN comes last
        ranked = bool(np.isfinite(standings[k]))
        place = 1 + int((known < standings[k] - 1e-9).sum()) if ranked else None
        values = (_number(each[k]) for each in (scores, low, high, lead))
        found.append(Weighed(int(k), place, *values))
    return tuple(found)


def weighing(own: Contest) -> Weighing | None:
    """Return what a page needs to weigh a contest anew; None with fewer than two that are ranked apart."""
    if np.isfinite(own.scores).sum() < 2 or not any(_tells(measure) for measure in own.deciding):
        return None
    groups = [g for g in GROUPS if any(group_of(m.key) == g for m in own.deciding)]
    counts = frame_counts(own)
    return Weighing(
        own.name,
        own.chains,
        tuple(_weight(own, group) for group in groups),
        tuple(groups.index(group_of(m.key)) for m in own.deciding),
        tuple(tuple(tuple(map(_number, frame)) for frame in m.ranks) for m in own.deciding),
        "" if counts is None else "".join(_DIGITS[int(count)] for count in counts.flat),
        tuple(tuple(own.agreeing(k)) if k in own.captured else () for k in range(len(own.chains))),
        own.beaten,
        weighed(own),
        _span(own, groups),
    )


def _span(own: Contest, groups: Sequence[str]) -> tuple[float, float]:
    """Return between which all scores lie, whatever the weights: those of each group alone, or about one."""
    alone = [_shares(own, {other: float(other == group) for other in groups}) for group in groups]
    scores = np.stack([own.scores_over(np.ones((1, len(own.frames))), shares) for shares in alone])
    low, high = float(np.nanmin(scores)), float(np.nanmax(scores))
    return (low, high) if high > low else (low - 0.5, high + 0.5)


def _weight(own: Contest, group: str) -> Weight:
    measures = [m for m in own.deciding if group_of(m.key) == group]
    return Weight(group, tuple(m.key.short for m in measures), any(_tells(m) for m in measures))


def _tells(measure: Measure) -> bool:
    """Return whether a measure tells any two apart on any frame; else weighing it moves nobody."""
    return bool((measure.outcomes != 0).any())


def _shares(own: Contest, weights: Mapping[str, float]) -> NDArray:
    """Return how much each measure that decides counts for."""
    for group, weight in weights.items():
        if group not in GROUPS:
            raise ParameterError(f"weighing: {group!r} is no group; it must be one of {', '.join(GROUPS)}")
        if not (np.isfinite(weight) and weight >= 0):
            raise ParameterError(f"weighing: {group} is {weight!r}; it must be 0 (not counted) or above")
    return np.array([float(weights.get(group_of(m.key), 1.0)) for m in own.deciding])


def _bands(own: Contest, shares: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Return the ends of the bands of the scores and how often each is alone first, NaN below six frames."""
    counts = frame_counts(own)
    if counts is None:
        return (np.full(len(own.chains), np.nan),) * 3
    scores = own.scores_over(counts, shares)
    ordered = np.sort(scores, axis=0)  # NaN comes last
    cut = round(RESAMPLES * (1 - BAND) / 2)
    whole = np.isfinite(scores).all(axis=0)
    low, high = (np.where(whole, ordered[at], np.nan) for at in (cut, RESAMPLES - 1 - cut))
    return low, high, np.where(whole, alone_first(scores), np.nan)


def _number(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
