"""The title says no more than the verdict: tables of values made up by hand, and what may be said of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from scalesim.jobs.compare.headline import (
    agreement,
    claims_sentence,
    contestants_that_matter,
    finding,
    main_verdict,
)
from scalesim.jobs.compare.place import Ranking
from scalesim.jobs.compare.ranking import rank
from scalesim.jobs.compare.tables import listed

BY = ("detail_kept", "lost_lines")


@dataclass(frozen=True)
class Row:
    frame: str
    chain: str
    metrics: dict[str, float | None]
    raster: str = "240"


def ranked(values: dict[str, tuple[float, float]], frames: int, raster: str = "240") -> Ranking:
    """Return the ranking of chains with the same (detail kept, lines lost) on every frame."""
    rows = [
        Row(f"f{k}", chain, dict(zip(BY, pair, strict=True)), raster)
        for k in range(frames)
        for chain, pair in values.items()
    ]
    return rank(rows, BY, group=lambda row: row.raster)


def said(ranking: Ranking) -> str:
    (verdict,) = ranking.verdicts
    return finding(verdict, ranking.places)


TRADE = {"drop": (0.9, 0.4), "average": (0.6, 0.0)}


def test_a_trade_off_names_both_and_its_frames() -> None:
    """One is better in detail, the other in lines; two frames are "these"."""
    words = said(ranked(TRADE, 2))
    assert (
        words.lower() == "drop keeps more vertical detail, average loses less thin detail on these 2 frames"
    )


def test_a_name_with_a_comma_is_kept_apart() -> None:
    words = said(ranked({"box, captured": (0.9, 0.4), "average": (0.6, 0.0)}, 2))
    assert "box, captured keeps more vertical detail" in words.replace("Box", "box") and "; " in words


def test_a_comma_in_the_last_of_two_names_needs_no_more() -> None:
    assert listed(["soft", "box, captured"]) == "soft and box, captured"
    assert listed(["box, captured", "soft"]) == "box, captured; and soft"
    assert listed(["a", "b", "box, captured"]) == "a; b; and box, captured"


def test_captures_that_agree_with_the_same_are_told_together() -> None:
    """One box on two frames, each with its own matched predictions; a tie says it itself."""
    rows = [Row("f", c, {"detail_kept": v, "lost_lines": 0.0}) for c, v in (("a", 0.9), ("b", 0.5))]
    contests = []
    for box in ("x", "y"):
        own = [*rows, Row("f", box, {"detail_kept": 0.9, "lost_lines": 0.0})]
        contests += rank(own, BY, group=lambda _, box=box: f"matched to {box}", captured=[box]).contests
    assert agreement(contests, None) == "x and y agree with a"
    (tied,) = rank(
        [*rows[:1], Row("f", "x", rows[0].metrics)], BY, group=lambda _: "", captured=["x"]
    ).verdicts
    assert agreement(contests, tied) == "y agrees with a"


def test_from_six_frames_on_it_is_not_of_these_frames_alone() -> None:
    words = said(ranked(TRADE, 6))
    assert "frame" not in words
    assert "keeps more vertical detail" in words and "loses less thin detail" in words
    assert not any(claim in words for claim in ("leads", "first", "best", "wins", "tied"))


@pytest.mark.parametrize(("frames", "words"), [(6, "a leads"), (3, "a comes first on these 3 frames")])
def test_a_first_place_is_a_lead_only_where_a_lead_is_told(frames: int, words: str) -> None:
    assert said(ranked({"a": (0.9, 0.0), "b": (0.6, 0.4)}, frames)).startswith(words)


def test_one_frame_is_one_frame() -> None:
    words = said(ranked({"a": (0.9, 0.0), "b": (0.6, 0.4)}, 1))
    assert words.startswith("a comes first on this frame") and "leads" not in words


def test_a_tie_claims_no_difference() -> None:
    ranking = ranked({"a": (0.9, 0.2), "b": (0.9, 0.2)}, 3)
    assert said(ranking) == "a and b tie for first on these 3 frames"
    assert claims_sentence(ranking.verdicts[0]) == ""


def test_alone_or_unrated_nothing_is_found() -> None:
    assert said(ranked({"a": (0.9, 0.2)}, 3)) == ""
    assert said(ranked({"a": (np.nan, np.nan), "b": (np.nan, np.nan)}, 3)) == ""
    assert finding(None) == ""


def test_what_the_position_may_turn_is_said_of_this_position() -> None:
    """0.04 of lost lines is above what the measure resolves and below what a position moves it by, 0.254."""
    words = said(ranked({"a": (0.9, 0.10), "b": (0.6, 0.06)}, 2))
    assert "b loses less thin detail at this position" in words or "b loses less thin detail at this" in words


def test_a_first_place_among_others_names_its_screen() -> None:
    one = [
        Row("f", c, {"detail_kept": v, "lost_lines": 0.0}, "240 scan lines")
        for c, v in (("a", 0.9), ("b", 0.5))
    ]
    two = [Row("f", "c", {"detail_kept": 0.99, "lost_lines": 0.0}, "480 interlaced lines")]
    ranking = rank([*one, *two], BY, group=lambda row: row.raster)
    main = main_verdict(ranking.verdicts, {"240 scan lines": 2, "480 interlaced lines": 1})
    assert main is not None and main.raster == "240 scan lines"
    assert finding(main, ranking.places).startswith("a comes first on 240 scan lines, on this frame")


def test_who_is_shown() -> None:
    """Winner and last, the ends of a trade-off, two that tie; of one alone, that."""
    for values, expected in (
        ({"a": (0.9, 0.0), "b": (0.7, 0.2), "c": (0.6, 0.4)}, ["a", "c"]),
        (TRADE, ["average", "drop"]),
        ({"a": (0.9, 0.2), "b": (0.9, 0.2)}, ["a", "b"]),
        ({"a": (0.9, 0.2)}, ["a"]),
    ):
        ranking = ranked(values, 3)
        found = contestants_that_matter(ranking.verdicts[0], ranking.places, list(values))
        assert sorted(found) == expected


def test_claims_carry_their_medians_and_frames() -> None:
    """As the verdict's own sentence does: 0 against 40 % lost, 90 against 60 % kept, of two frames."""
    words = claims_sentence(ranked(TRADE, 2).verdicts[0])
    assert "average loses less thin detail than drop (0 against 40 % of thin detail)" in words
    assert "drop keeps more vertical detail than average (90 against 60 % of the detail)" in words
    assert words.endswith("; medians of 2 frames.")
