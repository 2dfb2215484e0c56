"""Stepped rulers: measured in the drawn chart, and read the way a person reads them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from scalesim import Chain, still_clip
from scalesim.charts._base import Chart
from scalesim.charts.geometry import geometry_chart
from scalesim.draw.letters import text_mask
from scalesim.draw.rulers import INK, WEDGE, number_ink, ruler_step
from scalesim.jobs.predict.predict import predict

KINDS = [
    ("1080i", "4:3"),
    ("720p", "16:9"),
    ("720p", "4:3"),
    ("640x480p", "4:3"),
    ("480p", "4:3"),
    ("480i", "16:9"),
    ("576i", "4:3"),
    ("240p", "4:3"),
    ("288p", "4:3"),
]
SMALL = [("720p", "4:3"), ("480p", "4:3"), ("576i", "4:3"), ("240p", "4:3"), ("1080i", "4:3")]
SIDES = ("top", "bottom", "left", "right")
DRAWN: dict[tuple[str, str], Chart] = {}


def chart(mode: str, aspect: str) -> Chart:
    if (mode, aspect) not in DRAWN:
        DRAWN[mode, aspect] = geometry_chart(mode, aspect=aspect)
    return DRAWN[mode, aspect]


def along(frame: np.ndarray, side: str, area: dict) -> np.ndarray:
    """Turn the picture so that the edge `side` of its area is line 0, depth runs down."""
    cut = frame[area["top"] : area["bottom"], area["left"] : area["right"]]
    return {
        "top": cut,
        "bottom": cut[::-1],
        "left": cut.swapaxes(0, 1),
        "right": cut[:, ::-1].swapaxes(0, 1),
    }[side]


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_wedges_grow_by_whole_steps_from_the_edge(mode: str, aspect: str) -> None:
    """Depths of the bright wedge, measured at every place along the edge: 0 and all multiples of a step."""
    made = chart(mode, aspect)
    for side in SIDES:
        ruler = made.truth["rulers"][side]
        turned = along(made.frame, side, made.truth["area"])[..., 0]
        wedge = np.isin(turned, np.float32(WEDGE))
        depths = np.where(wedge.all(axis=0), 0, np.argmin(wedge, axis=0))
        assert set(depths) == {0, *range(ruler["step"], ruler["last"] + 1, ruler["step"])}
        size = turned.shape[0]
        assert 0.1 * size <= ruler["last"] <= 0.13 * size and ruler["step"] == ruler_step(size)


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_numbers_stand_a_dot_behind_their_step(mode: str, aspect: str) -> None:
    """Each box of a number's ink, in the picture: the digits, and beyond the edge by its value and a dot."""
    made = chart(mode, aspect)
    size = {"top": "lines", "bottom": "lines", "left": "samples", "right": "samples"}
    area, border = made.truth["area"], made.truth["border"]
    for side in SIDES:
        marks = made.truth["rulers"][side]["marks"]
        assert [m["value"] for m in marks] == 2 * [m["value"] for m in marks[: len(marks) // 2]]
        for mark in marks:
            box = mark["number"]
            inner = abs(box[side] - area[side])
            assert inner == mark["value"] + border[size[side]]
            ink = made.frame[box["top"] : box["bottom"], box["left"] : box["right"], 0] == np.float32(INK)
            mask = number_ink(side, mark["value"])
            repeated = mask.repeat(border["lines"], 0).repeat(border["samples"], 1)
            assert np.array_equal(ink, repeated)


def read_first(made: Chart, frame: np.ndarray, side: str) -> int:
    """Return the least number that stands whole in what is left of a picture at an edge.

    A reader of its own: it looks for the digits' pattern anywhere, the longest numbers first.
    """
    border, ruler = made.truth["border"], made.truth["rulers"][side]
    deep, width = ruler["last"] + 8 * border["lines"], made.truth["samples"]
    half = {
        "top": frame[:deep],
        "bottom": frame[-deep:],
        "left": frame[frame.shape[0] // 5 : -frame.shape[0] // 5, : width * 2 // 5],
        "right": frame[frame.shape[0] // 5 : -frame.shape[0] // 5, -width * 2 // 5 :],
    }[side]
    ink = (np.abs(half - np.float32(INK)).max(axis=2) < 1e-5).astype(np.float32)
    found = []
    numbers = range(0, ruler["last"] + 1, ruler["number_every"])
    for value in sorted(numbers, key=lambda n: (-len(str(n)), n)):
        mask = number_ink(side, value).repeat(border["lines"], 0).repeat(border["samples"], 1)
        misses = cv2.matchTemplate(ink, mask.astype(np.float32), cv2.TM_SQDIFF)
        for down, across in zip(*np.nonzero(misses < 0.5), strict=True):
            found.append(value)
            ink[down : down + mask.shape[0], across : across + mask.shape[1]] = 0
    return min(found)


@pytest.mark.parametrize("mode, aspect", SMALL)
def test_the_first_whole_number_is_what_was_hidden(mode: str, aspect: str) -> None:
    """Cut k lines or samples off an edge; a reader that knows only the digits finds k. Round trip."""
    made = chart(mode, aspect)
    area = made.truth["area"]
    whole = made.frame[area["top"] : area["bottom"], area["left"] : area["right"]]
    for side in SIDES:
        every = made.truth["rulers"][side]["number_every"]
        for k in (0, every, 3 * every):
            left = {
                "top": whole[k:],
                "bottom": whole[: whole.shape[0] - k],
                "left": whole[:, k:],
                "right": whole[:, : whole.shape[1] - k],
            }[side]
            assert read_first(made, left, side) == k
        # Half way to the next number the reading is that next number, not the one before.
        k = every + (every + 1) // 2
        left = {"top": whole[k:], "bottom": whole[:-k], "left": whole[:, k:], "right": whole[:, :-k]}[side]
        assert read_first(made, left, side) == 2 * every


@pytest.mark.parametrize("mode, aspect", SMALL)
def test_steps_read_finer_than_numbers(mode: str, aspect: str) -> None:
    """The first whole number, less a step for each wedge step seen before it, is k to within one step.

    The steps are counted in the cut picture: different depths of bright wedge left in one ruler's column.
    """
    made = chart(mode, aspect)
    for side in SIDES:
        ruler = made.truth["rulers"][side]
        step, every = ruler["step"], ruler["number_every"]
        turned = along(made.frame, side, made.truth["area"])[..., 0]
        for k in (every + 1, every + 2 * step, 2 * every - step):
            wedge = np.isin(turned[k:], np.float32(WEDGE))
            depths = {int(d) for d in np.argmin(wedge, axis=0) if d}
            whole = next(n for n in range(0, ruler["last"] + 1, every) if n >= k)
            seen = sum(1 for d in depths if d + k < whole)
            assert whole - step * (seen + 1) <= k <= whole - step * seen


def test_a_number_without_its_arrow_is_not_whole() -> None:
    """Of 30 cut to 0 the arrow is gone, so the reader above does not take it for 0; digits alone would be."""
    digits = text_mask("0")[:7]
    cut = number_ink("left", 30)[:, -digits.shape[1] :]
    assert np.array_equal(cut, digits)
    assert not np.array_equal(number_ink("left", 0)[:, : cut.shape[1]], cut)
    assert np.array_equal(number_ink("right", 30)[:, :5], text_mask("3")[:7])
    assert np.array_equal(number_ink("top", 30), text_mask("30")[:7])


# --- readable after the chain ---


def agreement(output: np.ndarray, source: np.ndarray, box: dict) -> float:
    """Correlation of a label in the output, its lines repeated, with the same label in the source."""
    lines = source.shape[0]
    rows = ((np.arange(box["top"], box["bottom"]) + 0.5) * output.shape[0] / lines).astype(int)
    columns = slice(box["left"], box["right"])
    before = source[box["top"] : box["bottom"], columns, 1].ravel()
    return float(np.corrcoef(before, output[rows, columns, 1].ravel())[0, 1])


@pytest.mark.parametrize(
    "mode, aspect, chain, least",
    [
        ("720p", "16:9", "line-average lines=480, quantise, line-drop lines=240 phase=1", 0.98),
        ("720p", "4:3", "line-drop lines=240, band-limit mhz=27", 0.8),
        ("1080i", "4:3", "deinterlace how=weave, line-average lines=240", 0.8),
        ("480p", "4:3", "line-drop lines=240 phase=1, band-limit mhz=10", 0.8),
        ("576i", "4:3", "keep-field", 0.98),
    ],
)
def test_every_number_is_readable_on_240_lines(mode: str, aspect: str, chain: str, least: float) -> None:
    """The digits still match their own shape; a label with thin strokes would not (see the flicker chart)."""
    made = chart(mode, aspect)
    box = predict(still_clip(made.frame, mode=made.mode), Chain(chain), metrics=())
    for side in SIDES:
        for mark in made.truth["rulers"][side]["marks"]:
            assert agreement(box.landed, made.frame, mark["number"]) > least, (side, mark["value"])


def test_digits_are_tall_enough() -> None:
    """At least 15 of 720 lines: here 21, seven lines of 240."""
    for mode, aspect in KINDS:
        made = chart(mode, aspect)
        for mark in made.truth["rulers"]["top"]["marks"]:
            height = mark["number"]["bottom"] - mark["number"]["top"]
            assert height / made.truth["frame_lines"] >= 15 / 720
