"""Codes and PNG files written from values, checked against exact fractions and an outside reader."""

from __future__ import annotations

from fractions import Fraction
from math import floor
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import array_shapes, arrays

from scalesim.core.codes import to_codes
from scalesim.errors import ParameterError, ShapeError, WriteError
from scalesim.io.pictures.read import read_picture
from scalesim.io.pictures.write import write_png


def exact_code(value: float, bits: int) -> int:
    """floor((2**bits - 1) clip(v) + 1/2) in exact fractions: the convention itself, no rounding."""
    clipped = min(max(Fraction(value), Fraction(0)), Fraction(1))
    code: int = floor((2**bits - 1) * clipped + Fraction(1, 2))
    return code


@given(st.floats(-0.5, 1.5, width=32), st.sampled_from([8, 16]))
def test_codes_equal_the_formula_in_exact_fractions(value: float, bits: int) -> None:
    code = to_codes(np.array([value], dtype=np.float32), bits)
    assert code.dtype == {8: np.uint8, 16: np.uint16}[bits]
    assert int(code[0]) == exact_code(value, bits)


def test_halves_go_up_and_the_neighbour_below_stays_down() -> None:
    half = np.float64(0.5)  # 127.5 + 0.5 = 128 exactly
    below = np.nextafter(np.float32(0.5), np.float32(0))
    assert to_codes(np.array([half]))[0] == 128
    assert to_codes(np.array([below]))[0] == 127
    # Round-half-to-even, the usual mistake, would differ at 0.5/255 (code 0 instead of 1).
    assert to_codes(np.array([0.5 / 255]))[0] == 1 != round(0.5)


def test_out_of_range_and_infinite_values_are_clipped() -> None:
    assert to_codes(np.array([-1.0, 2.0, np.inf, -np.inf])).tolist() == [0, 255, 255, 0]
    assert to_codes(np.array([-1.0, 2.0]), 16).tolist() == [0, 65535]


def test_bands_join_without_gaps() -> None:
    values = np.random.RandomState(0).uniform(-0.1, 1.1, (131, 7, 3)).astype(np.float32)
    whole = np.floor(255 * np.clip(values.astype(np.float64), 0, 1) + 0.5).astype(np.uint8)
    np.testing.assert_array_equal(to_codes(values), whole)


def test_values_that_cannot_be_codes_are_refused() -> None:
    with pytest.raises(ShapeError, match="not a number"):
        to_codes(np.array([[0.1, np.nan]]))
    with pytest.raises(ShapeError, match="uint8; floating"):
        to_codes(np.zeros((2, 2), np.uint8))
    with pytest.raises(ParameterError, match="bits is 10"):
        to_codes(np.zeros(3), 10)


@pytest.mark.parametrize("shape", [(4, 5), (4, 5, 4), (0, 5, 3), (4, 0, 3)])
def test_write_png_refuses_other_shapes(shape: tuple[int, ...], tmp_path: Path) -> None:
    with pytest.raises(ShapeError, match="lines, samples, 3"):
        write_png(tmp_path / "a.png", np.zeros(shape))
    assert not (tmp_path / "a.png").exists()


@settings(max_examples=40, deadline=None)
@given(arrays(np.uint8, array_shapes(min_dims=2, max_dims=2, max_side=9).map(lambda s: (*s, 3))))
def test_round_trip_returns_every_code(tmp_path_factory: pytest.TempPathFactory, codes: np.ndarray) -> None:
    path = tmp_path_factory.getbasetemp() / "round.png"
    write_png(path, codes.astype(np.float32) / np.float32(255))
    picture = read_picture(path)
    np.testing.assert_array_equal(to_codes(picture.values), codes)
    assert picture.values.dtype == np.float32 and picture.bits == 8 and picture.notes == ()


def test_an_outside_reader_sees_the_same_codes(tmp_path: Path) -> None:
    """OpenCV's PNG reader; channel order reversed, as it documents."""
    values = np.random.RandomState(1).uniform(0, 1, (33, 47, 3)).astype(np.float32)
    write_png(tmp_path / "a.png", values)
    seen = cv2.imread(str(tmp_path / "a.png"), cv2.IMREAD_UNCHANGED)
    assert seen is not None
    np.testing.assert_array_equal(seen[..., ::-1], np.floor(255 * values.astype(np.float64) + 0.5))


def test_bytes_are_the_same_every_time_and_hold_no_extra_chunks(tmp_path: Path) -> None:
    values = np.random.RandomState(2).uniform(0, 1, (20, 30, 3))
    for name in ("a.png", "b.png"):
        write_png(tmp_path / name, values)
    data = (tmp_path / "a.png").read_bytes()
    assert data == (tmp_path / "b.png").read_bytes()
    kinds, at = [], 8
    while at < len(data):
        kinds.append(data[at + 4 : at + 8])
        at += 12 + int.from_bytes(data[at : at + 4], "big")
    assert set(kinds) == {b"IHDR", b"IDAT", b"IEND"}


def test_a_place_that_cannot_be_written_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(WriteError, match=r"no[/\\]a\.png: cannot be written") as caught:
        write_png(tmp_path / "no" / "a.png", np.zeros((2, 2, 3)))
    assert "\n" not in str(caught.value) and isinstance(caught.value, OSError)
