"""Whom a comparison's viewer opens with, from rankings made up by hand."""

from __future__ import annotations

from scalesim.jobs.compare.pair import pair_of
from scalesim.jobs.compare.place import Place, Standing, Verdict


def place(raster: str, chain: str, rank: int | None) -> Place:
    return Place(raster, chain, rank, None, "", {}, {}, 1)


RANKING = [place("240", "a", 1), place("240", "b", 2), place("240", "c", 3), place("480", "d", 1)]


def test_the_ends_of_a_trade_off() -> None:
    ends = (Standing("c", (), ()), Standing("a", (), ()))
    assert pair_of([Verdict("240", "trade-off", ends=ends)], RANKING) == ("c", "a")


def test_first_and_last_of_the_first_screen_with_two() -> None:
    alone, leader = Verdict("480", "alone"), Verdict("240", "leader", "a")
    assert pair_of([alone, leader], RANKING) == ("a", "c")


def test_nobody_where_one_is_alone_or_nobody_rated() -> None:
    assert pair_of([Verdict("480", "alone")], RANKING) == ()
    assert pair_of([Verdict("480", "not rated")], [place("480", "d", None), place("480", "e", None)]) == ()
