"""Expected numbers of position, size, fit and overscan."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hand import across, lines_of, nearly, pictures, ramp, samples_of

from scalesim.core.affine import IDENTITY
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.errors import ParameterError
from scalesim.stages.geometry import ANCHORS, Fit, Overscan, Position, Size

WIDE = Raster(9, 16, aspect=Fraction(16, 9))
NARROW = Raster(9, 12, aspect=Fraction(4, 3))


# position


def test_position_whole_lines() -> None:
    (picture,) = pictures("position lines=2", Raster(6, 2), ramp(6) + 1)
    assert lines_of(picture) == [0, 0, 1, 2, 3, 4]
    (picture,) = pictures("position lines=-2", Raster(6, 2), ramp(6) + 1)
    assert lines_of(picture) == [3, 4, 5, 6, 0, 0]


def test_position_half_a_line_mixes_two() -> None:
    """Line r shows (r - 1/2): half of line r - 1, half of line r; above the top is black."""
    (picture,) = pictures("position lines=1/2", Raster(4, 2), ramp(4) + 1)
    assert lines_of(picture) == [0.5, 1.5, 2.5, 3.5]


def test_position_samples_moves_right() -> None:
    (picture,) = pictures("position samples=1", Raster(2, 4), across(2, 4) + 1)
    assert samples_of(picture) == [0, 1, 2, 3]


def test_position_kernel() -> None:
    """Keys cubic half way: -1/16, 9/16, 9/16, -1/16 of lines r - 2 .. r + 1; of a ramp r - 1/2."""
    frame = ramp(8) * 0
    frame[3] = 1.0
    (picture,) = pictures("position lines=1/2 kernel=cubic", Raster(8, 2), frame)
    nearly(lines_of(picture), [0, 0, -1 / 16, 9 / 16, 9 / 16, -1 / 16, 0, 0])


def test_position_nought_is_nothing() -> None:
    operator = Position().operator(WIDE).phases[0]
    assert operator.lines is None and operator.samples is None and operator.encoding == "any"


def test_position_by_whole_lines_mixes_nothing() -> None:
    assert Position(lines=3).operator(Raster(9, 4)).encoding == "any"
    assert Position(lines=2.5).operator(Raster(9, 4)).encoding == "code"


def test_position_out_of_the_raster_is_black() -> None:
    (picture,) = pictures("position lines=50", Raster(6, 2), ramp(6) + 1)
    assert not picture.values.any()


def test_position_after_interlace_counts_field_lines() -> None:
    """One field line is two lines of the frame."""
    raster, frame = Raster(480, 24), np.random.RandomState(0).rand(480, 24, 3)
    (one,) = pictures("interlace, position lines=1, deinterlace how=weave", raster, frame)
    (two,) = pictures("position lines=2, interlace, deinterlace how=weave", raster, frame)
    assert (one.values == two.values).all()
    assert (one.values[2:] == frame[:-2]).all() and not one.values[:2].any()


# size

SHOWN = {  # of 8 lines at 50 percent: the first and last output line that looks inside the picture
    "top": (0, 4),
    "centre": (2, 6),
    "bottom": (4, 8),
}


@pytest.mark.parametrize("anchor", list(ANCHORS))
def test_size_anchors(anchor: str) -> None:
    """At half size the picture's span is half the raster, against the anchor."""
    vertical, horizontal = ANCHORS[anchor]
    lines, samples = Size(height=50, width=50, anchor=anchor).maps(Raster(8, 8))
    top, left = 8 * vertical * 0.5, 8 * horizontal * 0.5  # the picture's edges on the raster
    assert lines[0](top) == pytest.approx(0) and lines[0](top + 4) == pytest.approx(8)
    assert samples(left) == pytest.approx(0) and samples(left + 4) == pytest.approx(8)


@pytest.mark.parametrize(
    ("anchor", "vertical", "horizontal"),
    [
        ("centre", 0.5, 0.5),
        ("top", 0, 0.5),
        ("bottom", 1, 0.5),
        ("left", 0.5, 0),
        ("right", 0.5, 1),
        ("top-left", 0, 0),
        ("top-right", 0, 1),
        ("bottom-left", 1, 0),
        ("bottom-right", 1, 1),
    ],
)
def test_anchor_is_where_its_name_says(anchor: str, vertical: float, horizontal: float) -> None:
    """The anchor is the one place that does not move."""
    lines, samples = Size(height=80, width=120, anchor=anchor).maps(Raster(100, 200))
    assert lines[0](100 * vertical) == pytest.approx(100 * vertical)
    assert samples(200 * horizontal) == pytest.approx(200 * horizontal)


@pytest.mark.parametrize("anchor", list(SHOWN))
def test_size_half_height(anchor: str) -> None:
    """Flat white at half height: white inside the picture, black outside (the kernel is 2 lines each way)."""
    (picture,) = pictures(f"size height=50 anchor={anchor}", Raster(40, 4), np.ones((40, 4, 3)))
    first, last = (5 * n for n in SHOWN[anchor])
    shown = lines_of(picture)
    assert shown[first + 1 : last - 1] == [1.0] * (last - first - 2)
    assert not any(shown[: max(first - 1, 0)]) and not any(shown[last + 1 :])


def test_size_hundred_is_nothing() -> None:
    assert Size().maps(WIDE) == ((IDENTITY,), IDENTITY)


@pytest.mark.parametrize("keys", [{"height": 90}, {"width": 90}, {"height": 90, "width": 90}])
def test_size_keep_aspect(keys: dict[str, float]) -> None:
    lines, samples = Size(keep_aspect=True, **keys).maps(Raster(100, 200))
    assert (lines[0].scale, samples.scale) == pytest.approx((1 / 0.9, 1 / 0.9))


def test_size_keep_aspect_refuses_two_sizes() -> None:
    with pytest.raises(ParameterError, match="height is 90 and width 80 with keep_aspect=on; give only one"):
        Size(height=90, width=80, keep_aspect="on")


def test_size_on_fields_zooms_about_one_place_of_the_screen() -> None:
    """240 lines a field: the frame's middle y = 240 is u = 120.25 in the top field and 119.75 in the bottom
    one (y = 2u + 2l - 1/2)."""
    top, bottom = Size(height=50).maps(Raster(240, 8, fields=TOP_FIRST))[0]
    assert top(120.25) == pytest.approx(120.25) and bottom(119.75) == pytest.approx(119.75)
    assert (top.scale, bottom.scale) == (2.0, 2.0)


# fit


def test_squeeze_changes_only_the_shape() -> None:
    stage = Fit()
    assert stage.maps(WIDE) == ((IDENTITY,), IDENTITY)
    assert stage.raster(WIDE).aspect == Fraction(4, 3)
    assert stage.raster(WIDE).with_(aspect=WIDE.aspect) == WIDE


@pytest.mark.parametrize(
    ("how", "raster", "aspect", "height", "width"),
    [
        ("letterbox", WIDE, "4:3", 3 / 4, 1),  # 16:9 on 4:3: bars above and below
        ("crop", WIDE, "4:3", 1, 4 / 3),  # the sides cut
        ("letterbox", NARROW, "16:9", 1, 3 / 4),  # 4:3 on 16:9: bars at the sides
        ("crop", NARROW, "16:9", 4 / 3, 1),  # top and bottom cut
        ("letterbox", NARROW, "4:3", 1, 1),
        ("crop", NARROW, "4:3", 1, 1),
    ],
)
def test_fit_sizes(how: str, raster: Raster, aspect: str, height: float, width: float) -> None:
    lines, samples = Fit(how=how, aspect=aspect).maps(raster)
    assert 1 / lines[0].scale == pytest.approx(height) and 1 / samples.scale == pytest.approx(width)
    assert lines[0](raster.lines / 2) == pytest.approx(raster.lines / 2)
    assert samples(raster.samples / 2) == pytest.approx(raster.samples / 2)
    assert Fit(how=how, aspect=aspect).raster(raster).aspect == Fraction(aspect.replace(":", "/"))


def test_letterbox_of_720_lines_leaves_90_black_above_and_below() -> None:
    raster = Raster(720, 2)
    (picture,) = pictures("fit how=letterbox", raster, np.ones((720, 2, 3)))
    shown = lines_of(picture)
    assert not any(shown[:89]) and not any(shown[631:])
    assert shown[92:628] == [1.0] * 536


def test_crop_of_1280_samples_shows_the_middle_960() -> None:
    raster = Raster(2, 1280)
    (picture,) = pictures("fit how=crop", raster, across(2, 1280))
    shown = samples_of(picture)
    assert shown[2] == pytest.approx(160 + 2.5 * 0.75 - 0.5) and shown[-3] == pytest.approx(
        1120 - 2.5 * 0.75 - 0.5
    )


@pytest.mark.parametrize("aspect", ["0:1", "9:1", "a:b", "4:0", "nan", 0, -1, float("inf"), None, True])
def test_fit_refuses_an_aspect(aspect: object) -> None:
    with pytest.raises(ParameterError, match="fit: aspect is"):
        Fit(aspect=aspect)


# overscan


def window(stage: Overscan, raster: Raster) -> tuple[float, float, float, float]:
    seen = stage.raster(raster).visible
    return (seen.top, seen.bottom, seen.left, seen.right)


def test_overscan_percent_is_in_total() -> None:
    nearly(window(Overscan(percent=5), WIDE), (0.025, 0.975, 0.025, 0.975))
    nearly(window(Overscan(), WIDE), (0.025, 0.975, 0.025, 0.975))
    nearly(window(Overscan(percent=0), WIDE), (0, 1, 0, 1))


def test_overscan_in_lines_and_samples() -> None:
    raster = Raster(240, 720)
    nearly(window(Overscan(top=12, right=36), raster), (0.05, 1, 0, 0.95))
    nearly(window(Overscan(top=12, bottom=24, left=72), raster), (0.05, 0.9, 0.1, 1))
    nearly(window(Overscan(top=0), raster), (0, 1, 0, 1))  # a side given: the percentage is out


def test_overscan_leaves_the_raster_and_the_values() -> None:
    raster = Raster(6, 2)
    after = Overscan(percent=40).raster(raster)
    assert (after.lines, after.samples) == (6, 2)
    (picture,) = pictures("overscan percent=40", raster, ramp(6))
    assert lines_of(picture) == [0, 1, 2, 3, 4, 5]


def test_two_overscans_hide_what_either_hides() -> None:
    raster = Overscan(top=24).raster(Raster(240, 720))
    nearly(window(Overscan(percent=10), raster), (0.1, 0.95, 0.05, 0.95))


def test_overscan_refuses_to_hide_everything() -> None:
    with pytest.raises(ParameterError, match=r"overscan: top \+ bottom is 240; it must be below the 240"):
        Overscan(top=120, bottom=120).raster(Raster(240, 720))
    with pytest.raises(ParameterError, match=r"left \+ right is 800; it must be below the 720"):
        Overscan(left=800).raster(Raster(240, 720))
    half = Overscan(bottom=200).raster(Raster(240, 720))
    with pytest.raises(ParameterError, match="two overscans together hide the whole picture"):
        Overscan(top=200).raster(half)
