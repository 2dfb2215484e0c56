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
from scalesim.signal.rectify.warp import POWERS, Warp, fit_warp, register_photos
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
    assert np.sqrt((off**2).mean()) < 1.5 * warp.error


@pytest.mark.slow
def test_photos_of_other_pictures_are_refused() -> None:
    one = Pinhole().photo(lines_of(luma(skimage.data.astronaut()[:384] / 255)))
    other = Pinhole(-3, 2).photo(lines_of(skimage.data.camera() / 255))
    with pytest.raises(NotIdentifiable, match="they do not show the same"):
        register_photos(one, other)


def same_place(size: tuple[int, int]) -> Warp:
    rows, columns = size
    places = np.array([[0.0, 0], [columns - 1, 0], [columns - 1, rows - 1], [0, rows - 1]] * 5)
    return Warp(np.eye(3), (0.0, 0.0), np.zeros((len(POWERS), 2)), size, size, places, 0.1)


def test_a_warp_is_perspective_and_two_lenses_and_a_cubic_only_for_a_curved_face() -> None:
    """OpenCV's two cameras before a flat picture, then one that is bent by 2 %; places to 0.3 pixels."""
    one, other = Pinhole(4, 6, 1.5, lens=-0.08), Pinhole(-5, -4, -1, fill=0.95, lens=-0.02)
    random = np.random.RandomState(2)
    uv, unseen = random.rand(120, 2), 0.1 + 0.8 * random.rand(200, 2)
    for bend in (0.0, 0.02):

        def seen(at: NDArray, bend: float = bend) -> NDArray:
            return other.to_photo(at + bend * (at - 0.5) * ((at - 0.5) ** 2).sum(axis=1, keepdims=True) * 4)

        noise = 0.3 * random.standard_normal((120, 2))
        size = (900, 1200)
        warp = fit_warp(one.to_photo(uv), seen(uv) + noise, size, size)
        off = warp.to_second(one.to_photo(unseen)) - seen(unseen)
        assert warp.bend.any() == (bend > 0)
        assert np.sqrt((off**2).mean()) < warp.error and warp.error == pytest.approx(0.3, rel=0.35)


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
    undone = laid.matched / laid.gain / laid.shade[..., None]
    assert np.abs(undone - laid.second)[:, :250].max() < 1e-6


def test_what_lenses_shade_is_no_difference() -> None:
    """A second photo that loses a third in its corners by the square of the distance, and two gains."""
    light = skimage.data.astronaut()[:240, :320].astype(np.float32) / 300 + 0.05
    rows, columns = np.indices((240, 320))
    away = ((rows - 119.5) ** 2 + (columns - 159.5) ** 2) / (120**2 + 160**2)
    other = 0.6 * light * np.exp(-0.4 * away)[..., None]
    laid = laid_on(light, other.astype(np.float32), same_place((240, 320)), 3.0)
    assert laid.gain == pytest.approx([1 / 0.6] * 3, rel=0.01)
    assert np.nanmax(np.abs(laid.ratio - 1)) < 0.03 and laid.shade.max() == pytest.approx(
        np.exp(0.4), rel=0.03
    )


def test_photos_too_dark_to_match_are_refused() -> None:
    black = np.zeros((240, 320, 3), np.float32)
    with pytest.raises(NotIdentifiable, match="neither dark nor overexposed"):
        laid_on(black, black, same_place((240, 320)), 3.0)
