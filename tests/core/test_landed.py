"""The picture on the screen's lines, with numbers worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hand import lines_of, nearly, ramp

from scalesim.chain import Chain
from scalesim.core.landed import landed, woven
from scalesim.core.picture import still_stream
from scalesim.core.raster import BOTTOM_FIRST, TOP_FIRST, Raster
from scalesim.stages.fields import FieldOnly

PROGRESSIVE = Raster(4, 2)
FIELDS = Raster(4, 2, fields=TOP_FIRST)
TOP, BOTTOM = ramp(8)[0::2], ramp(8)[1::2]


def test_progressive_is_itself() -> None:
    assert landed([TOP], PROGRESSIVE) is TOP and woven([TOP], PROGRESSIVE) is TOP


def test_interlaced_is_woven() -> None:
    assert lines_of(landed([TOP, BOTTOM], FIELDS)) == list(range(8))
    assert lines_of(woven([TOP, BOTTOM], FIELDS)) == list(range(8))


def test_interlaced_bottom_first() -> None:
    raster = FIELDS.with_(fields=BOTTOM_FIRST)
    assert lines_of(landed([BOTTOM, TOP], raster)) == list(range(8))
    assert lines_of(woven([BOTTOM, TOP], raster)) == list(range(8))


@pytest.mark.parametrize(("order", "whole"), [((0, 1), True), ((1, 0), False)])
def test_fields_that_lie_as_they_land_need_no_copy(order: tuple[int, int], *, whole: bool) -> None:
    """Only where they do, and only for who asks: fields the wrong way round are woven anew."""
    frame = ramp(8).copy()
    fields = [frame[parity::2] for parity in order]
    assert (landed(fields, FIELDS, shared=True) is frame) == whole
    assert lines_of(landed(fields, FIELDS, shared=True)) == lines_of(landed(fields, FIELDS))
    assert not np.shares_memory(landed(fields, FIELDS), frame)
    longer = np.concatenate([frame, frame])
    assert not np.shares_memory(landed([longer[0:8:2], longer[1:8:2]], FIELDS, shared=True), longer)


def test_field_only_down_is_the_light_mean_of_both() -> None:
    """White on even lines, black on odd ones: half the light on every line, code 0.5^(1/2.4) = 0.749."""
    frame = np.zeros((8, 2, 3))
    frame[0::2] = 1.0
    raster = FieldOnly(pair="down").raster(FIELDS)
    nearly(lines_of(landed([frame[0::2], frame[1::2]], raster)), [0.749153538] * 4)
    assert lines_of(woven([frame[0::2], frame[1::2]], raster)) == [1, 0] * 4


def test_field_only_up_moves_the_bottom_field_down_a_line() -> None:
    """Lines 2k and 2k - 1 share a scan line; the first has the top field only, the last one falls off."""
    frame = np.zeros((8, 2, 3))
    frame[1] = frame[2] = 1.0  # one pair
    frame[7] = 1.0  # below the last scan line
    raster = FieldOnly(pair="up").raster(FIELDS)
    nearly(lines_of(landed([frame[0::2], frame[1::2]], raster)), [0, 1, 0, 0])
    frame[:] = 1.0
    nearly(lines_of(landed([frame[0::2], frame[1::2]], raster)), [0.749153538, 1, 1, 1])


def test_field_only_of_bottom_first_pairs_alike() -> None:
    frame = np.zeros((8, 2, 3))
    frame[1] = frame[2] = 1.0
    raster = FieldOnly(pair="up").raster(FIELDS.with_(fields=BOTTOM_FIRST))
    nearly(lines_of(landed([frame[1::2], frame[0::2]], raster)), [0, 1, 0, 0])


def test_alternating_progressive_pictures_are_averaged_in_light() -> None:
    black, white = np.zeros((4, 2, 3)), np.ones((4, 2, 3))
    nearly(lines_of(landed([black, white], PROGRESSIVE)), [0.749153538] * 4)


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize(
    "text",
    [
        "quantise",
        "interlace",
        "interlace, field-only",
        "interlace, field-only pair=up",
        "interlace, keep-field",
    ],
)
def test_shapes_and_dtypes(text: str, dtype: type) -> None:
    source = Raster(12, 3)
    frame = (ramp(12, 3) / 12).astype(dtype)
    raster = Chain(text).resolve(source).output
    pictures = [p.values for p in Chain(text).run_still(source, still_stream(frame, source))]
    kept = [p.copy() for p in pictures]
    assert landed(pictures, raster).shape == (raster.landed_lines, 3, 3)
    assert woven(pictures, raster).shape == (raster.frame_lines, 3, 3)
    assert landed(pictures, raster).dtype == woven(pictures, raster).dtype == dtype
    for before, after in zip(kept, pictures, strict=True):
        assert np.array_equal(before, after)
