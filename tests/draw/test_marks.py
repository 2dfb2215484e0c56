"""Marks stand beside what they mean: places worked out by hand from the zoom."""

from __future__ import annotations

import numpy as np

from scalesim.draw.marks import MOST_MARKS, strokes_of
from scalesim.draw.views import Zoom
from scalesim.figure import Mark, View

WINDOW, ZOOM = (300.0, 100.0, 60.0, 200.0), Zoom(4, 3.0)


def strokes(*marks: Mark) -> list[np.ndarray]:
    view = View("v", np.zeros((720, 1280, 3), np.uint8), marks=marks)
    return [np.array(stroke.points) for stroke in strokes_of(view, WINDOW, ZOOM)]


def test_brackets_enclose_the_lines_and_leave_the_outline_free() -> None:
    """Lines 330 to 336 are dots 120 to 144; samples 150 to 200 are dots 150 to 300."""
    left, right = strokes(Mark((330, 336), (150, 200), "split"))
    for points in (left, right):
        assert points[:, 1].min() < 120 and points[:, 1].max() > 144
        assert points[:, 1].min() > 110 and points[:, 1].max() < 154
    assert left[:, 0].min() < 150 and right[:, 0].max() > 300
    bars = [points[points[:, 1].argsort()] for points in (left, right)]
    assert all(len(set(bar[1:3, 0])) <= 2 for bar in bars)


def test_arrows_point_at_the_middle_of_a_lost_line_from_both_ends() -> None:
    """Line 340 is dots 160 to 164: both tips are at 162, outside of dots 150 to 300."""
    left, right = strokes(Mark((340, 341), (150, 200), "lost"))
    assert left[0, 1] == right[0, 1] == 162
    assert left[0, 0] <= 150 and right[0, 0] >= 300
    assert left[0, 0] == left[:, 0].max() and right[0, 0] == right[:, 0].min()  # the tips are the nearest


def test_all_of_a_mark_is_inside_the_view() -> None:
    """Outlines that go on beyond both sides, at the upper and lower end."""
    for kind in ("split", "lost", "place"):
        for lines in ((300, 302), (357, 360)):
            for points in strokes(Mark(lines, (0, 1280), kind)):  # type: ignore[arg-type]  # a kind of mark
                assert points[:, 0].min() >= 2 and points[:, 0].max() <= 598
                assert kind == "lost" or (points[:, 1].min() >= 2 and points[:, 1].max() <= 238)


def test_only_what_is_seen_and_not_too_many() -> None:
    assert not strokes(Mark((200, 201), (150, 200), "lost"), Mark((330, 331), (400, 500), "lost"))
    many = [Mark((300 + 6 * k, 301 + 6 * k), (150, 200), "lost") for k in range(10)]
    assert len(strokes(*many)) == 2 * MOST_MARKS
    close = [Mark((330, 331), (150, 200), "lost"), Mark((331, 332), (150, 200), "lost")]
    assert len(strokes(*close)) == 2  # the second would run into the first
