"""Films with cuts: every steady part is read by itself, none is mixed with another."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from glass_camera import Camera
from glass_films import black, film_of, shots
from glass_tube import Tube

from scalesim.jobs.glass.glass import glass

NEAR = Camera(rows=288, columns=320, pixels=7, exposure=1 / 90, start=0.003, roll=1, seed=3)
FAR = Camera(
    rows=288, columns=320, pixels=5.4, exposure=1 / 90, start=0.003, roll=-2, look=(0.4, 0.6), seed=8
)
TWO = Tube(scan="480i", rate=60, sigma=0.17, picture=4, mask="none", bezel=False)
ONE = Tube(scan="field-only", rate=60, sigma=0.17, picture=7, mask="none", bezel=False)


@cache
def near_two() -> list[np.ndarray]:
    return shots(NEAR, TWO)


@cache
def far_two() -> list[np.ndarray]:
    return shots(FAR, TWO)


@cache
def near_one() -> list[np.ndarray]:
    return shots(NEAR, ONE)


def test_a_cut_to_another_view_makes_two_parts_with_their_own_lines() -> None:
    found = glass([film_of((far_two(), 14), (near_two(), 30))], field_rate=60, whole=True)
    document = found.to_dict()
    assert [(part["frames"], part["sets"]) for part in document["parts"]] == [(14, "two"), (30, "two")]
    pitches = [part["pixels_per_line"] for part in document["parts"]]
    assert pitches == pytest.approx([5.4, 7.0], rel=0.01)
    assert document["cuts_s"] == pytest.approx([14 / 60])
    # figures are of the longest part, and no frame of the other is in them
    assert document["sets"] == "two" and document["frames_read"] == 30
    assert document["pixels_per_line"] == pytest.approx(7.0, rel=0.01)
    assert found.film.times[0] == pytest.approx(14 / 60)
    assert any("every part read by itself" in said for said in found.sentences())


def test_a_short_part_before_a_cut_does_not_end_the_search() -> None:
    document = glass([film_of((far_two(), 5), (near_two(), 60))], field_rate=60).to_dict()
    assert [(part["frames"], part["sets"]) for part in document["parts"]] == [(5, "unknown"), (24, "two")]
    assert "5 frames show the lines" in document["parts"][0]["why"] and document["sets"] == "two"


def test_black_between_two_parts_is_left_out() -> None:
    dark = black(near_two())
    document = glass(
        [film_of((dark, 6), (near_two(), 8), (dark, 9), (near_two(), 12))], field_rate=60
    ).to_dict()
    assert [part["frames"] for part in document["parts"]] == [8, 12]
    assert document["sets"] == "two" and document["frames_read"] == 12


@pytest.mark.slow
def test_parts_that_contradict_each_other_are_no_verdict() -> None:
    found = glass([film_of((near_one(), 26), (near_two(), 26))], field_rate=60, whole=True)
    document = found.to_dict()
    assert [part["sets"] for part in document["parts"]] == ["one", "two"]
    assert document["sets"] == "unknown" and found.undecided and document["confidence"] == 0
    assert "cut the film" in document["why"]["sets"]


@pytest.mark.slow
def test_the_tube_itself_may_cut_to_another_picture() -> None:
    """Another picture on the same lines, filmed without a cut: the lines go on, both parts agree."""
    other = shots(NEAR, Tube(scan="480i", rate=60, sigma=0.17, picture=9, mask="none", bezel=False))
    document = glass([film_of((near_two(), 13), (other, 13))], field_rate=60, whole=True).to_dict()
    assert {part["sets"] for part in document["parts"]} == {"two"} and document["sets"] == "two"
    assert document["frames_read"] == 13


@pytest.mark.parametrize("count", [0, 1, 2])
def test_films_of_no_or_few_frames_say_so(count: int) -> None:
    document = glass([film_of((near_two(), count))], field_rate=60).to_dict()
    assert document["sets"] == "unknown"
    assert ("no frames" if not count else "6 are needed") in document["why"]["sets"]


def test_a_film_without_lines_is_given_up_early() -> None:
    flat = [np.full((200, 240), 0.3, np.float32) + 0.01 * k for k in range(2)]
    noisy = [
        light + 0.02 * np.random.RandomState(k).rand(*light.shape).astype(np.float32)
        for k, light in enumerate(flat)
    ]
    found = glass([film_of((noisy, 400))])
    assert found.found is None and "come closer" in found.sentences()[0]
    dark = glass([film_of((black(noisy), 400))])
    assert "black" in dark.sentences()[0]
