"""Which candidate to dial in, and how sure that is.

Everything here is about a grid of scores: which candidates tie with the best, which of those to take,
how far the setting may be off before the score suffers, how much worse the next valley is, and whether
the curve says anything at all. No picture, no chain.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from scalesim.search.grid import Place

_ALIKE = 1e-6
"""Costs within this are one cost: the same operator reached in two ways."""


@dataclass(frozen=True)
class Verdict:
    """The chosen place of a grid.

    Parameters:
        best : its indices, one per dial
        ties : every place within a tie of the lowest cost, in the order of the grid, the best among them
        margin : how much more the best place costs that lies beyond the best one's surroundings, None
            when there is none; surroundings are the places joined to it that cost at most `holds` more
        holds : per dial, the first and last index around the best along that dial alone within `holds`
    """

    best: Place
    ties: tuple[Place, ...]
    margin: float | None
    holds: tuple[tuple[int, int], ...]


def judge(
    costs: Mapping[Place, float],
    ordered: Sequence[bool],
    *,
    tie: float,
    holds: float,
    distance: Callable[[Place], float],
) -> Verdict:
    """Return the place to take of those with a known cost (at least one), lower being better.

    Ties come in groups of neighbours: the group that is nearest to the present setting is taken, as the
    one that asks for the least turning, and in it the place of lowest cost; where several cost the same
    (the flat floor of a line drop), the one in the middle.

    Parameters:
        ordered : per dial, whether neighbouring indices are alike
        tie, holds : differences of cost
        distance : how far a place is from the present setting
    """
    lowest = min(costs.values())
    ties = sorted(place for place, cost in costs.items() if cost <= lowest + tie)
    groups = _groups(ties, ordered)
    group = min(groups, key=lambda places: min(distance(place) for place in places))
    best = _middle_of_lowest(group, costs, distance)
    limit = costs[best] + holds
    near = _joined(best, [place for place, cost in costs.items() if cost <= limit], ordered)
    beyond = [cost for place, cost in costs.items() if place not in near]
    margin = max(0.0, min(beyond) - costs[best]) if beyond else None
    spans = tuple(_span(best, dial, costs, limit, order) for dial, order in enumerate(ordered))
    return Verdict(best, tuple(ties), margin, spans)


def _middle_of_lowest(
    group: Sequence[Place], costs: Mapping[Place, float], distance: Callable[[Place], float]
) -> Place:
    lowest = min(costs[place] for place in group)
    floor = [place for place in group if costs[place] <= lowest + _ALIKE]
    middle = [(min(at) + max(at)) / 2 for at in zip(*floor, strict=True)]

    def off(place: Place) -> float:
        return sum((a - b) ** 2 for a, b in zip(place, middle, strict=True))

    return min(floor, key=lambda place: (off(place), distance(place), place))


def _groups(places: Sequence[Place], ordered: Sequence[bool]) -> list[list[Place]]:
    left = dict.fromkeys(places)
    groups = []
    while left:
        members = _joined(next(iter(left)), left, ordered)
        groups.append([place for place in left if place in members])
        left = dict.fromkeys(place for place in left if place not in members)
    return groups


def _joined(
    start: Place, places: Sequence[Place] | Mapping[Place, None], ordered: Sequence[bool]
) -> set[Place]:
    """Return the places joined to `start` by steps of one index on the ordered dials, diagonals too."""
    allowed = set(places)
    moves = [move for move in product(*((-1, 0, 1) if order else (0,) for order in ordered)) if any(move)]
    found, edge = {start}, [start]
    while edge:
        at = edge.pop()
        for move in moves:
            step = tuple(a + b for a, b in zip(at, move, strict=True))
            if step in allowed and step not in found:
                found.add(step)
                edge.append(step)
    return found


def _span(
    best: Place, dial: int, costs: Mapping[Place, float], limit: float, ordered: bool
) -> tuple[int, int]:
    """Return the first and last index along one dial that stay within the limit, the best between them."""
    ends = []
    for way in (-1, 1):
        at = best[dial]
        while ordered:
            step = (*best[:dial], at + way, *best[dial + 1 :])
            if costs.get(step, float("inf")) > limit:
                break
            at += way
        ends.append(at)
    return ends[0], ends[1]
