"""Two photos laid on each other: against the two cameras of OpenCV that took them, and known gains."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray

from scalesim.core.encoding import luma
from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.laid import laid_on
from scalesim.signal.rectify.warp import POWERS, Warp, register_photos
from tests.pinhole import Pinhole


def lines_of(picture: NDArray) -> NDArray:
    return cv2.resize(picture.astype(np.float32), (960, 240), interpolation=cv2.INTER_AREA) ** 2.4


@pytest.mark.slow
def test_two_cameras_are_laid_on_each_other() -> None:
    """To 0.2 line inside the hull: other place, other lens, other exposure."""
    lines = lines_of(luma(skimage.data.astronaut()[:384] / 255))
    one, other = Pinhole(4, 6, 1.5, lens=-0.08), Pinhole(-5, -4, -1, fill=0.95, lens=-0.02)
    warp = register_photos(one.photo(lines), 0.6 * other.photo(lines, seed=1))
    uv = np.random.RandomState(0).rand(400, 2)
    at = one.to_photo(uv)
    inside = warp.holds(at)
    off = (warp.to_second(at) - other.to_photo(uv))[inside]
    pitch = 0.95 * 900 / 240
    assert inside.mean() > 0.3
    assert np.percentile(np.abs(off[:, 1]), 90) / pitch < 0.2
    # the claim is not better than what it is
    assert np.median(np.linalg.norm(off, axis=1)) < 6 * warp.error + 0.1


@pytest.mark.slow
def test_photos_of_other_pictures_are_refused() -> None:
    one = Pinhole().photo(lines_of(luma(skimage.data.astronaut()[:384] / 255)))
    other = Pinhole(-3, 2).photo(lines_of(skimage.data.camera() / 255))
    with pytest.raises(NotIdentifiable, match="they do not show the same"):
        register_photos(one, other)


def same_place(size: tuple[int, int]) -> Warp:
    rows, columns = size
    places = np.array([[0.0, 0], [columns - 1, 0], [columns - 1, rows - 1], [0, rows - 1]] * 5)
    return Warp(np.eye(3), np.zeros((len(POWERS), 2)), size, places, 0.1)


def test_exposure_and_white_are_matched_on_what_is_equal() -> None:
    """A second photo with gains 0.5, 0.8, 1.25 of which a fifth shows something else."""
    light = skimage.data.astronaut()[:240, :320].astype(np.float32) / 300 + 0.05
    other = light * np.array([0.5, 0.8, 1.25], np.float32)
    other[:, 260:] *= 2.5
    laid = laid_on(light, other.astype(np.float32), same_place((240, 320)), 3.0)
    assert laid.gain == pytest.approx([2.0, 1.25, 0.8], rel=0.02)
    assert 0.6 < laid.equal_share < 0.85
    assert np.nanmedian(laid.ratio[:, 20:240]) == pytest.approx(1.0, abs=0.02)
    assert np.nanmedian(laid.ratio[:, 275:]) == pytest.approx(2.5, rel=0.05)
    assert np.abs(laid.matched / laid.gain - laid.second)[:, :250].max() < 1e-6  # it can be undone


def test_photos_too_dark_to_match_are_refused() -> None:
    black = np.zeros((240, 320, 3), np.float32)
    with pytest.raises(NotIdentifiable, match="neither dark nor overexposed"):
        laid_on(black, black, same_place((240, 320)), 3.0)
