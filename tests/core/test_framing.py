"""Borders and whole-number enlargements: put on by NumPy or OpenCV, taken off to the bit."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from scalesim.core.framing import Framing, border_of, cut_of, repeats
from scalesim.errors import ParameterError


def picture(lines: int = 240, samples: int = 320, seed: int = 0) -> np.ndarray:
    return np.random.RandomState(seed).rand(lines, samples, 3).astype(np.float32)


@pytest.mark.parametrize("sides", [(20, 12, 8, 40), (0, 0, 3, 0), (5, 0, 0, 0), (0, 0, 0, 0)])
@pytest.mark.parametrize("colour", [0.0, 0.1, 1.0])
def test_a_border_is_found_and_taken_off(sides: tuple[int, int, int, int], colour: float) -> None:
    top, bottom, left, right = sides
    inside = picture()
    framed = cv2.copyMakeBorder(inside, top, bottom, left, right, cv2.BORDER_CONSTANT, value=[colour] * 3)
    assert border_of(framed) == sides
    cut = cut_of(framed, Framing(trim="auto"))
    assert np.array_equal(cut(framed), inside)
    assert len(cut.notes) == 1 and ("nothing" in cut.notes[0]) == (sides == (0, 0, 0, 0))
    assert np.array_equal(cut_of(framed, Framing(trim=sides))(framed), inside)


def test_a_border_through_jpeg() -> None:
    """Compression at quality 90 moves a border by a few codes; it ends where blocks do."""
    inside = cv2.GaussianBlur(picture(), (0, 0), 2)
    framed = cv2.copyMakeBorder(inside, 32, 16, 16, 32, cv2.BORDER_CONSTANT, value=[0, 0, 0])
    codes = cv2.imencode(".jpg", np.round(255 * framed).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 90])[1]
    back = cv2.imdecode(codes, cv2.IMREAD_COLOR).astype(np.float32) / 255
    assert np.abs(np.array(border_of(back)) - (32, 16, 16, 32)).max() <= 1


def test_a_picture_of_one_colour_has_no_border() -> None:
    assert border_of(np.full((64, 64, 3), 0.3, np.float32)) == (0, 0, 0, 0)


@pytest.mark.parametrize("times", [(2, 1), (4, 4), (3, 5), (1, 2), (1, 1)])
@pytest.mark.parametrize("native", ["auto", 240])
def test_an_enlargement_is_undone_to_the_bit(times: tuple[int, int], native: str | int) -> None:
    own = picture()
    large = cv2.resize(own, (320 * times[1], 240 * times[0]), interpolation=cv2.INTER_NEAREST)
    assert (repeats(large), repeats(large.swapaxes(0, 1))) == times
    cut = cut_of(large, Framing(native=native))  # type: ignore[arg-type]
    assert np.array_equal(cut(large), own)
    assert ("nothing was undone" in cut.notes[0]) == (times == (1, 1))


def test_border_first_then_enlargement() -> None:
    own = picture()
    large = cv2.copyMakeBorder(
        np.kron(own, np.ones((4, 4, 1), np.float32)), 60, 60, 7, 9, cv2.BORDER_CONSTANT
    )
    assert large.shape[0] == 1080
    cut = cut_of(large, Framing("auto", "auto"))
    assert np.array_equal(cut(large), own) and len(cut.notes) == 2


def test_what_cannot_be_undone_is_refused() -> None:
    """A filtered enlargement, a line count that does not divide, sides that leave nothing."""
    smooth = cv2.resize(picture(), (640, 480), interpolation=cv2.INTER_LINEAR)
    assert repeats(smooth) == 1
    with pytest.raises(ParameterError, match="enlarged with a filter"):
        cut_of(smooth, Framing(native=240))
    with pytest.raises(ParameterError, match="no whole multiple"):
        cut_of(smooth, Framing(native=250))
    for sides in ((400, 60, 0, 0), (0, 0, 300, 320), (-1, 0, 0, 0)):
        with pytest.raises(ParameterError, match="trim"):
            cut_of(smooth, Framing(trim=sides))
    assert not Framing()
