"""The picture at the shape of the tube."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hand import across, ramp

from scalesim.core.raster import TOP_FIRST, Raster, Window
from scalesim.tube.seen import seen

FOUR_THIRDS = Fraction(4, 3)


@pytest.mark.parametrize(
    ("lines", "dots", "size"),
    [
        (240, 4, (960, 1280)),
        (480, 2, (960, 1280)),
        (288, 3, (864, 1152)),
        (576, 2, (1152, 1536)),
        (720, 1, (720, 960)),
        (1080, 1, (1080, 1440)),
    ],
)
def test_lines_are_whole_dots_tall(lines: int, dots: int, size: tuple[int, int]) -> None:
    picture = seen(ramp(lines, 8), Raster(lines, 8), FOUR_THIRDS)
    assert picture.shape == (*size, 3)
    assert np.array_equal(picture[:, 0, 0], np.repeat(np.arange(lines), dots))


def test_every_sample_is_shown_for_its_share_of_the_width() -> None:
    picture = seen(across(240, 320), Raster(240, 320), FOUR_THIRDS)
    assert np.array_equal(picture[0, :, 0], np.repeat(np.arange(320), 4))
    wide = seen(across(240, 720), Raster(240, 720), FOUR_THIRDS)[0, :, 0]
    counts = np.bincount(wide.astype(int), minlength=720)
    assert counts.min() >= 1 and counts.max() <= 2 and counts.sum() == 1280
    assert np.array_equal(
        wide + wide[::-1], np.full(1280, 719.0)
    )  # taken at the middles: the same from both ends


def test_tube_shape() -> None:
    assert seen(ramp(240, 8), Raster(240, 8), Fraction(16, 9)).shape == (960, 1707, 3)


def test_only_the_visible_window_is_shown() -> None:
    raster = Raster(240, 100, visible=Window(0.1, 0.9, 0.25, 0.75))
    picture = seen(ramp(240, 100), raster, FOUR_THIRDS)
    assert picture[0, 0, 0] == 24 and picture[-1, 0, 0] == 215
    assert picture.shape == (960, 1280, 3)  # 192 lines, five dots each
    columns = seen(across(240, 100), raster, FOUR_THIRDS)[0, :, 0]
    assert (columns[0], columns[-1]) == (25, 74)


def test_interlaced_is_shown_with_all_its_lines() -> None:
    raster = Raster(240, 8, fields=TOP_FIRST)
    picture = seen(ramp(480, 8), raster, FOUR_THIRDS)
    assert picture.shape == (960, 1280, 3) and picture[-1, 0, 0] == 479


def test_tiny_rasters_and_dtypes() -> None:
    for dtype in (np.float32, np.float64):
        picture = seen(np.zeros((1, 1, 3), dtype), Raster(1, 1), FOUR_THIRDS)
        assert picture.shape == (960, 1280, 3) and picture.dtype == dtype


def test_nothing_is_invented() -> None:
    """Every value shown is a value of the picture: no beam, no blur."""
    frame = np.random.RandomState(0).uniform(size=(24, 20, 3))
    assert set(np.unique(seen(frame, Raster(24, 20), FOUR_THIRDS))) <= set(np.unique(frame))
