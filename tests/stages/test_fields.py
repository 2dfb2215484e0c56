"""Expected numbers of the field stages: which lines a field carries, and where it lands."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hand import lines_of, nearly, pictures, ramp

from scalesim.chain import Chain
from scalesim.core.picture import Picture
from scalesim.core.raster import BOTTOM_FIRST, PROGRESSIVE, TOP_FIRST, Field, Raster
from scalesim.errors import ParameterError
from scalesim.stages.fields import Deinterlace, FieldOnly, Interlace, KeepField

FRAME = Raster(8, 2)
FIELDS = Raster(4, 2, fields=TOP_FIRST)
HALF = Fraction(1, 2)


# interlace


def test_interlace_takes_even_lines_then_odd_ones() -> None:
    top, bottom = pictures("interlace", FRAME, ramp(8))
    assert lines_of(top) == [0, 2, 4, 6] and lines_of(bottom) == [1, 3, 5, 7]
    assert [top.time, bottom.time] == [0, Fraction(1, 60)]


def test_interlace_bottom_first() -> None:
    first, second = pictures("interlace first=bottom", FRAME, ramp(8))
    assert lines_of(first) == [1, 3, 5, 7] and lines_of(second) == [0, 2, 4, 6]


def test_interlace_takes_one_field_of_each_frame() -> None:
    """Time passes: picture k gives the field of parity k mod 2 of *that* picture."""
    clip = [Picture(ramp(8) + 100 * k, FRAME, k / FRAME.rate) for k in range(4)]
    found = [lines_of(p) for p in Chain("interlace").run(clip)]
    assert [row[0] for row in found] == [0, 101, 200, 301]


def test_interlace_raster() -> None:
    after = Interlace().raster(FRAME)
    assert (after.lines, after.rate, after.scan) == (4, FRAME.rate, "interlaced")
    assert after.fields == (Field(0, Fraction(0)), Field(1, HALF))
    assert Interlace(first="bottom").raster(FRAME).fields == (Field(1, HALF), Field(0, Fraction(0)))


def test_interlace_refuses_fields_and_odd_lines() -> None:
    with pytest.raises(ParameterError, match=r"interlace: got 2 x 4 lines.*deinterlace first"):
        Interlace().raster(FIELDS)
    with pytest.raises(ParameterError, match=r"interlace: got 481 lines; the number must be even"):
        Interlace().raster(Raster(481, 2))


# deinterlace


def test_weave_puts_the_lines_back() -> None:
    (frame,) = pictures("deinterlace how=weave", FIELDS, ramp(8))
    assert lines_of(frame) == list(range(8))
    (frame,) = pictures("deinterlace", FIELDS.with_(fields=BOTTOM_FIRST), ramp(8))
    assert lines_of(frame) == list(range(8))


def test_bob_fills_in_the_mean_of_the_neighbours() -> None:
    """Above the bottom field's first line and below the top field's last one that line is shown again."""
    top, bottom = pictures("deinterlace how=bob", FIELDS, ramp(8))
    assert lines_of(top) == [0, 1, 2, 3, 4, 5, 6, 6]
    assert lines_of(bottom) == [1, 1, 2, 3, 4, 5, 6, 7]


def test_blend_is_the_mean_of_both_bobs() -> None:
    (frame,) = pictures("deinterlace how=blend", FIELDS, ramp(8))
    nearly(lines_of(frame), [0.5, 1, 2, 3, 4, 5, 6, 6.5])


def test_deinterlace_rates() -> None:
    assert Deinterlace().raster(FIELDS).rate == 30
    assert Deinterlace(how="blend").raster(FIELDS).rate == 30
    assert Deinterlace(how="bob").raster(FIELDS).rate == 60
    assert Deinterlace().raster(FIELDS).fields == PROGRESSIVE
    assert Deinterlace().raster(FIELDS).lines == 8


@pytest.mark.parametrize(("how", "count"), [("weave", 2), ("blend", 2), ("bob", 5)])
def test_a_last_field_without_its_partner_is_left_out(how: str, count: int) -> None:
    clip = [Picture(ramp(4) + k, FIELDS, k / FIELDS.rate) for k in range(5)]
    found = list(Chain(f"deinterlace how={how}").run(clip))
    assert len(found) == count
    assert [p.time for p in found] == [Fraction(k * (5 // count), 60) for k in range(count)]


def test_deinterlace_refuses_frames_and_field_only() -> None:
    with pytest.raises(ParameterError, match=r"deinterlace: got 8 lines.*progressive.*needs an interlaced"):
        Deinterlace().raster(FRAME)
    with pytest.raises(ParameterError, match="field-only"):
        Deinterlace().raster(FieldOnly().raster(FIELDS))


# keep-field


def test_keep_field_keeps_one_parity() -> None:
    (top,) = pictures("keep-field", FIELDS, ramp(8))
    (bottom,) = pictures("keep-field parity=bottom", FIELDS, ramp(8))
    assert lines_of(top) == [0, 2, 4, 6] and lines_of(bottom) == [1, 3, 5, 7]


def test_keep_field_keeps_the_parity_not_the_order() -> None:
    raster = FIELDS.with_(fields=BOTTOM_FIRST)
    (top,) = pictures("keep-field parity=top", raster, ramp(8))
    assert lines_of(top) == [0, 2, 4, 6]


def test_keep_field_shows_the_kept_field_again() -> None:
    clip = [Picture(ramp(4) + 100 * k, FIELDS, k / FIELDS.rate) for k in range(5)]
    top = list(Chain("keep-field").run(clip))
    assert [lines_of(p)[0] for p in top] == [0, 0, 200, 200, 400]
    bottom = list(Chain("keep-field parity=bottom").run(clip))
    assert [lines_of(p)[0] for p in bottom] == [100, 100, 300, 300]
    assert bottom[0].time == Fraction(1, 60)  # nothing to show before the first kept field


def test_keep_field_raster() -> None:
    after = KeepField().raster(FIELDS)
    assert (after.lines, after.rate, after.fields) == (4, 60, PROGRESSIVE)
    assert KeepField().raster(FieldOnly().raster(FIELDS)).scan == "progressive"
    with pytest.raises(ParameterError, match=r"keep-field: got 8 lines.*it needs two fields"):
        KeepField().raster(FRAME)


@pytest.mark.parametrize("parity", ["top", "bottom"])
def test_keep_field_crops_nothing(parity: str) -> None:
    """Half the detail is lost but no part of the picture is pushed out."""
    geometry = Chain(f"interlace, keep-field parity={parity}").resolve(Raster(480, 8)).geometry
    assert geometry.kept_lines == (0.0, 480.0)


# field-only


@pytest.mark.parametrize(("pair", "landings"), [("down", (0, 0)), ("up", (0, 1))])
def test_field_only_landings(pair: str, landings: tuple[int, int]) -> None:
    after = FieldOnly(pair=pair).raster(FIELDS)
    assert after.landings == landings and after.scan == "field-only"
    assert [f.parity for f in after.fields] == [0, 1]
    first_bottom = FieldOnly(pair=pair).raster(FIELDS.with_(fields=BOTTOM_FIRST))
    assert first_bottom.landings == landings[::-1]


def test_field_only_leaves_the_content() -> None:
    top, bottom = pictures("field-only pair=up", FIELDS, ramp(8))
    assert lines_of(top) == [0, 2, 4, 6] and lines_of(bottom) == [1, 3, 5, 7]


def test_field_only_refuses_frames_and_itself() -> None:
    with pytest.raises(ParameterError, match=r"field-only: got 8 lines.*put interlace before it"):
        FieldOnly().raster(FRAME)
    with pytest.raises(ParameterError, match="field-only: got 2 x 4 lines"):
        FieldOnly().raster(FieldOnly().raster(FIELDS))
