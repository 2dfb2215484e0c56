"""The summary table: medians worked out by hand, bold as printed, n where it differs.

Values are made by hand, so that what is right is plain from the case.
"""

from __future__ import annotations

from dataclasses import dataclass

from scalesim.jobs.compare.contest import Contest, contest
from scalesim.jobs.compare.summary import summary_table
from scalesim.jobs.compare.tables import stands_out
from scalesim.metrics import key_of
from scalesim.result import Cell

KEPT, LOST, FLICKER = "detail_kept", "lost_lines", "flicker_percent"


@dataclass
class FakeRow:
    """What a contest needs of a row."""

    frame: str
    chain: str
    metrics: dict[str, float | None]


def made(values: dict[str, dict[str, list[float | None]]], name: str = "one screen") -> Contest:
    """Return the contest of chain -> measure -> the value of each frame."""
    by = tuple(dict.fromkeys(key for found in values.values() for key in found))
    rows = [
        FakeRow(str(n), chain, {key: found[key][n] for key in found})
        for chain, found in values.items()
        for n in range(len(next(iter(found.values()))))
    ]
    return contest(name, rows, by)


def texts(contests: list[Contest]) -> list[tuple[tuple[str, str, bool], ...]]:
    """Return the cells of the summary as (text, small text, bold)."""
    table = summary_table(contests)
    assert table is not None
    return [tuple((c.text, c.quiet, c.best) for c in row if isinstance(c, Cell)) for row in table.rows]


def test_medians_best_first_and_bold_as_printed() -> None:
    """0.40, 0.50, 0.90 -> 50 %; of 3 the first two medians of lost lines print alike, 0 %: both are bold."""
    contests = [
        made(
            {
                "soft": {KEPT: [0.4, 0.5, 0.9], LOST: [0.001, 0.002, 0.004]},
                "sharp": {KEPT: [0.7, 0.8, 0.9], LOST: [0.0, 0.0, 0.0]},
                "worst": {KEPT: [0.1, 0.2, 0.3], LOST: [0.5, 0.6, 0.7]},
            }
        )
    ]
    assert texts(contests) == [
        (("sharp", "", False), ("80", "", True), ("0", "", True)),
        (("soft", "", False), ("50", "", False), ("0", "", True)),
        (("worst", "", False), ("20", "", False), ("60", "", False)),
    ]
    table = summary_table(contests)
    assert table is not None and table.title == "Medians over 3 frames, one screen"
    heads = [(str(each), each.quiet) for each in table.columns if isinstance(each, Cell)]
    assert heads == [("detail kept", "%, more is better"), ("lost detail", "%, less is better")]


def test_n_stands_beside_each_median_where_they_differ() -> None:
    """Lost lines were had on one frame of two for both: 1 frame; detail on both: 2 frames."""
    contests = [
        made({"a": {KEPT: [0.5, 0.7], LOST: [0.2, None]}, "b": {KEPT: [0.4, 0.6], LOST: [0.3, None]}})
    ]
    first, second = texts(contests)
    assert first == (("a", "", False), ("60", "n\xa02", True), ("20", "n\xa01", True))
    assert second[1][:2] == ("50", "n\xa02")


def test_medians_of_other_frames_are_not_compared() -> None:
    """c has detail on the two easy frames of five: it is not rated, and its 90 % is no best.

    Where nobody is rated each has lost lines on other frames: nothing is bold.
    """
    hard: list[float | None] = [0.5, 0.5, 0.5, 0.9, 0.9]
    soft: list[float | None] = [0.4, 0.4, 0.4, 0.8, 0.8]
    found = made(
        {
            "a": {KEPT: hard, LOST: [0.2, 0.2, None, None, None]},
            "b": {KEPT: soft, LOST: [None, None, 0.1, None, None]},
            "c": {KEPT: [None, None, None, 0.9, 0.9], LOST: [None] * 5},
        }
    )
    assert {row[0][0]: row[1] for row in texts([found])} == {
        "a": ("50", "n\xa05", True),
        "b": ("40", "n\xa05", False),
        "c": ("90", "n\xa02", False),
    }
    assert not any(row[2][2] for row in texts([found]))


def test_bold_is_compared_on_one_screen_only() -> None:
    """Each screen has its own best; a measure that a screen does not have is a dash."""
    coarse = made({"a": {LOST: [0.2]}, "b": {LOST: [0.1]}}, "240 lines")
    fine = made({"c": {LOST: [0.0], FLICKER: [3.0]}, "d": {LOST: [0.5], FLICKER: [1.0]}}, "480 lines")
    cells = {row[0][0]: row[1:] for row in texts([coarse, fine])}
    assert [row[0][1] for row in texts([coarse, fine])] == ["240 lines", "", "480 lines", ""]
    assert cells["b"] == (("10", "", True), ("–", "", False))
    assert cells["c"] == (("0", "", True), ("3.0", "", False))
    assert cells["d"] == (("50", "", False), ("1.0", "", True))


def test_what_is_above_enough_is_as_good() -> None:
    """101 and 104 % kept count as 100 (`Key.enough`): both bold beside 90; all alike: none."""
    kept = key_of(KEPT)
    assert stands_out(kept, [1.01, 1.04, 0.9]) == [True, True, False]
    assert stands_out(kept, [1.01, 1.04, 1.0]) == [False] * 3
    assert stands_out(kept, [None, 0.5]) == [False] * 2
    assert stands_out(key_of("displacement_lines"), [0.1, 0.9]) == [False] * 2  # neither way is better


def test_a_number_below_zero_has_a_true_minus_sign() -> None:
    """U+2212 MINUS SIGN, not the hyphen of a keyboard."""
    assert key_of("displacement_lines").number(-0.5)[0].startswith("\u2212")
