"""Which part of its pictures a still of an article shows, and whether its caption says so."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from scalesim.figure import Figure, View
from scalesim.jobs.report.dots import asked_of
from scalesim.jobs.report.faults import Fault, Looks, looks_of
from scalesim.jobs.report.reference import reference
from scalesim.page import stills
from scalesim.result import Picture

SIZE = (300, 400)
ON = ((0.5, 252.0), (0.75, 499.0))
"""Two dots to a source line, and four to three samples."""

CORNER = Fault((392.0, 396.0), (760.0, 790.0), 90)
"""Lines 280 to 288 and samples 348 to 388 of the pictures."""


def noise(count: int) -> list[np.ndarray]:
    rs = np.random.RandomState(3)
    return [rs.randint(0, 256, (*SIZE, 3)).astype(np.uint8) for _ in range(count)]


def figure(count: int, looks: Looks, *, cropped: bool = False) -> Figure:
    """Return pictures as an article's still has them."""
    views = tuple(View(f"picture {k}", dots, line_word="") for k, dots in enumerate(noise(count)))
    window = (0.0, 0.0, *map(float, SIZE))
    choose = looks.choose if looks.faults and not cropped else None
    return Figure(
        "f", "Title", "", views, window, foot="From here.", fixed=True, choose=choose, told=looks.told
    )


def drawn(of: Figure, monkeypatch: pytest.MonkeyPatch, size: tuple[int, int]) -> tuple[np.ndarray, str]:
    """Return a still and the text of its caption, which stands before the words of its foot."""
    written: list[str] = []
    real = stills.write_lines

    def spy(pen: Any, at: Any, text: str, *given: Any) -> int:
        written.append(text)
        return real(pen, at, text, *given)

    monkeypatch.setattr(stills, "write_lines", spy)
    return stills.still_picture(of, size), written[-2]


def found_at(still: np.ndarray, dots: np.ndarray) -> tuple[int, int] | None:
    """Return where a picture stands in a still, exactly; None where it does not."""
    first = np.argwhere((still == dots[0, 0]).all(axis=2))
    tall, wide = dots.shape[:2]
    for top, left in first:
        if np.array_equal(still[top : top + tall, left : left + wide], dots):
            return int(top), int(left)
    return None


@pytest.mark.parametrize(
    ("count", "zoom", "part"),
    [(1, 2, None), (2, 2, None), (3, 2, (0, 120, 300, 280)), (4, 1, None)],
)
@pytest.mark.parametrize("size", stills.SIZES)
def test_a_still_shows_whole_pictures_or_one_part_of_all(
    count: int,
    zoom: int,
    part: tuple[int, int, int, int] | None,
    size: tuple[int, int],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Every dot is a whole square of the picture's, and what is left out is what the caption tells.

    Rooms of 1080 lines are 642 tall, and 852 or 560 wide for two and three; three pictures of 300x400 do
    not fit twice as large, and the part is at the right, where the outline at fault lies.
    """
    looks = Looks(count, SIZE, ON, (CORNER,))
    still, said = drawn(figure(count, looks), monkeypatch, size)
    times = zoom * size[1] // 1080
    places = []
    for dots in noise(count):
        top, left, height, width = part or (0, 0, *SIZE)
        seen = dots[top : top + height, left : left + width]
        places.append(found_at(still, seen.repeat(times, 0).repeat(times, 1)))
    assert None not in places and len({place[0] for place in places if place}) == 1
    if part is None:
        assert said == ""
        return
    top, left, height, width = part
    numbers = [int(each) for each in re.findall(r"\d+", said)]
    lines = [252 + 0.5 * top, 252 + 0.5 * (top + height)]
    samples = [499 + 0.75 * left, 499 + 0.75 * (left + width)]
    assert numbers == [*(round(each) for each in (*lines, *samples)), 1, 1]
    assert said.startswith("Only a part of each picture, the same of all: lines 252 to 402, samples ")
    assert said.endswith(" of the source, with 1 of the 1 outlines judged worst.")


def test_what_does_not_fit_is_told_though_nothing_was_judged(monkeypatch: pytest.MonkeyPatch) -> None:
    """A picture taller than its room, of no known source: the middle, in its own lines and samples."""
    rs = np.random.RandomState(4)
    tall = rs.randint(0, 256, (960, 200, 3)).astype(np.uint8)
    looks = looks_of([Picture("p", tall, "p")], (960, 200), [CORNER])
    views = (View("p", tall, line_word=""),)
    of = Figure("f", "Title", "", views, (0.0, 0.0, 960.0, 200.0), fixed=True, told=looks.told)
    still, said = drawn(of, monkeypatch, (1920, 1080))
    match = re.fullmatch(
        r"Only a part of the picture: lines (\d+) to (\d+), samples 0 to 200 of its 960 and 200\.", said
    )
    assert match
    first, last = int(match[1]), int(match[2])
    assert (
        first + last == 960
        and found_at(still, tall[first:last])
        and not found_at(still, tall[: last - first])
    )


def test_the_part_is_where_most_outlines_at_fault_lie() -> None:
    """Two at the left outweigh a worse one at the right; what lies outside the pictures does not count."""
    left = [Fault((270.0, 272.0), (505.0 + k, 545.0 + k), 60) for k in (0, 3)]
    outside = Fault((10.0, 12.0), (20.0, 700.0), 100)
    pictures = [Picture("a", noise(1)[0], "a", looks=ON)]
    looks = looks_of(pictures, SIZE, [CORNER, *left, outside])
    assert len(looks.faults) == 3
    top, begin, height, width = looks.choose(100, 100)
    assert (top, height, width) == (0, 100, 100) and 0 <= begin <= 8
    assert "with 2 of the 3 outlines judged worst" in looks.told((top, begin, height, width))
    other = looks_of([*pictures, Picture("b", noise(1)[0], "b")], SIZE, [CORNER])
    assert other.faults == ()  # not all of one place


def test_a_crop_and_a_zoom_look_where_they_look() -> None:
    """Line 30, dot 50 of a picture is line 0, dot 0 of the crop; three times as large, a third of a step."""
    picture = Picture("a", noise(1)[0], "a", looks=ON)
    asked = reference("cmp#look=f&crop=30,50,100,100&zoom=3x2", "", "", 1, "a.md")
    cropped = asked_of(picture, asked, "a.md line 1")
    assert cropped.looks == ((0.5 / 3, 267.0), (0.375, 536.5))
    assert asked_of(picture, replace(asked, crop=(), zoom=(0, 0)), "").looks == ON
