"""The view of a photo by the chart's discs and by the frame that was sent, on photos drawn with OpenCV."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import skimage.data
from few import few
from numpy.typing import NDArray

from scalesim.charts.geometry import geometry_chart
from scalesim.core.encoding import luma
from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.by_frame import view_by_frame
from scalesim.signal.rectify.discs import view_by_discs
from tests.pinhole import Pinhole

GRID = np.stack(np.meshgrid(np.linspace(0.05, 0.95, 7), np.linspace(0.05, 0.95, 7)), -1).reshape(-1, 2)


def lines_of(picture: NDArray, lines: int = 240) -> NDArray:
    """Light of the lines of a box average, by OpenCV."""
    return cv2.resize(picture.astype(np.float32), (960, lines), interpolation=cv2.INTER_AREA) ** 2.4


@pytest.fixture(scope="module")
def chart() -> dict:
    made = geometry_chart("720p")
    return {"marks": made.truth["marks"], "lines": lines_of(luma(made.frame))}


@pytest.mark.parametrize(
    "camera",
    few(
        [Pinhole(-10, 10, -4, lens=-0.14), Pinhole(0, 12, 87, 0.6), Pinhole(3, 2, 180, lens=0), Pinhole()], 2
    ),
)
def test_the_chart_straightens_a_photo(chart: dict, camera: Pinhole) -> None:
    """To a tenth of a line, upright, turned, upside down; OpenCV's tilt of 14 degrees, barrel of 4 %."""
    view = view_by_discs(camera.photo(chart["lines"]), chart["marks"], (720, 1280))
    off = view.to_picture(camera.to_photo(GRID)) - GRID
    assert view.points == 9 and np.abs(off[:, 1]).max() * 240 < 0.1
    assert np.abs(off[:, 0]).max() * 320 < 0.15


def test_discs_that_a_reflection_hides_are_done_without(chart: dict) -> None:
    camera = Pinhole()
    light = camera.photo(chart["lines"])
    x, y = camera.to_photo(np.array([[0.93, 0.1]]))[0]
    cv2.circle(light, (round(x), round(y)), 90, 1.0, -1)
    view = view_by_discs(light, chart["marks"], (720, 1280))
    off = view.to_picture(camera.to_photo(GRID)) - GRID
    assert view.points == 8 and np.abs(off[:, 1]).max() * 240 < 0.25


def test_no_chart_no_view(chart: dict) -> None:
    camera = Pinhole()
    with pytest.raises(NotIdentifiable, match=r"discs of the geometry chart: .* or give --corners"):
        view_by_discs(camera.photo(lines_of(skimage.data.camera() / 255)), chart["marks"], (720, 1280))
    with pytest.raises(NotIdentifiable):  # half the tube: fewer than six discs
        half = camera.photo(chart["lines"])[:, 760:]
        view_by_discs(np.ascontiguousarray(half), chart["marks"], (720, 1280))


@pytest.fixture(scope="module")
def brick() -> NDArray:
    """A picture with texture all over that comes with scikit-image."""
    return luma(skimage.data.coffee().astype(np.float32) / 255)


@pytest.mark.slow
def test_the_frame_that_was_sent_straightens_a_photo(brick: NDArray) -> None:
    camera = Pinhole(-6, 7, 3, lens=-0.1)
    lines = lines_of(brick)
    view = view_by_frame(camera.photo(lines), brick)
    off = view.to_picture(camera.to_photo(GRID)) - GRID
    assert np.sqrt((off[:, 1] ** 2).mean()) * 240 < 0.25


@pytest.mark.slow
def test_another_frame_is_refused(brick: NDArray) -> None:
    camera = Pinhole()
    with pytest.raises(NotIdentifiable, match=r"places agree .* or too"):
        view_by_frame(camera.photo(lines_of(skimage.data.camera() / 255)), brick)
    with pytest.raises(NotIdentifiable, match="too little texture"):
        view_by_frame(camera.photo(np.full((240, 960), 0.4)), brick)
