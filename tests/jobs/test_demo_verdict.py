"""The demonstration's verdicts, by hand: who is ahead by what, a trade is no victory, a tie is called one."""

from __future__ import annotations

import pytest

from scalesim.jobs.demo.verdict import verdict

NAMES = ("drop", "average")


def said(one: dict[str, float | None], other: dict[str, float | None]) -> str:
    return verdict(NAMES, (one, other), tuple(one))


def test_a_trade_is_no_victory() -> None:
    text = said({"lost_lines": 0.54, "flicker_percent": 0.0}, {"lost_lines": 0.0, "flicker_percent": 3.6})
    assert text == (
        "Neither wins both: drop has less flicker (0.0 % against 3.6 %); "
        "average has less lost thin detail (0 % against 54 %) (1 frame)."
    )


def test_a_winner_and_fewer_of_what_is_counted() -> None:
    text = said({"staircase": 1.0, "detail_kept": 0.5}, {"staircase": 0.25, "detail_kept": 0.9})
    assert text == (
        "Average has fewer stairs (25 % against 100 %) and more vertical detail kept (90 % against 50 %) "
        "(1 frame)."
    )


@pytest.mark.parametrize(("other", "ties"), [(0.004, True), (0.5, False)])
def test_less_than_what_says_nothing_is_a_tie(other: float, ties: bool) -> None:
    """0.4 points of lost detail are below the resolution of a share, 0.5 points; 50 are not."""
    text = said({"lost_lines": 0.0}, {"lost_lines": other})
    assert text.startswith("They tie in lost thin detail (0 % and 0 %)") == ties


def test_above_all_there_is_counts_as_all() -> None:
    """Detail above 1 foretells its own aliases and is no better than 1: 1.17 and 1.05 tie."""
    text = said({"detail_kept": 1.17}, {"detail_kept": 1.05})
    assert text == "They tie in vertical detail kept (117 % and 105 %) (1 frame)."


def test_what_was_not_measured_is_left_out() -> None:
    assert "flicker (" in said(
        {"staircase": None, "flicker_percent": 1.0}, {"staircase": 1.0, "flicker_percent": 2.0}
    )
    assert said({"staircase": None}, {"staircase": 1.0}).startswith(
        "drop and average: nothing that would tell"
    )
