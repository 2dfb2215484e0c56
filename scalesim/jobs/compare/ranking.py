"""Ranking: mean of ranks over frames and metrics, per output raster, each place with its reason."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Protocol, TypeVar

import numpy as np

from scalesim.jobs.compare.place import Place
from scalesim.jobs.compare.verdict import place_reason
from scalesim.metrics import key_of

DEFAULT_BY = ("edge_spread_lines", "line_doubling", "lost_lines", "staircase", "flicker_percent")


class Scored(Protocol):
    """What ranking needs of a row."""

    @property
    def frame(self) -> str: ...
    @property
    def chain(self) -> str: ...
    @property
    def metrics(self) -> Mapping[str, float | None]: ...


R = TypeVar("R", bound=Scored)


def rank(rows: Sequence[R], by: tuple[str, ...], *, group: Callable[[R], str]) -> list[Place]:
    """Return the places, group by group, best first; `group` says with whom a row is ranked.

    For every frame and metric the chains are ranked, 1 the best, equal values sharing the mean of
    their ranks (values within 1e-6 count as equal); a chain without a value is left out of that one. A
    chain's score is the mean of its ranks over all frames and metrics. Chains of equal score share a
    place.
    """
    groups: dict[str, list[R]] = {}
    for row in rows:
        groups.setdefault(group(row), []).append(row)
    return [place for name, members in groups.items() for place in _rank_group(name, members, by)]


def _rank_group(raster: str, rows: Sequence[Scored], by: tuple[str, ...]) -> list[Place]:
    ranks: dict[str, list[float]] = {row.chain: [] for row in rows}
    frames = dict.fromkeys(row.frame for row in rows)
    for frame in frames:
        for key in by:
            found = {r.chain: r.metrics.get(key) for r in rows if r.frame == frame}
            known = {chain: value for chain, value in found.items() if value is not None}
            for chain, place in _ranks(known, key_of(key).better).items():
                ranks[chain].append(place)
    scores = {chain: float(np.mean(places)) for chain, places in ranks.items() if places}
    medians = {chain: _medians(rows, chain, by) for chain in scores}
    order = sorted(scores, key=lambda chain: scores[chain])
    places = []
    for chain in order:
        number = 1 + sum(1 for other in scores.values() if other < scores[chain] - 1e-9)
        reason = place_reason(chain, medians, by)
        places.append(Place(raster, chain, number, scores[chain], reason, medians[chain], len(frames)))
    return places


def _ranks(values: Mapping[str, float], better: str) -> dict[str, float]:
    """Return rank 1 for the best; equal values share the mean of their ranks."""
    sign = -1.0 if better == "higher" else 1.0
    numbers = np.array([round(sign * value, 6) for value in values.values()])
    _, group, equal = np.unique(numbers, return_inverse=True, return_counts=True)
    ranks = np.cumsum(equal) - (equal - 1) / 2
    return dict(zip(values, ranks[group].tolist(), strict=True))


def _medians(rows: Iterable[Scored], chain: str, by: tuple[str, ...]) -> dict[str, float | None]:
    """Return the median over frames of each metric, None where no frame has it."""
    found: dict[str, float | None] = {}
    for key in by:
        values = [row.metrics.get(key) for row in rows if row.chain == chain]
        known = [value for value in values if value is not None]
        found[key] = float(np.median(known)) if known else None
    return found
