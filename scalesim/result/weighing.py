"""The order of chains by weights that a reader sets, as data."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Weight:
    """Measures that are weighed together: their name, what they are, and whether they tell anyone apart."""

    label: str
    measures: tuple[str, ...]
    tells: bool


@dataclass(frozen=True)
class Weighed:
    """A contestant's place at some weights.

    Parameters:
        chain : number among the contestants
        place : 1 is best, shared in a tie; score : weighted mean of its ranks; None where nothing counts
        low, high : between which its score lies in 90 % of resamples of the frames
        lead : share of the resamples in which it alone is first; these three None below six frames
    """

    chain: int
    place: int | None
    score: float | None
    low: float | None
    high: float | None
    lead: float | None


@dataclass(frozen=True)
class Weighing:
    """A ranking that a reader weighs: what its order follows from, and the order at equal weights.

    Parameters:
        name : what the contestants share; chains : their names
        weights : the groups that are weighed; groups : of each measure, the number of its group
        ranks : of each measure and frame, the rank of every contestant, None where it has none
        draws : resample by resample how often each frame counts, a digit each of 0-9 and a-z; "" below six
            frames
        agreeing : of each captured contestant, the predictions whose place it shares
        beaten : whether another is better than each in something and worse in nothing
        equal : the order when all count alike, best first
        span : the least and the largest score that any weights give
    """

    name: str
    chains: tuple[str, ...]
    weights: tuple[Weight, ...]
    groups: tuple[int, ...]
    ranks: tuple[tuple[tuple[float | None, ...], ...], ...]
    draws: str
    agreeing: tuple[tuple[int, ...], ...]
    beaten: tuple[bool, ...]
    equal: tuple[Weighed, ...]
    span: tuple[float, float]
