"""How visible a tear is, on pictures worked out by hand and on a photograph that scikit-image ships."""

from __future__ import annotations

import numpy as np
import pytest
from skimage.data import astronaut

from scalesim.signal.tear_step import tear_step

PHOTO = (astronaut().astype(np.float32) / 255)[100:200]


def test_a_still_scene_hides_the_tear() -> None:
    found = tear_step(PHOTO, PHOTO, 40)
    assert found.step == 0 and found.share == 0 and not found.shows


@pytest.mark.parametrize("by", [7, -5, 40])
def test_a_pan_breaks_seams_by_as_far_as_it_moved(by: int) -> None:
    found = tear_step(PHOTO, np.roll(PHOTO, by, axis=1), 40)
    assert found.shows and found.shift == by and found.share > 0.3


def test_the_step_of_one_seam_by_hand() -> None:
    """A black and white edge moved by 3 of 100 samples: 3 % of the line steps, by all of white."""
    above = np.zeros((20, 100, 3), np.float32)
    above[:, 50:] = 1
    below = np.zeros((20, 100, 3), np.float32)
    below[:, 53:] = 1
    found = tear_step(above, below, 10)
    assert found.step == pytest.approx(0.03, abs=1e-6) and found.share == pytest.approx(0.03)
    assert found.shift == 3


def test_what_changes_elsewhere_does_not_count() -> None:
    """A tear in the sky while something moves below it."""
    below = PHOTO.copy()
    below[60:] = np.roll(below[60:], 9, axis=1)
    assert not tear_step(PHOTO, below, 30).shows and tear_step(PHOTO, below, 80).shows


def test_a_cut_is_no_shift() -> None:
    assert tear_step(PHOTO, PHOTO[::-1, ::-1].copy(), 40).shift is None
