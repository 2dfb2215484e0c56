"""Rankings say no more than was measured: missing values, ties, few frames, trade-offs, kinds of frames.

Values are made by hand, so that what is right is plain from the case. The rules (six frames, a lead of
0.95, a distance of 0.5) were measured on 22 frames, see `scalesim.jobs.compare.verdict`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from scalesim.jobs.compare.place import Ranking, Verdict
from scalesim.jobs.compare.ranking import rank
from scalesim.jobs.compare.tables import frames_of, standing_tables
from scalesim.jobs.compare.verdict_words import kinds_sentence

FLICKER, LOST, SPLIT = "flicker_percent", "lost_lines", "line_doubling"
DETAIL = "detail_kept"
Values = dict[str, dict[str, list[float | None]]]


@dataclass
class FakeRow:
    """What ranking needs of a row."""

    frame: str
    chain: str
    metrics: dict[str, float | None]


def ranked(values: Values, *, captured: tuple[str, ...] = (), kind: str = "") -> Ranking:
    """Rank chain -> metric -> the value of each frame."""
    rows, by = [], tuple(dict.fromkeys(key for found in values.values() for key in found))
    count = len(next(iter(next(iter(values.values())).values())))
    for chain, found in values.items():
        rows += [FakeRow(str(n), chain, {key: found[key][n] for key in found}) for n in range(count)]
    kinds = {str(n): kind for n in range(count)}
    return rank(rows, by, group=lambda _: "one screen", kinds=kinds, captured=captured)


def only(values: Values, **options) -> Verdict:
    (verdict,) = ranked(values, **options).verdicts
    return verdict


def spread(low: float, high: float, count: int) -> list[float]:
    return np.linspace(low, high, count).tolist()


def test_one_frame_of_seven_crowns_nobody() -> None:
    """A measure that one frame of seven has decides nothing and is named; the others decide."""
    lone: list[float | None] = [0.1, *[None] * 6]
    found = only(
        {
            "a": {FLICKER: spread(4, 5, 7), LOST: lone},
            "b": {FLICKER: spread(2, 3, 7), LOST: [0.9, *[None] * 6]},
        }
    )
    assert found.leader == "b" and found.undecided == {LOST: 1} and found.decided_by == {FLICKER: 7}
    assert any(
        "Left out of the ranking: lost thin detail" in words and "1 of 7" in words for words in found.words
    )


def test_a_contestant_missing_a_measure_is_not_rated_on_it() -> None:
    """It misses it on 4 of 7 frames; the others keep it, over all 7, and it is never named the leader."""
    some: list[float | None] = [0.0, 0.0, 0.0, None, None, None, None]
    made = ranked(
        {
            "a": {FLICKER: [1.0] * 7, LOST: some},
            "b": {FLICKER: [5.0] * 7, LOST: [0.2] * 7},
            "c": {FLICKER: [9.0] * 7, LOST: [0.4] * 7},
        }
    )
    (verdict,) = made.verdicts
    places = {place.chain: place for place in made.places}
    assert places["a"].not_rated == (LOST,) and places["a"].frames == {FLICKER: 7, LOST: 3}
    assert verdict.decided_by == {FLICKER: 7, LOST: 7}
    assert verdict.leader is None
    told = "On one screen: a is not rated on lost thin detail (measured on 3 of 7 frames)."
    assert told in verdict.words, verdict.words
    assert places["b"].score == pytest.approx(1.5) and places["c"].score == pytest.approx(2.5)


def test_a_frame_that_one_misses_is_left_out_for_all() -> None:
    """Frame 0 would put b first; a misses it there, so it is no frame to compare them on."""
    gap: list[float | None] = [None, 1.0, 1.0, 1.0]
    found = ranked({"a": {FLICKER: gap}, "b": {FLICKER: [0.0, 5.0, 5.0, 5.0]}})
    assert [(p.chain, p.score, p.frames) for p in found.places] == [
        ("a", 1.0, {FLICKER: 3}),
        ("b", 2.0, {FLICKER: 4}),
    ]
    assert found.verdicts[0].decided_by == {FLICKER: 3}


def test_no_values_at_all() -> None:
    """Nothing crashes, nobody has a place, and the words say what could not be had."""
    nothing: list[float | None] = [None, None]
    found = ranked({"a": {FLICKER: nothing, LOST: nothing}, "b": {FLICKER: nothing, LOST: nothing}})
    assert [(p.rank, p.score, p.lead) for p in found.places] == [(None, None, None)] * 2
    assert found.places[0].reason == "not rated: none of the measures could be taken"
    (verdict,) = found.verdicts
    assert verdict.verdict == "not rated" and "0 of 2 frames" in verdict.words[0]
    alone = ranked({"a": {FLICKER: nothing}})
    assert alone.places[0].rank is None and alone.verdicts[0].verdict == "alone"


def test_one_chain_is_alone() -> None:
    found = ranked({"a": {FLICKER: [1.0, 2.0]}})
    assert [(p.rank, p.score, p.reason) for p in found.places] == [(1, 1.0, "the only one on its screen")]
    assert found.verdicts[0].verdict == "alone" and "only one chain" in found.verdicts[0].words[0]


@pytest.mark.parametrize("frames", [1, 2, 5, 6, 12])
def test_a_leader_from_six_frames_on(frames: int) -> None:
    """The same clear order: under six frames there is no lead, and the words are of these frames."""
    made = ranked({"a": {FLICKER: spread(1, 2, frames)}, "b": {FLICKER: spread(5, 6, frames)}})
    (verdict,) = made.verdicts
    leads = [place.lead for place in made.places]
    if frames < 6:
        assert leads == [None, None] and verdict.verdict == "first on these frames"
        these = "On this one frame" if frames == 1 else f"On these {frames} frames"
        assert verdict.words[0].startswith(these) and "comes first" in verdict.words[0]
        assert "lead" not in verdict.words[0]
    else:
        assert leads == [1.0, 0.0] and verdict.verdict == "leader" and verdict.leader == "a"
        assert f"over {frames} frames" in verdict.words[0] and "a leads" in verdict.words[0]


def test_equal_values_tie_and_have_no_superlative() -> None:
    """Equal in one measure, within its resolution in the other: nobody is best, and nobody leads."""
    found = ranked(
        {"a": {FLICKER: [2.0] * 8, LOST: [0.100] * 8}, "b": {FLICKER: [2.1] * 8, LOST: [0.110] * 8}}
    )
    assert [place.rank for place in found.places] == [1, 1]
    assert [place.lead for place in found.places] == [0.0, 0.0]
    assert all("steadiest" not in p.reason and "least" not in p.reason for p in found.places)
    (verdict,) = found.verdicts
    assert verdict.verdict == "tied" and verdict.tied == ("a", "b") and verdict.leader is None
    assert "a and b tie for first" in verdict.words[0]


def test_ties_do_not_chain() -> None:
    """0.00, 0.01 and 0.02 lost with a tie of 0.015: neighbours tie, the ends do not. Ranks 1.5, 2, 2.5."""
    found = ranked({"a": {LOST: [0.0]}, "b": {LOST: [0.01]}, "c": {LOST: [0.02]}})
    assert [(p.chain, p.score) for p in found.places] == [("a", 1.5), ("b", 2.0), ("c", 2.5)]


@pytest.mark.parametrize(
    ("one", "other", "ties"), [(0.0, 0.019, True), (0.0, 0.03, False), (10, 10.5, True), (10, 10.7, False)]
)
def test_flicker_ties_at_two_hundredths_or_six_percent(one: float, other: float, ties: bool) -> None:
    scores = [place.score for place in ranked({"a": {FLICKER: [one]}, "b": {FLICKER: [other]}}).places]
    assert scores == ([1.5, 1.5] if ties else [1.0, 2.0])


def test_captures_resolve_less() -> None:
    """3.0 and 3.3 % flicker differ between predictions (6 %), not where a capture takes part (12 %)."""
    values: Values = {"a": {FLICKER: [3.0]}, "b": {FLICKER: [3.3]}}
    assert [p.score for p in ranked(values).places] == [1.0, 2.0]
    assert [p.score for p in ranked(values, captured=("b",)).places] == [1.5, 1.5]


def test_a_trade_off_names_both_ends_and_the_middle_does_not_win() -> None:
    """a is steadiest and loses most, c the reverse, b is between in both: three mean ranks of 2."""
    made = ranked(
        {
            "a": {FLICKER: [1.0] * 8, LOST: [0.6] * 8},
            "b": {FLICKER: [4.0] * 8, LOST: [0.3] * 8},
            "c": {FLICKER: [9.0] * 8, LOST: [0.0] * 8},
        }
    )
    (verdict,) = made.verdicts
    assert verdict.verdict == "trade-off" and verdict.leader is None
    ends = {end.chain: (end.better, end.costs) for end in verdict.ends}
    assert len(ends) == 2 and set(ends.values()) == {((FLICKER,), (LOST,)), ((LOST,), (FLICKER,))}
    assert {each.chain for each in verdict.unbeaten} == {"a", "b", "c"}
    assert "trade-off" in verdict.words[0] and "1.0 against" in verdict.words[0]
    assert not any("middle" in place.reason for place in made.places)


def test_a_winner_that_is_best_at_nothing_says_so() -> None:
    """b is second in all three measures, where the others trade first and last: 2 against 2.33 and more."""
    made = ranked(
        {
            "b": {FLICKER: [2.0], LOST: [0.2], SPLIT: [0.2]},
            "a": {FLICKER: [1.0], LOST: [0.4], SPLIT: [0.4]},
            "c": {FLICKER: [3.0], LOST: [0.1], SPLIT: [0.6]},
            "d": {FLICKER: [4.0], LOST: [0.6], SPLIT: [0.1]},
        }
    )
    first = made.places[0]
    assert (first.chain, first.score) == ("b", 2.0)
    assert first.reason.startswith("neither best nor worst at anything alone")
    assert made.verdicts[0].verdict == "trade-off"


def test_a_lead_that_the_frames_do_not_bear() -> None:
    """a is ahead on 4 frames of 7, b on 3: no leader."""
    found = only({"a": {FLICKER: [1.0] * 4 + [5.0] * 3}, "b": {FLICKER: [5.0] * 4 + [1.0] * 3}})
    assert found.verdict == "tied" and found.leader is None


@pytest.mark.parametrize("frames", [3, 7])
def test_measures_in_which_all_tie_take_nothing_from_a_first_place(frames: int) -> None:
    """a is better in two measures of six and worse in none: a first place, whose rank of 1.33 tells so."""
    tied = dict.fromkeys((FLICKER, "staircase", "false_detail", "combing"), [0.0] * frames)
    made = ranked(
        {
            "b": {DETAIL: [0.76] * frames, SPLIT: [0.67] * frames, **tied},
            "a": {DETAIL: [1.0] * frames, SPLIT: [0.0] * frames, **tied},
        }
    )
    (verdict,) = made.verdicts
    assert [(p.chain, p.rank) for p in made.places] == [("a", 1), ("b", 2)]
    assert (verdict.leader, verdict.tied) == ("a", ())
    assert verdict.verdict == ("leader" if frames > 6 else "first on these frames")
    assert "tie" not in verdict.words[0]


def test_who_is_beaten_is_in_no_tie() -> None:
    """a and c tie in all measures of four; b is as they are but for splits: ranks of 1.875 and 2.25."""
    tied = {FLICKER: [1.0], LOST: [0.0], "staircase": [0.0]}
    made = ranked({"a": {SPLIT: [0.1], **tied}, "c": {SPLIT: [0.1], **tied}, "b": {SPLIT: [0.9], **tied}})
    assert [p.score for p in made.places] == [1.875, 1.875, 2.25]
    assert made.verdicts[0].tied == ("a", "c")


def test_a_tie_whose_ranks_the_table_shows_apart_says_them() -> None:
    """a is ahead on 4 frames of 7: ranks of 1.43 and 1.57, in words as in the table."""
    found = ranked({"a": {FLICKER: [1.0] * 4 + [5.0] * 3}, "b": {FLICKER: [5.0] * 4 + [1.0] * 3}})
    assert [f"{p.score:.2f}" for p in found.places] == ["1.43", "1.57"]
    assert "mean ranks of 1.43 to 1.57 are too near to name a leader" in found.verdicts[0].words[0]


def test_the_lowest_mean_rank_is_nobody_elses() -> None:
    """Two trade, the third lies between: all three have a mean rank of 2."""
    made = ranked(
        {
            "a": {FLICKER: [1.0], LOST: [0.4]},
            "b": {FLICKER: [2.0], LOST: [0.2]},
            "c": {FLICKER: [3.0], LOST: [0.0]},
        }
    )
    reason = next(p.reason for p in made.places if p.chain == "b")
    assert reason.endswith("; the same mean rank as a and c")


def test_what_the_leader_costs_is_said() -> None:
    """a is better in three of four measures; b, beaten by none in everything, is named with its cost."""
    found = only(
        {
            "a": {FLICKER: [1.0] * 9, LOST: [0.0] * 9, SPLIT: [0.5] * 9, "staircase": [0.1] * 9},
            "b": {FLICKER: [5.0] * 9, LOST: [0.3] * 9, SPLIT: [0.1] * 9, "staircase": [0.4] * 9},
        }
    )
    assert found.leader == "a" and [each.chain for each in found.unbeaten] == ["a", "b"]
    assert any(
        words.startswith("b is better than a in split of the outlines") and "at the cost of" in words
        for words in found.words
    )


def test_below_what_a_move_by_part_of_a_line_changes_it_is_at_this_position() -> None:
    """On one frame lost lines move by 0.25 with the position: 0.1 apart holds here, 0.4 anywhere."""
    near = ranked({"a": {LOST: [0.1]}, "b": {LOST: [0.2]}}).places[0]
    far = ranked({"a": {LOST: [0.1]}, "b": {LOST: [0.5]}}).places[0]
    assert "at this position" in near.reason and "at this position" not in far.reason


def test_frames_of_one_kind_speak_for_it() -> None:
    values: Values = {"a": {FLICKER: [1.0] * 7}, "b": {FLICKER: [5.0] * 7}}
    assert "over 7 frames of Comet Rally" in only(values, kind="Comet Rally").words[0]
    names = [str(n) for n in range(7)]
    said = kinds_sentence(names, dict.fromkeys(names, "Comet Rally"))
    assert said.endswith("so the verdict speaks for it alone; add frames of another.")
    two = {name: "Comet Rally" if int(name) < 3 else "Moss Tower" for name in names}
    assert kinds_sentence(names, two) == "Frames by kind: Comet Rally 3 and Moss Tower 4."
    assert "do not say" in kinds_sentence(names, {})
    assert kinds_sentence(names[:5], {}) == ""


def test_the_lead_is_the_same_every_time() -> None:
    rng = np.random.RandomState(3)
    values: Values = {c: {FLICKER: rng.uniform(1, 5, 9).tolist()} for c in "abc"}
    once, again = (tuple(p.lead for p in ranked(values).places) for _ in range(2))
    assert once == again and 0 < once[0] < 1 and sum(lead or 0 for lead in once) <= 1


def test_why_there_is_no_lead_on_seven_frames() -> None:
    """A measure that decides is had on 4 of 7 frames: it says so, and so does its median."""
    some: list[float | None] = [0.0, 0.0, 0.0, 0.0, None, None, None]
    more: list[float | None] = [0.5, 0.5, 0.5, 0.5, None, None, None]
    made = ranked({"a": {FLICKER: [1.0] * 7, LOST: some}, "b": {FLICKER: [5.0] * 7, LOST: more}})
    assert [place.lead for place in made.places] == [None, None]
    words = " ".join(made.verdicts[0].words)
    assert "No lead is named" in words and "lost thin detail on 4 of 7" in words
    assert "1.0 % of white, median of 7 frames" in words and "thin detail, median of 4 frames" in words


def test_kinds_change_the_words_alone() -> None:
    """Seven frames of one kind, or of none known: the same lead."""
    values: Values = {"a": {FLICKER: [1.0] * 7}, "b": {FLICKER: [5.0] * 7}}
    leads = [[p.lead for p in ranked(values, kind=kind).places] for kind in ("", "Comet Rally")]
    assert leads == [[1.0, 0.0]] * 2 and "No lead" not in " ".join(only(values).words)


def test_values_are_called_medians() -> None:
    many = only({"a": {FLICKER: [1.0] * 7, LOST: [0.9] * 7}, "b": {FLICKER: [5.0] * 7, LOST: [0.1] * 7}})
    assert many.verdict == "trade-off" and many.words[0].endswith("; medians of 7 frames.")
    one = only({"a": {FLICKER: [1.0], LOST: [0.9]}, "b": {FLICKER: [5.0], LOST: [0.1]}})
    assert "median" not in one.words[0]


def test_the_headline_says_where_and_on_how_many_frames() -> None:
    """0.1 apart in lost lines is below the 0.25 that the position moves it by; better on 2 of 3 frames."""
    values: Values = {
        "a": {FLICKER: [1.0] * 3, LOST: [0.2] * 3},
        "b": {FLICKER: [5.0] * 3, LOST: [0.1, 0.1, 0.2]},
    }
    words = only(values).words[0]
    assert "lost thin detail (10 against 20 % of thin detail, on 2 of 3 frames, at this position)" in words


def test_more_than_all_the_detail_is_no_merit() -> None:
    """1.02 counts as 1: it ties with 1, and is better than 0.97 by what that misses."""
    assert [p.rank for p in ranked({"a": {DETAIL: [1.02]}, "b": {DETAIL: [1.0]}}).places] == [1, 1]
    made = ranked({"a": {DETAIL: [0.97]}, "b": {DETAIL: [1.02]}})
    assert [p.chain for p in made.places] == ["b", "a"]
    assert "102, counted as 100 %" in made.places[0].reason


def test_a_fault_is_no_reason_to_be_ahead() -> None:
    """b is second of three and worst in one measure: the reason begins with what puts it there."""
    made = ranked(
        {
            "a": {FLICKER: [1.0], SPLIT: [0.1], LOST: [0.1], "staircase": [0.1]},
            "b": {FLICKER: [2.0], SPLIT: [0.2], LOST: [0.2], "staircase": [0.9]},
            "c": {FLICKER: [3.0], SPLIT: [0.3], LOST: [0.3], "staircase": [0.5]},
        }
    )
    assert [p.chain for p in made.places] == ["a", "b", "c"]
    assert made.places[1].reason.startswith("best at nothing alone, and tied or in between in the rest; but")
    assert made.places[2].reason.startswith("flickers most")


def test_the_unbeaten_are_better_than_somebody() -> None:
    made = ranked(
        {
            "a": {FLICKER: [1.0] * 8, LOST: [0.6] * 8},
            "b": {FLICKER: [4.0] * 8, LOST: [0.3] * 8},
            "c": {FLICKER: [9.0] * 8, LOST: [0.0] * 8},
        }
    )
    (table,) = standing_tables(made.verdicts)
    rows = {str(row[0]): row[1:] for row in table.rows}
    assert rows["b"] == ("flicker than c; lost thin detail than a", "flicker than a; lost thin detail than c")


def test_frames_of_a_place_leave_out_what_none_has() -> None:
    made = ranked({"a": {FLICKER: [1.0], LOST: [None]}, "b": {FLICKER: [2.0], LOST: [None]}})
    assert [frames_of(place) for place in made.places] == ["1 (lost thin detail: 0)"] * 2


def test_a_capture_that_ties_with_a_prediction_agrees_and_shares_its_place() -> None:
    """0.10 and 0.115 tie, and each ties with others: by mean ranks alone the box would come last."""
    values: Values = {
        "lanczos": {FLICKER: [1.0] * 3, LOST: [0.2] * 3},
        "average": {FLICKER: [2.0] * 3, LOST: [0.1] * 3},
        "near": {FLICKER: [2.27] * 3, LOST: [0.2] * 3},
        "box": {FLICKER: [2.2] * 3, LOST: [0.11] * 3},
    }
    made = ranked(values, captured=("box",))
    (verdict,) = made.verdicts
    assert verdict.agrees == {"box": ("average",)}
    assert verdict.words[0].startswith(
        "On one screen: box agrees with average (3 frames) within what these measures resolve: flicker and"
    )
    ranks, scores = (
        {p.chain: value(p) for p in made.places} for value in (lambda p: p.rank, lambda p: p.score)
    )
    assert scores["box"] != scores["average"] and ranks["box"] == ranks["average"]
    reason = next(p.reason for p in made.places if p.chain == "box")
    assert reason == "agrees with average within what these measures resolve"


def test_a_capture_that_agrees_with_none_says_in_what_it_differs() -> None:
    values: Values = {
        "a": {FLICKER: [1.0], LOST: [0.2]},
        "b": {FLICKER: [9.0], LOST: [0.9]},
        "box": {FLICKER: [1.0], LOST: [0.5]},
    }
    (words, *_) = only(values, captured=("box",)).words
    assert (
        "agrees with none of the predictions (1 frame); from a, the most alike, it differs in lost" in words
    )
    assert "agree" not in " ".join(only({k: values[k] for k in "ab"}, captured=("a", "b")).words)
