"""Frames out of clips: which, how they are named, decoded once, and little held."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import pytest

from scalesim.core.clip import Clip
from scalesim.core.picture import Picture
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.errors import ParameterError
from scalesim.jobs.frames import frames_of_clip


class Counted:
    """A clip whose picture k is of value k / 100, which counts what is decoded."""

    def __init__(self, count: int, *, fields: bool = False, known: bool = True) -> None:
        rate = Fraction(60)
        raster = Raster(8, 8, rate, TOP_FIRST) if fields else Raster(8, 8, rate)
        self.decoded = self.passes = 0

        def pictures() -> Iterator[Picture]:
            self.passes += 1
            for k in range(count):
                self.decoded += 1
                yield Picture(np.full((8, 8, 3), k / 100, np.float32), raster, k / rate)

        self.clip = Clip(raster, pictures, "shot.mp4", length=count if known else None)


@pytest.mark.parametrize(("every", "frames"), [("0.5s", [0, 30, 60]), ("40", [0, 40, 80]), ("1 s", [0, 60])])
def test_every_so_often_in_one_pass(every: str, frames: list[int]) -> None:
    made = Counted(90)
    found = frames_of_clip(made.clip, every, name="shot.mp4", settings={"box": "grey"})
    assert [f.name for f in found] == [f"shot.mp4 at {k / 60:.2f} s" for k in frames]
    assert [f.load().frame[0, 0, 0] for f in found] == pytest.approx([k / 100 for k in frames])
    assert made.passes == 1 and made.decoded == frames[-1] + 1
    assert all(f.kind == "shot.mp4" and f.settings == {"box": "grey"} for f in found)
    assert found[0].load().frame[0, 0, 0] == 0  # asked for again, it is decoded afresh
    assert made.passes == 2


def test_fields_are_woven_and_the_length_is_counted_when_not_known() -> None:
    """At 60 fields a second a frame every 1/2 s is every 15th; lines alternate between its two fields."""
    made = Counted(70, fields=True, known=False)
    found = frames_of_clip(made.clip, "0.5s", name="shot.mp4", settings={})
    assert len(found) == 3
    frame = found[1].load().frame
    assert frame is not None and frame.shape == (16, 8, 3)
    assert frame[:2, 0, 0] == pytest.approx([0.30, 0.31])


def test_without_every_the_first_frame_is_taken_and_said() -> None:
    (only,) = frames_of_clip(Counted(9).clip, None, name="shot.mp4", settings={})
    assert only.load().frame[0, 0, 0] == 0 and "first whole frame" in only.notes[0]


@pytest.mark.parametrize("every", ["", "0", "0s", "1.5", "often", "-1s", "1m"])
def test_an_every_that_is_none(every: str) -> None:
    with pytest.raises(ParameterError, match="every is"):
        frames_of_clip(Counted(9).clip, every, name="shot.mp4", settings={})


def test_a_clip_without_a_whole_frame() -> None:
    with pytest.raises(ParameterError, match="no whole frame"):
        frames_of_clip(Counted(1, fields=True).clip, "1s", name="shot.mp4", settings={})
