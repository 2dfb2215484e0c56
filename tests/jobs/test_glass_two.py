"""What is said to differ between two photos: by hand, on light that is known."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.jobs.glass.answer import GlassRead
from scalesim.jobs.glass.two import GlassBeside
from scalesim.signal.rectify.laid import Laid
from scalesim.signal.rectify.warp import POWERS, Warp

ROWS, COLUMNS = 240, 320


def beside(ratio: np.ndarray) -> GlassBeside:
    """Two photos without lines whose light, once matched, has this ratio."""
    read = GlassRead("photo.jpg", None, "no lines", (), np.zeros((9, 9, 3), np.uint8), 1)
    size, light = (ROWS, COLUMNS), np.full((ROWS, COLUMNS, 3), 0.3, np.float32)
    places = np.array([[0.0, 0], [COLUMNS - 1, 0], [COLUMNS - 1, ROWS - 1], [0, ROWS - 1]])
    warp = Warp(np.eye(3), (0.0, 0.0), np.zeros((len(POWERS), 2)), size, size, places, 0.1)
    whole = np.ones(size, bool)
    laid = Laid(light, light, np.ones(3), np.ones(size, np.float32), whole, whole, ratio, 1)
    return GlassBeside(read, read, warp, laid)


def test_a_part_that_changed_is_told_with_its_share() -> None:
    ratio = np.ones((ROWS, COLUMNS), np.float32)
    ratio[:60] = 1.3
    found = beside(ratio)
    assert found.differ and "differ" in found.title
    assert found.differing.limit == pytest.approx(0.1)
    assert (
        "Once matched, 25 % of what can be compared is more than 10 % brighter after, and 0 % is"
        in " ".join(found.sentences())
    )


def test_a_change_within_the_photos_own_scatter_is_not_told() -> None:
    """Moire of a deviation of 12 %: three deviations, 36 %, are what a change must exceed."""
    scatter = 1 + 0.12 * np.random.RandomState(0).standard_normal((ROWS, COLUMNS)).astype(np.float32)
    found = beside(scatter)
    assert found.differing.limit == pytest.approx(0.36, rel=0.02)
    assert not found.differ and "no difference in light found, their lines cannot be compared" in found.title
    same = beside(np.ones((ROWS, COLUMNS), np.float32))
    assert not same.differ and "less than 0.5 % of what can be compared is more than 10 %" in " ".join(
        same.sentences()
    )
