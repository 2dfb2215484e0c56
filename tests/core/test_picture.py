"""Pictures: checks of values, weaving and taking apart, endless stills; and `Clip`."""

from __future__ import annotations

from fractions import Fraction
from itertools import islice

import numpy as np
import pytest
from hand import lines_of, ramp

from scalesim.core.clip import still_clip
from scalesim.core.picture import check_values, split_fields, still_stream, weave
from scalesim.core.raster import BOTTOM_FIRST, TOP_FIRST, Raster
from scalesim.errors import ParameterError, ShapeError

FRAME = Raster(4, 2)
FIELDS = Raster(2, 2, Fraction(60000, 1001), TOP_FIRST)


def test_check_values_takes_both_floats_as_they_are() -> None:
    for dtype in (np.float32, np.float64):
        values = ramp(4).astype(dtype)
        assert check_values(values, FRAME) is values


def test_check_values_wants_the_whole_frame_of_fields() -> None:
    assert check_values(ramp(4), FIELDS).shape == (4, 2, 3)
    with pytest.raises(ShapeError, match=r"frame: shape is \(2, 2, 3\); this raster takes \(4, 2, 3\)"):
        check_values(ramp(2), FIELDS, name="frame")


@pytest.mark.parametrize(
    ("values", "words"),
    [
        (
            ramp(4).astype(np.uint8),
            r"dtype is uint8; it must be float32 or float64.*divide 8-bit codes by 255",
        ),
        (ramp(4).astype(np.float16), "dtype is float16"),
        (ramp(4)[:, :, :1], "shape is"),
        (ramp(4)[:, :, 0], "shape is"),
        (ramp(4) * np.nan, "NaN or infinite"),
        (ramp(4) + np.inf, "NaN or infinite"),
    ],
)
def test_check_values_refuses(values: np.ndarray, words: str) -> None:
    with pytest.raises(ShapeError, match=words):
        check_values(values, FRAME)


def test_weave_and_split_are_inverse() -> None:
    for fields in (TOP_FIRST, BOTTOM_FIRST):
        raster = FIELDS.with_(fields=fields)
        first, second = split_fields(ramp(4), raster)
        frame = weave([first, second], [field.parity for field in fields])
        assert lines_of(frame) == [0, 1, 2, 3]
    assert [lines_of(p) for p in split_fields(ramp(4), FIELDS)] == [[0, 2], [1, 3]]
    assert split_fields(ramp(4), FRAME)[0].shape == (4, 2, 3)


def test_still_stream_alternates_fields_for_ever() -> None:
    found = list(islice(still_stream(ramp(4), FIELDS), 5))
    assert [lines_of(p) for p in found] == [[0, 2], [1, 3], [0, 2], [1, 3], [0, 2]]
    assert [p.time for p in found] == [Fraction(1001 * k, 60000) for k in range(5)]


def test_still_stream_bottom_first() -> None:
    found = list(islice(still_stream(ramp(4), FIELDS.with_(fields=BOTTOM_FIRST)), 2))
    assert [lines_of(p) for p in found] == [[1, 3], [0, 2]]


# clips


def test_still_clip_is_endless_and_fresh_each_time() -> None:
    clip = still_clip(np.zeros((480, 720, 3), np.float32), mode="480i", name="title")
    assert clip.is_still and clip.name == "title" and clip.mode == "480i59.94"
    assert clip.raster.fields == TOP_FIRST and clip.raster.lines == 240
    for _ in range(2):
        assert [p.time for p in islice(clip.pictures(), 2)] == [0, 1 / clip.raster.rate]


def test_still_clip_says_what_it_assumed() -> None:
    assert "mode guessed" in still_clip(np.zeros((720, 1280, 3))).notes[0]
    assert still_clip(np.zeros((720, 1280, 3)), mode="720p50", notes=("read",)).notes == ("read",)


@pytest.mark.parametrize(
    "frame",
    [np.zeros((4, 4)), np.zeros((4, 4, 4)), np.zeros((0, 4, 3)), np.zeros((4, 0, 3)), None, [[1]], "x"],
)
def test_still_clip_refuses_what_is_no_picture(frame: object) -> None:
    with pytest.raises(ShapeError, match="it must be"):
        still_clip(frame)  # type: ignore[arg-type]


def test_still_clip_refuses_a_mode_that_does_not_fit() -> None:
    with pytest.raises(ParameterError, match="the picture has 4 lines; this mode has 720"):
        still_clip(np.zeros((4, 4, 3)), mode="720p")
