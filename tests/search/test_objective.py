"""Objectives: directions, means, sums, limits, and when a curve is clear."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from scalesim.errors import ParameterError
from scalesim.metrics import key_of
from scalesim.search.objective import make_objective


def test_one_metric_keeps_its_value_and_direction() -> None:
    down, up = make_objective("line_doubling"), make_objective("ssim")
    values = np.array([[0.2], [0.4]])
    assert (down.scores({"line_doubling": values}) == values).all()
    assert down.costs(values[:, 0]).argmin() == 0 and up.costs(values[:, 0]).argmin() == 1


def test_several_are_each_put_between_best_and_worst() -> None:
    mean = make_objective("line_doubling, ssim")
    scores = mean.scores(
        {"line_doubling": np.array([[0.1], [0.5], [0.9]]), "ssim": np.array([[0.5], [0.9], [0.5]])}
    )
    assert scores[:, 0] == pytest.approx([0.5, 0.25, 1.0])
    assert not mean.higher_is_better and mean.text == "mean of line_doubling, ssim"


def test_one_that_hardly_changes_hardly_counts() -> None:
    """Put on its whole range, a change of 0.0002 in lost_lines would outweigh 0.4 of line_doubling."""
    mean = make_objective(["line_doubling", "lost_lines"])
    scores = mean.scores(
        {"line_doubling": np.array([[0.1], [0.5]]), "lost_lines": np.array([[0.1002], [0.1]])}
    )
    assert scores[0, 0] < scores[1, 0] and scores[0, 0] == pytest.approx(0.5 * 0.0002 / 0.05)


def test_weights_are_a_sum_in_the_metrics_units() -> None:
    total = make_objective({"line_doubling": 1, "flicker_percent": 0.1, "ssim": 2})
    scores = total.scores(
        {k: np.array([[v]]) for k, v in (("line_doubling", 0.3), ("flicker_percent", 2.0), ("ssim", 0.9))}
    )
    assert scores[0, 0] == pytest.approx(0.3 + 0.2 - 1.8)
    assert total.tie == pytest.approx(key_of("line_doubling").tie + 0.1 * 0.05 + 2 * 0.0005)


def test_limits_from_text_and_python() -> None:
    expected = {"cropped_percent": (None, 2.0), "line_doubling": (0.1, 0.5)}
    assert make_objective("lost_lines", expected).limits == expected
    text = "cropped_percent<=2, line_doubling>=0.1, line_doubling<=0.5"
    assert make_objective("lost_lines", text).limits == expected
    assert make_objective("lost_lines", "cropped_percent<=2").names == ("lost_lines", "cropped_percent")


@pytest.mark.parametrize(
    ("by", "where", "words"),
    [
        ("line_doublin", None, "did you mean 'line_doubling'"),
        ("edge_count", None, "has no better or worse"),
        ([], None, "by is empty"),
        ({"line_doubling": 0, "lost_lines": 1}, None, "weight of line_doubling is 0"),
        ({"line_doubling": float("nan"), "lost_lines": 1}, None, "must be a number above 0"),
        ("line_doubling", "cropped_percent=2", "write a limit such as cropped_percent<=2"),
        ("line_doubling", "croped_percent<=2", "did you mean 'cropped_percent'"),
        ("line_doubling", {"cropped_percent": 2}, "give (least, most)"),
        ("line_doubling", {"cropped_percent": (3, 2)}, "the first is the least"),
    ],
)
def test_names_what_is_wrong(by: Any, where: Any, words: str) -> None:
    with pytest.raises(ParameterError) as caught:
        make_objective(by, where)
    assert words in str(caught.value) and "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("key", "best", "worst", "clear"),
    [
        ("line_doubling", 0.1, 0.41, True),
        ("line_doubling", 0.1, 0.39, False),
        ("edge_spread_lines", 0.8, 1.2, True),
        ("edge_spread_lines", 1.0, 1.2, False),
        ("flicker_percent", 0.1, 0.3, False),  # a third, yet within ten ties
        ("flicker_percent", 1.0, 3.0, True),
        ("ssim", 0.98, 0.97, True),
        ("ssim", 0.975, 0.97, False),
        ("psnr_db", 33.0, 31.0, False),
        ("psnr_db", 35.0, 31.0, True),
    ],
)
def test_clear_is_a_stated_rule(key: str, best: float, worst: float, clear: bool) -> None:
    assert key_of(key).is_clear(best, worst) is clear
    assert key_of(key).tie > 0
