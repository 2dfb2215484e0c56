"""Searching grids: everything for one or two dials, coarse to fine for more, never blind."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import product

import numpy as np
import pytest

from scalesim.search.grid import Place, planned, search, strides
from scalesim.search.verdict import judge


def run(cost: Callable[[Place], float | None], sizes: Sequence[int], ordered: Sequence[bool] | None = None):
    """Return (places tried, the best of them)."""
    seen: dict[Place, float | None] = {}

    def costs(places: Sequence[Place]) -> list[float | None]:
        for place in places:
            if place not in seen:
                seen[place] = cost(place)
        return [seen[place] for place in places]

    places = search(sizes, ordered or [True] * len(sizes), costs)
    known = {place: c for place in places if (c := seen[place]) is not None}
    return places, min(known, key=lambda place: known[place])


@pytest.mark.parametrize("sizes", [(7,), (5, 9)])
def test_one_or_two_dials_are_tried_whole(sizes: tuple[int, ...]) -> None:
    places, _ = run(lambda place: float(sum(place)), sizes)
    assert places == list(product(*map(range, sizes))) and planned(sizes, [True] * len(sizes)) == len(places)


def test_three_dials_find_the_deepest_of_many_valleys() -> None:
    """60 landscapes of four bowls, the deepest up to 3 % deeper: right against all 9261 places.

    A walk downhill from the middle (the same rule with one place kept) is right far less often.
    """
    found, sizes = [], (21, 21, 21)
    grid = np.stack(np.meshgrid(*map(np.arange, sizes), indexing="ij"), axis=-1).reshape(-1, 3)
    downhill = []
    for seed in range(60):
        random = np.random.RandomState(seed)
        middles, depths = random.uniform(0, 20, (4, 3)), random.uniform(0.5, 1, 4)

        def cost(places: np.ndarray, middles=middles, depths=depths) -> np.ndarray:
            away = ((places[:, None] - middles) ** 2).sum(axis=2)
            return -(depths * np.exp(-away / 50)).max(axis=1)

        values = cost(grid)
        _, best = run(lambda place: float(cost(np.array([place]))[0]), sizes)
        found.append(cost(np.array([best]))[0] <= values.min() + 1e-12)
        at = np.array([10, 10, 10])
        while True:
            near = grid[(np.abs(grid - at) <= 1).all(axis=1)]
            step = near[cost(near).argmin()]
            if (step == at).all():
                break
            at = step
        downhill.append(cost(at[None])[0] <= values.min() + 1e-12)
    assert np.mean(found) == 1.0
    assert np.mean(downhill) < 0.8


def test_more_dials_try_far_less_than_the_grid() -> None:
    sizes = (65, 21, 21)
    places, best = run(lambda p: abs(p[0] - 41) + abs(p[1] - 3) + abs(p[2] - 20), sizes)
    assert best == (41, 3, 20) and len(places) < 0.1 * 65 * 21 * 21
    assert len(places) == len(set(places)) and places == sorted(places)


def test_unordered_dials_are_tried_at_every_value() -> None:
    """A value of a word says nothing about its neighbours: the one good word is found anywhere."""
    for word in range(7):
        _, best = run(
            lambda p, word=word: (p[0] != word) + abs(p[1] - 5) + p[2], (7, 9, 9), (False, True, True)
        )
        assert best == (word, 5, 0)


def test_places_without_a_cost_are_no_valleys() -> None:
    _, best = run(lambda p: None if p[0] < 4 else float(sum(p)), (9, 9, 9))
    assert best == (4, 0, 0)
    assert strides((9, 9, 9), (True,) * 3) == (1, 1, 1)


# the verdict


def verdict(costs: Sequence[float], present: int = 0, tie: float = 0.005, holds: float = 0.05):
    grid = {(k,): cost for k, cost in enumerate(costs)}
    return judge(grid, [True], tie=tie, holds=holds, distance=lambda place: abs(place[0] - present))


def test_of_ties_the_nearest_group_is_taken() -> None:
    costs = [0.5, 0.1, 0.5, 0.9, 0.5, 0.103, 0.5, 0.9]
    assert verdict(costs, present=6).best == (5,)
    assert verdict(costs, present=2).best == (1,)
    assert verdict(costs, present=6).ties == ((1,), (5,))
    assert verdict([0.5, 0.1, 0.5, 0.9, 0.5, 0.11, 0.5], present=6).best == (1,)  # 0.01 is no tie


def test_of_a_flat_floor_the_nearest_is_taken() -> None:
    floor = [0.5, 0.1, 0.1, 0.1, 0.1, 0.1, 0.7]
    assert [verdict(floor, present=present).best for present in (0, 2, 6)] == [(1,), (2,), (5,)]
    assert verdict([0.5, 0.1, 0.1, 0.098, 0.1, 0.7]).best == (3,)  # a lower one of the group is taken
    assert verdict([0.5, 0.1, 0.1, 0.0999, 0.1, 0.7]).best == (1,)  # a tenth of a tie is not lower


def test_of_equal_groups_the_one_whose_offer_is_nearest_is_taken() -> None:
    """A tie beside a distant best place does not make that place near."""
    costs = [0.1, 0.104, 0.104, 0.104, 0.5, 0.1, 0.5]
    assert verdict(costs, present=3).best == (5,)
    level = [0.1, 0.5, 0.5, 0.5, 0.1]
    assert verdict(level, present=2).best == (0,) and verdict(level, present=2).ties == ((0,), (4,))
    assert verdict([0.102, 0.5, 0.5, 0.5, 0.1], present=2).best == (4,)  # of two as near, the cheaper


def test_margin_begins_where_the_floor_ends() -> None:
    assert verdict([0.5, 0.1, 0.14, 0.4, 0.9, 0.3]).margin == pytest.approx(0.2)
    assert verdict([0.1, 0.12, 0.11]).margin is None
    assert verdict([0.1, 0.9, 0.1], tie=0).margin == 0.0  # another valley is as deep


def test_holds_as_far_as_the_score_stays() -> None:
    assert verdict([0.5, 0.14, 0.1, 0.12, 0.14, 0.2]).holds == ((1, 4),)
    assert verdict([0.5, 0.1, 0.5]).holds == ((1, 1),)
