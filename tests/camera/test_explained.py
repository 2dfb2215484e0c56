"""Photos against predictions and registration on the camera model: a sample of the trials made by hand.

`explained_trials` and `registered_trials` print the whole tables.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from explained_trials import asked, drawn, photographed
from glass_fed import _beams, codes_of, fed, shot
from glass_tube import beams
from registered_trials import on_frame, on_photo, pair

from scalesim.core.photo import Photo
from scalesim.errors import NotIdentifiable
from scalesim.jobs.glass.two import beside


def test_large_photos_are_drawn_with_the_tests_own_beams() -> None:
    """`glass_fed` against `glass_tube`, at any place in and around the picture."""
    random = np.random.RandomState(0)
    tube = fed([random.rand(240, 320, 3)], [0.25], sigma=0.2)
    u, v = random.uniform(-0.1, 1.1, 3000), random.uniform(-4, 245, 3000)
    u, v = (each.astype(np.float32)[None] for each in (u, v))
    still = np.zeros(240, np.float32)
    own, theirs = _beams(tube, 0, u, v, still), beams(tube, tube.fields[0], u, v, 0.25, still)
    assert np.abs(own - theirs).max() < 1e-5 and theirs.max() > 0.5


@pytest.mark.slow
def test_the_right_chain_of_six() -> None:
    """Of six trials none is wrong, and four at least are told."""
    told = [asked(trial, photographed(trial)) for trial in map(drawn, (0, 1, 2, 3, 502, 504))]
    assert [each for each in told if each["verdict"] == "WRONG"] == []
    assert sum(each["verdict"] == "right" for each in told) >= 4
    assert all(each["true"] in each["alike"] for each in told if each["verdict"] == "tie")


@pytest.mark.slow
def test_the_frame_that_was_sent_straightens_photos_of_it(tmp_path: Path) -> None:
    """Tilt of 13 degrees: the whole picture, and half of it, to a third of a scan line for 95 % of places."""
    for number in (1, 2):
        found = on_frame(number, tmp_path)
        assert found["down_p95"] < 0.33 and found["across_p95"] < 0.33


@pytest.mark.slow
def test_two_photos_of_one_scan_lie_on_each_other(tmp_path: Path) -> None:
    """Within 0.2 line inside the hull, and no worse than is said; no difference is told that is not there."""
    found = on_photo(3, tmp_path)
    assert found["down_p95"] < 0.2 and found["across_p95"] < 0.2
    assert max(found["down_rms"], found["across_rms"]) < 1.5 * found["said"]
    assert any(
        "less than 0.5 % of what can be compared is more than 10 %" in said for said in found["differences"]
    )


@pytest.mark.slow
def test_the_same_photo_twice_does_not_differ_and_another_picture_is_refused(tmp_path: Path) -> None:
    own, other = pair(200)[0], pair(200)[1]
    photos = [Photo(codes_of(shot(*each[:2])), name) for each, name in ((own, "own"), (other, "other"))]
    same = beside(photos[0], photos[0])
    assert not same.differ and "no difference found" in same.title
    assert same.laid.gain == pytest.approx([1, 1, 1], abs=1e-6) and same.warp.error < 0.05
    with pytest.raises(NotIdentifiable):
        beside(*photos)
