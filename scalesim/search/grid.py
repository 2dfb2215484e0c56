"""Which settings to try: all of them for one or two dials, coarse to fine for more.

A grid of dials is searched whole when there are one or two, because a picture that repeats every few
lines gives a score with many valleys, and the curve is part of the answer. With three or more, every
numeric dial is first tried at a few places over its whole range; then the neighbours of the several best
places, at half the distance, again and again until the dials' own steps are reached. The several best
are kept apart from each other, so that the search never walks down into one valley blindly. Dials
without an order (``squeeze``, ``crop``) are tried at every value from the start.

Numbers only: a place is a tuple of indices, one per dial.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import product
from math import prod

Place = tuple[int, ...]

GRID_DIALS = 2
"""Up to this many dials the whole grid is tried."""

COARSE_PLACES = 1000
"""About this many places are tried first when there are more dials."""

KEPT = 6
"""Places whose neighbours are tried at each finer step."""


def search(
    sizes: Sequence[int], ordered: Sequence[bool], costs: Callable[[Sequence[Place]], Sequence[float | None]]
) -> list[Place]:
    """Return every place tried, in the order of the grid.

    Parameters:
        sizes : values per dial
        ordered : per dial, whether neighbouring values are alike
        costs : the cost of each place (lower is better, None for none); called once with places not seen
            before, and again with all places seen so far when finer ones are chosen
    """
    if len(sizes) <= GRID_DIALS:
        places = list(product(*map(range, sizes)))
        costs(places)
        return places
    stride = strides(sizes, ordered)
    tried = dict.fromkeys(product(*map(_coarse, sizes, stride)))
    while True:
        found = costs(list(tried))
        known = {place: cost for place, cost in zip(tried, found, strict=True) if cost is not None}
        best = several_best(known, stride)
        finest = max(stride) == 1
        stride = tuple(max(1, (step + 1) // 2) for step in stride)
        more = [place for place in _around(best, sizes, ordered, stride) if place not in tried]
        if not more and finest:
            return sorted(tried)
        tried.update(dict.fromkeys(more))


def planned(sizes: Sequence[int], ordered: Sequence[bool]) -> int:
    """Return how many places `search` tries before it refines: all of the grid for one or two dials."""
    if len(sizes) <= GRID_DIALS:
        return prod(sizes)
    return prod(len(_coarse(size, step)) for size, step in zip(sizes, strides(sizes, ordered), strict=True))


def strides(sizes: Sequence[int], ordered: Sequence[bool]) -> tuple[int, ...]:
    """Return the first distance of the tried values, per dial: `COARSE_PLACES` places in all, about."""
    fixed = prod(size for size, order in zip(sizes, ordered, strict=True) if not order)
    dials = sum(ordered) or 1
    each = max(3, int((COARSE_PLACES / fixed) ** (1 / dials)))
    return tuple(
        max(1, -(-(size - 1) // (each - 1))) if order else 1
        for size, order in zip(sizes, ordered, strict=True)
    )


def _coarse(size: int, step: int) -> list[int]:
    return sorted({*range(0, size, step), size - 1})


def several_best(known: dict[Place, float], stride: Place) -> list[Place]:
    """Return up to `KEPT` places of lowest cost, none within one stride of a better one on every dial."""
    chosen: list[Place] = []
    for place in sorted(known, key=lambda place: (known[place], place)):
        apart = all(
            any(abs(a - b) > step for a, b, step in zip(place, other, stride, strict=True))
            for other in chosen
        )
        if apart:
            chosen.append(place)
        if len(chosen) == KEPT:
            break
    return chosen


def _around(
    best: Iterable[Place], sizes: Sequence[int], ordered: Sequence[bool], stride: Place
) -> list[Place]:
    """Return the neighbours of places at this distance, diagonal ones too; any value of unordered dials."""
    found: dict[Place, None] = {}
    for place in best:
        choices = [
            [i for i in (at - step, at, at + step) if 0 <= i < size] if order else range(size)
            for at, size, order, step in zip(place, sizes, ordered, stride, strict=True)
        ]
        found.update(dict.fromkeys(product(*choices)))
    return list(found)
