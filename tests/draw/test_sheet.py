"""Drawing: exact coverage, circles round on the screen, letters of whole dots."""

from __future__ import annotations

import math
from fractions import Fraction

import cv2
import numpy as np
import pytest

from scalesim.draw.letters import text_mask
from scalesim.draw.sheet import Box, blank_sheet, spread
from scalesim.errors import ParameterError


def ellipse_of(mask: np.ndarray) -> tuple[tuple[float, float], float, float]:
    """Return centre (x, y), width and height of the ellipse that OpenCV fits to a mask's samples."""
    down, across = np.nonzero(mask)
    points = np.stack([across + 0.5, down + 0.5], axis=1).astype(np.float32)
    (x, y), (first, second), turn = cv2.fitEllipse(points)
    wide, high = (first, second) if min(turn % 180, 180 - turn % 180) < 45 else (second, first)
    return (x, y), wide, high


def test_a_box_paints_its_exact_area() -> None:
    """The sum over samples is width times height, also between samples."""
    sheet = blank_sheet("480p", None, 0.0)
    sheet.fill(Box(10.25, 20.5, 67.2, 100.9), 1.0)
    assert sheet.frame[..., 0].sum() == pytest.approx(10.25 * 33.7, rel=1e-5)
    assert sheet.frame[15, 67, 0] == pytest.approx(0.8, abs=1e-5)  # 67.2 leaves 0.8 of sample 67
    assert sheet.frame[10, 80, 0] == pytest.approx(0.75)


def test_a_box_beyond_the_frame_is_cut_off() -> None:
    sheet = blank_sheet("480p", None, 0.0)
    sheet.fill(Box(-5, 3, 718, 900), 1.0)
    assert sheet.frame[..., 0].sum() == 3 * 2
    sheet.fill(Box(600, 700, 0, 10), 1.0)
    assert sheet.frame[..., 0].sum() == 3 * 2


@pytest.mark.parametrize(
    "mode, aspect", [("720p", "16:9"), ("480p", "4:3"), ("480p", "16:9"), ("240p", "4:3")]
)
def test_a_circle_is_round_on_the_screen(mode: str, aspect: str) -> None:
    """OpenCV's ellipse fit: width times the sample aspect equals height; the area is 2 pi r t."""
    sheet = blank_sheet(mode, aspect, 0.0)
    y, x, radius, thick = sheet.lines * 0.5 + 0.3, 350.2, sheet.lines / 4, 2.0
    sheet.circle(y, x, radius, thick, 1.0)
    (centre_x, centre_y), wide, high = ellipse_of(sheet.frame[..., 0] > 0.5)
    shape = float(sheet.sample_aspect)
    assert (centre_x, centre_y) == pytest.approx((x, y), abs=0.1)
    assert wide * shape == pytest.approx(high, rel=0.005)
    assert high == pytest.approx(2 * radius, rel=0.01)
    assert sheet.frame[..., 0].sum() == pytest.approx(2 * math.pi * radius * thick / shape, rel=0.005)
    if shape != 1:  # the same ring is no circle in samples: the law can fail
        assert abs(wide / high - 1) > 0.05


# Section "sample aspect" of CTA-861 for whole rasters: 8/9, 16/15, 32/27, 64/45; 720 samples by 240: 4/9.
@pytest.mark.parametrize(
    "mode, aspect, expected",
    [
        ("480p", "4:3", Fraction(8, 9)),
        ("576i", "4:3", Fraction(16, 15)),
        ("480i", "16:9", Fraction(32, 27)),
        ("576p", "16:9", Fraction(64, 45)),
        ("240p", "4:3", Fraction(4, 9)),
        ("720p", "16:9", Fraction(1)),
        ("1080i", "4:3", Fraction(1)),
    ],
)
def test_sample_aspects(mode: str, aspect: str, expected: Fraction) -> None:
    assert blank_sheet(mode, aspect, 0.0).sample_aspect == expected


def test_four_by_three_in_a_wide_mode_is_the_centre_three_quarters() -> None:
    """1280 becomes 960, 1920 becomes 1440, 12.5 % off each side (arithmetic)."""
    assert blank_sheet("720p", "4:3", 0.5).area == Box(0, 720, 160, 1120)
    assert blank_sheet("1080p", "4:3", 0.5).area == Box(0, 1080, 240, 1680)
    sheet = blank_sheet("720p", "4:3", 0.5, around=0.1)
    assert np.all(sheet.frame[:, :160] == np.float32(0.1)) and np.all(sheet.frame[:, 160:1120] == 0.5)


def test_the_aspect_left_out_is_the_modes_own() -> None:
    assert blank_sheet("720p", None, 0.0).aspect == "16:9"
    assert blank_sheet("480i", None, 0.0).aspect == "4:3"


def test_letters_are_whole_dots_on_the_dot_grid() -> None:
    """720 lines: a dot is 3 lines, so a capital is 21 lines high, and every third line starts a dot."""
    sheet = blank_sheet("720p", None, 0.0)
    box = sheet.text("E7", 100, 50.4, 1.0)
    assert (sheet.dot_lines, sheet.dot_samples) == (3, 3)
    assert box == Box(99, 123, 50, 50 + sheet.text_samples("E7"))
    drawn = sheet.frame[99:123, 50 : int(box.right), 0]
    assert np.array_equal(drawn[1::3, 1::3] > 0, text_mask("E7"))
    assert np.flatnonzero(sheet.frame[..., 0].any(axis=1)).tolist() == list(range(99, 120))


@pytest.mark.parametrize("mode", ["1080p", "1080i", "720p", "480p", "640x480p", "480i", "576p", "576i"])
def test_a_dot_survives_to_240_lines(mode: str) -> None:
    """At least one line of 240 (288), but for a rounding; and no more than 3 samples of 720 wide."""
    for aspect in ("16:9", "4:3"):
        sheet = blank_sheet(mode, aspect, 0.0)
        out = 288 if sheet.lines == 576 else 240
        assert sheet.dot_lines * out / sheet.lines >= 1
        on_screen = sheet.dot_samples * float(sheet.sample_aspect) / sheet.dot_lines
        assert 0.75 < on_screen < 1.45


def test_spread_touches_and_fills() -> None:
    assert list(spread(0, 10, 3)) == [(0, 3), (3, 7), (7, 10)]


def test_errors_name_the_thing() -> None:
    with pytest.raises(ParameterError, match=r"aspect: '16:10' is not known; did you mean '16:9'"):
        blank_sheet("720p", "16:10", 0.0)
    with pytest.raises(ParameterError, match="mode: '721p' is not known"):
        blank_sheet("721p", None, 0.0)
