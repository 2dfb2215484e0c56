"""The geometry chart: measured in the drawn picture, and read the way a person reads it."""

from __future__ import annotations

import json

import cv2
import numpy as np
import pytest

from scalesim.charts._base import Chart
from scalesim.charts.geometry import geometry_chart
from scalesim.core.mode import ALIASES, MODES
from scalesim.errors import ParameterError

KINDS = [  # one of every size and shape
    ("1080p", "16:9"),
    ("1080i", "4:3"),
    ("720p", "16:9"),
    ("720p", "4:3"),
    ("640x480p", "4:3"),
    ("480p", "4:3"),
    ("480i", "16:9"),
    ("576p", "16:9"),
    ("576i", "4:3"),
    ("240p", "4:3"),
    ("288p", "4:3"),
]
DRAWN: dict[tuple[str, str], Chart] = {}


def chart(mode: str, aspect: str) -> Chart:
    if (mode, aspect) not in DRAWN:
        DRAWN[mode, aspect] = geometry_chart(mode, aspect=aspect)
    return DRAWN[mode, aspect]


# --- the frame and the truth ---


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_the_frame_is_the_modes_and_the_truth_is_plain(mode: str, aspect: str) -> None:
    made = chart(mode, aspect)
    named = MODES[ALIASES[mode]]
    assert made.frame.shape == (named.frame_lines, named.samples, 3) and made.frame.dtype == np.float32
    assert made.frame.min() >= 0 and made.frame.max() <= 1
    assert json.loads(json.dumps(made.truth, allow_nan=False)) == made.truth
    assert (made.name, made.mode, made.page) == ("geometry", named.name, "")
    assert "first number you can see whole" in made.title


def test_every_mode_has_one() -> None:
    """All rates of the small sizes; the rates of a size share one drawing."""
    for name in MODES:
        if MODES[name].frame_lines <= 288:
            assert geometry_chart(name).mode == name


def test_outside_a_four_by_three_area_all_is_black() -> None:
    made = chart("720p", "4:3")
    assert not made.frame[:, :160].any() and not made.frame[:, 1120:].any()
    assert made.frame[:, 160].any() and made.frame[:, 1119].any()


def test_errors() -> None:
    with pytest.raises(ParameterError, match="mode: '720q' is not known"):
        geometry_chart("720q")
    with pytest.raises(ParameterError, match=r"aspect: '5:4' is not known; .*valid: 16:9, 4:3"):
        geometry_chart("720p", aspect="5:4")


# --- shapes ---


def ring(made: Chart, circle: dict) -> tuple[float, float, float, float]:
    """Fit an ellipse to the bright neutral samples near a circle, OpenCV; centre line, sample, 2 axes.

    The text plates that cross the centre circle of a wide picture are left out.
    """
    p, q = (int(part) for part in made.truth["sample_aspect"].split(":"))
    reach, thick = circle["radius_lines"] + 8, circle["thickness_lines"]
    top, left = round(circle["line"] - reach), max(round(circle["sample"] - reach * q / p), 0)
    cut = made.frame[
        max(top, 0) : round(circle["line"] + reach), left : round(circle["sample"] + reach * q / p)
    ]
    down = np.arange(cut.shape[0])[:, None] + 0.5 + max(top, 0) - circle["line"]
    across = np.arange(cut.shape[1])[None] + 0.5 + left - circle["sample"]
    mask = np.abs(np.hypot(down, across * p / q) - circle["radius_lines"]) < thick + 1
    mask &= cut.min(axis=2) > 0.6
    if circle["name"] == "centre":
        mask &= np.abs(down) > 56 * thick / 1.5
    ys, xs = np.nonzero(mask)
    (x, y), (first, second), turn = cv2.fitEllipse(
        np.stack([across[0, xs], down[ys, 0]], 1).astype(np.float32)
    )
    wide, high = (first, second) if min(turn % 180, 180 - turn % 180) < 45 else (second, first)
    return y + circle["line"], x + circle["sample"], wide * p / q, high


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_circles_are_round_on_the_screen(mode: str, aspect: str) -> None:
    """Width times the sample aspect equals height to 2 % (a line or two), and places are the truth's."""
    made = chart(mode, aspect)
    circles = made.truth["circles"]
    assert [c["name"] for c in circles] == ["centre", "top-left", "top-right", "bottom-left", "bottom-right"]
    for circle in circles:
        y, x, wide, high = ring(made, circle)
        assert (y, x) == pytest.approx((circle["line"], circle["sample"]), abs=1)
        assert wide == pytest.approx(high, rel=0.02)
        assert high == pytest.approx(2 * circle["radius_lines"], rel=0.02)


def test_a_squeezed_chart_is_seen_not_to_be_round() -> None:
    """The same fit on a picture one tenth narrower: the law above fails."""
    made = chart("720p", "16:9")
    narrow = cv2.resize(made.frame, (1152, 720), interpolation=cv2.INTER_AREA)
    circle = {**made.truth["circles"][0], "sample": 576}
    down, across = np.nonzero(narrow.min(axis=2) > 0.6)
    away = np.hypot(down - 360, (across - 576) / 0.9) - circle["radius_lines"]
    keep = (np.abs(away) < 6) & (np.abs(down - 360) > 100)
    _, axes, _ = cv2.fitEllipse(np.stack([across, down], axis=1)[keep].astype(np.float32))
    assert min(axes) / max(axes) == pytest.approx(0.9, abs=0.01)


# SMPTE ST 2046-1: safe action 93 %, safe title 90 % of the production aperture, concentric. The sizes in
# lines and samples are those products; 1786 x 1004 is printed for the first.
SAFE = {
    ("1080p", "16:9"): {93: (1785.6, 1004.4), 90: (1728, 972)},
    ("480p", "4:3"): {93: (669.6, 446.4), 90: (648, 432)},
}


@pytest.mark.parametrize("mode, aspect", list(SAFE))
def test_safe_areas_have_the_published_sizes(mode: str, aspect: str) -> None:
    found = {
        area["percent"]: (area["samples"], area["lines"]) for area in chart(mode, aspect).truth["safe_areas"]
    }
    for percent, size in SAFE[mode, aspect].items():
        assert found[percent] == pytest.approx(size, abs=1e-6)
    # Tube-era practice 80 % (number from memory, common practice).
    assert found[80] == pytest.approx(
        (0.8 * MODES[ALIASES[mode]].samples, 0.8 * MODES[ALIASES[mode]].frame_lines)
    )


def centroid(weights: np.ndarray, near: float) -> float:
    """Centre of the weights within 6 of a place, in edge coordinates."""
    start = int(near) - 6
    cut = np.clip(weights[start : start + 13], 0, None)
    return float(start + 0.5 + (cut * np.arange(13)).sum() / cut.sum())


@pytest.mark.parametrize(
    "mode, aspect", [("1080p", "16:9"), ("480p", "4:3"), ("720p", "4:3"), ("576i", "4:3")]
)
def test_safe_areas_are_drawn_there(mode: str, aspect: str) -> None:
    """Each frame has a hue of its own: the centre of that hue across its left, right and top sides."""
    made = chart(mode, aspect)
    red, green, blue = (made.frame[..., k] for k in range(3))
    hue = {93: blue - red, 90: red - blue, 80: np.where(blue > green, red - green, 0)}
    dot = made.truth["border"]["lines"]
    for area in made.truth["safe_areas"]:
        weights = hue[area["percent"]]
        clear = 19.5 if aspect == "4:3" else 13.5  # dots to a dash that no disc covers
        row = round(area["top"] + clear * dot)
        column = round(area["left"] + clear * made.truth["border"]["samples"])
        assert centroid(weights[row], area["left"]) == pytest.approx(area["left"], abs=0.06)
        assert centroid(weights[row], area["right"]) == pytest.approx(area["right"], abs=0.06)
        assert centroid(weights[:, column], area["top"]) == pytest.approx(area["top"], abs=0.06)
        assert abs(centroid(weights[row], area["left"] + 1) - area["left"] - 1) > 0.5  # a sample off fails


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_grid_cells_are_square_on_the_screen(mode: str, aspect: str) -> None:
    """Measured in a corner, where nothing covers the grid: the bars' distance is the stated one."""
    made = chart(mode, aspect)
    grid, area = made.truth["grid"], made.truth["area"]
    p, q = (int(part) for part in made.truth["sample_aspect"].split(":"))
    assert grid["samples_apart"] * p == grid["lines_apart"] * q
    tones = made.frame[area["top"] : area["bottom"], area["left"] : area["right"]]
    bars = np.abs(tones - np.float32(0.27)).max(axis=2) < 1e-4
    for axis, name in ((1, "lines"), (0, "samples")):
        starts = np.array(grid[f"at_{name}"]) - area["top" if axis else "left"]
        assert set(np.diff(starts)) == {grid[f"{name}_apart"]}
        share = bars.mean(axis=axis)  # of each line (sample) that shows the grid's tone: high on its bars
        lit = share > 2.5 * np.median(share)
        assert lit[starts].mean() > 0.6 and lit.mean() < 0.3


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_the_discs_are_where_the_truth_says(mode: str, aspect: str) -> None:
    """Measured as a photo's reader would: the centre of the light above the plate, and its area."""
    made = chart(mode, aspect)
    assert len(made.truth["marks"]) == 9 and len({each["name"] for each in made.truth["marks"]}) == 9
    for mark in made.truth["marks"]:
        high, wide = mark["radius_lines"], mark["radius_samples"]
        rows = np.arange(round(mark["line"] - 1.2 * high), round(mark["line"] + 1.2 * high))
        columns = np.arange(round(mark["sample"] - 1.2 * wide), round(mark["sample"] + 1.2 * wide))
        light = made.frame[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1, 1] - 0.03
        assert light.min() >= -1e-6 and light.max() == pytest.approx(0.89)
        assert light.sum() == pytest.approx(0.89 * np.pi * high * wide, rel=0.02)
        middle = [(light.sum(1 - k) @ (at + 0.5)) / light.sum() for k, at in enumerate((rows, columns))]
        assert middle == pytest.approx([mark["line"], mark["sample"]], abs=0.02)
