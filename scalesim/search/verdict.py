"""Which candidate to dial in, and how sure that is.

Everything here is about a grid of scores: which candidates tie with the best, which of those to take,
how far the setting may be off before the score suffers, and how much worse the next different optimum is.
No picture, no chain.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from scalesim.search.grid import Place
from scalesim.search.repeats import repeat_of

HOLDS = 3
"""A setting holds as long as the score stays within this many ties of the best."""
_ALIKE, _ROUNDING = 0.1, 1e-6


def alike(tie: float) -> float:
    """Return the difference of costs up to which two places cost the same.

    A tenth of a tie: what moving the picture changes by the lines at its border that come and go, the same
    lines being kept of all others. Definition of this project.
    """
    return max(_ALIKE * tie, _ROUNDING)


@dataclass(frozen=True)
class Verdict:
    """The chosen place of a grid.

    Parameters:
        best : its indices, one per dial
        ties : every place within a tie of the lowest cost, in the order of the grid, the best among them
        margin : how much more the next different optimum costs, None when there is none
        rival : that optimum: the lowest valley that is not joined to the best place by places that cost at
            most `holds` more, and no repeat of it
        repeats : after how many steps of a single dial the curve repeats, None when it does not
        holds : per dial, the first and last index around the best along that dial alone within `holds`
    """

    best: Place
    ties: tuple[Place, ...]
    margin: float | None
    rival: Place | None
    repeats: int | None
    holds: tuple[tuple[int, int], ...]


def judge(
    costs: Mapping[Place, float],
    ordered: Sequence[bool],
    *,
    tie: float,
    holds: float,
    distance: Callable[[Place], float],
    sizes: Sequence[int] = (),
) -> Verdict:
    """Return the place to take of those with a known cost (at least one), lower being better.

    Ties come in groups of neighbours. Each group offers its place of lowest cost; where several cost the
    same (the flat floor of a line drop), the one nearest to the present setting. Of the groups' offers the
    nearest is taken, as it asks for the least turning; of two as near, the cheaper.

    Parameters:
        ordered : per dial, whether neighbouring indices are alike
        tie, holds : differences of cost
        distance : how far a place is from the present setting
        sizes : values per dial; given for dials with even steps, whose repeats are then looked for
    """
    lowest = min(costs.values())
    ties = sorted(place for place, cost in costs.items() if cost <= lowest + tie)
    groups = _groups(ties, ordered)
    offers = [_nearest_of_lowest(group, costs, distance, alike(tie)) for group in groups]
    best = min(offers, key=lambda place: (_rounded(distance(place)), costs[place], place))
    limit = costs[best] + holds
    near = _joined(best, [place for place, cost in costs.items() if cost <= limit], ordered)
    repeats = _repeats(costs, ordered, sizes, tie)
    valleys = [v for v in _valleys(costs, ordered) if v not in near and not _is_repeat(v, near, repeats)]
    rival = min(valleys, key=lambda place: (costs[place], place)) if valleys else None
    margin = None if rival is None else max(0.0, costs[rival] - costs[best])
    spans = tuple(_span(best, dial, costs, limit, order) for dial, order in enumerate(ordered))
    return Verdict(best, tuple(ties), margin, rival, repeats, spans)


def _nearest_of_lowest(
    group: Sequence[Place],
    costs: Mapping[Place, float],
    distance: Callable[[Place], float],
    same: float,
) -> Place:
    """Return the nearest of a group's cheapest places; of two as near, the one deeper in the floor."""
    lowest = min(costs[place] for place in group)
    floor = [place for place in group if costs[place] <= lowest + same]
    middle = [(min(at) + max(at)) / 2 for at in zip(*floor, strict=True)]

    def off(place: Place) -> float:
        return sum((a - b) ** 2 for a, b in zip(place, middle, strict=True))

    return min(floor, key=lambda place: (_rounded(distance(place)), off(place), place))


def _rounded(distance: float) -> float:
    """Return a distance without the rounding of its arithmetic: -1 and +1 are as near."""
    return round(distance, 9)


def _repeats(
    costs: Mapping[Place, float], ordered: Sequence[bool], sizes: Sequence[int], tie: float
) -> int | None:
    if len(sizes) != 1 or not ordered[0]:
        return None
    return repeat_of([costs.get((at,), float("nan")) for at in range(sizes[0])], tie)


def _is_repeat(place: Place, near: set[Place], repeats: int | None) -> bool:
    """Return whether a place is whole repeats away from the best one's surroundings, within a step."""
    if repeats is None:
        return False
    off = [abs(place[0] - other[0]) % repeats for other in near]
    return any(min(o, repeats - o) <= 1 for o in off)


def _valleys(costs: Mapping[Place, float], ordered: Sequence[bool]) -> list[Place]:
    """Return places that no neighbour is cheaper than; an end counts: what lies beyond is unknown."""
    moves = [move for move in product(*((-1, 0, 1) if order else (0,) for order in ordered)) if any(move)]
    found = []
    for place, cost in costs.items():
        around = [tuple(a + b for a, b in zip(place, move, strict=True)) for move in moves]
        known = [costs[other] for other in around if other in costs]
        if all(cost <= other for other in known):
            found.append(place)
    return found


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
