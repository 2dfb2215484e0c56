"""Clips through a chain: true rates, nothing alternates unless asked, nothing is kept."""

from __future__ import annotations

import tracemalloc
from fractions import Fraction
from itertools import islice

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip, still_clip
from scalesim.core.pan import panned
from scalesim.errors import ParameterError
from scalesim.jobs.predict.moving import moving
from scalesim.jobs.predict.on_screen import Glass
from scalesim.jobs.predict.predict import predict

GLASS = Glass(height=120)
INTERLACED = Chain("interlace")


def stripes() -> NDArray:
    frame = np.zeros((48, 32, 3), np.float32)
    frame[0::2] = 0.5
    return frame


def still() -> Clip:
    return still_clip(stripes(), mode="custom")


def shown(chain: Chain, view: str, **options: object) -> list[NDArray]:
    return list(moving(still(), chain, view=view, glass=GLASS, seconds=0.2, **options).pictures)


@pytest.mark.parametrize("view", ["raster", "seen", "screen"])
@pytest.mark.parametrize(
    "chain", ["interlace", "interlace, field-only", "line-drop lines=24", "interlace, deinterlace how=bob"]
)
def test_a_still_holds_still(view: str, chain: str) -> None:
    """Every picture of a view is the same, except the raster of a bob, which is what the box sends."""
    pictures = shown(Chain(chain), view)
    steady = all(np.array_equal(pictures[0], other) for other in pictures[1:])
    assert steady == (not (view == "raster" and "bob" in chain))


def test_fields_alone_alternate() -> None:
    pictures = shown(INTERLACED, "screen", alone=True)
    assert not np.array_equal(pictures[0], pictures[1])
    assert np.array_equal(pictures[0], pictures[2])


def test_rates_counts_and_order() -> None:
    """Woven frames at half the field rate with the field that comes first; all else at the field rate."""
    woven = moving(still(), Chain("interlace first=bottom"), view="raster", seconds=0.5)
    assert (woven.rate, woven.first_field) == (Fraction(30), "bottom")
    assert len(list(woven.pictures)) == woven.count == 15
    seen = moving(still(), INTERLACED, view="seen", seconds=0.5)
    assert (seen.rate, seen.first_field, seen.count) == (Fraction(60), None, 30)
    assert len(list(seen.pictures)) == 30
    assert moving(still(), Chain("interlace, deinterlace"), view="seen", seconds=0.5).rate == 30


def test_the_first_woven_frame_is_the_prediction() -> None:
    frame = next(moving(still(), INTERLACED, view="raster", seconds=0.1).pictures)
    assert np.array_equal(frame, predict(stripes(), INTERLACED, mode="custom", metrics=[]).woven)


def test_motion_combs_between_fields() -> None:
    """A bar that moves 4 samples a picture lies 4 samples apart in the two fields of a frame."""
    frame = np.zeros((48, 64, 3), np.float32)
    frame[:, 20:24] = 1.0
    clip = panned(still_clip(frame, mode="custom"), samples=240, lines=0, seconds=0.5)
    pictures = list(moving(clip, INTERLACED, view="raster").pictures)
    assert len(pictures) == 15
    top, bottom = (int(np.argmax(pictures[3][parity, :, 0])) for parity in (0, 1))
    assert bottom - top == 4


def test_memory_stays_flat() -> None:
    def peak(seconds: float) -> int:
        made = moving(still(), INTERLACED, view="screen", glass=GLASS, seconds=seconds)
        tracemalloc.start()
        for _ in made.pictures:
            pass
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    assert peak(4.0) < 1.3 * peak(0.4)


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"view": "film"}, "cannot move"),
        ({"view": "seen"}, "has no end"),
        ({"view": "seen", "seconds": 0.0}, "above 0"),
        ({"view": "seen", "seconds": 1e9}, "at most 3600"),
    ],
)
def test_what_is_refused(options: dict[str, object], words: str) -> None:
    with pytest.raises(ParameterError, match=words):
        moving(still(), INTERLACED, **options)


def test_predict_takes_a_frame_of_a_clip() -> None:
    """The frame at a time, its woven picture as it moves; combing is of the moving pictures."""
    frame = np.random.RandomState(0).rand(48, 64, 3).astype(np.float32)
    clip = panned(still_clip(frame, mode="custom"), samples=240, lines=0, seconds=0.5)
    found = predict(clip, INTERLACED, metrics=["combing", "psnr_db"], at_s=0.1)
    third = [p.values for p in islice(clip.pictures(), 6, 8)]
    assert np.array_equal(found.woven[0::2], third[0][0::2])
    assert np.array_equal(found.woven[1::2], third[1][1::2])
    assert (
        found.metrics["psnr_db"]
        == predict(third[0], INTERLACED, mode="custom", metrics=["psnr_db"]).metrics["psnr_db"]
    )
    with pytest.raises(ParameterError, match="its 30 pictures"):
        predict(clip, INTERLACED, metrics=[], at_s=5.0)
    with pytest.raises(ParameterError, match="at is"):
        predict(clip, INTERLACED, metrics=[], at_s=-1.0)


def test_a_clip_is_shown_at_one_exposure() -> None:
    """From the display's white, not from the pictures: the same grey in a dark and a bright clip."""

    def clip(code: float) -> Clip:
        frames = np.full((48, 32, 3), 0.3, np.float32)
        frames[24:] = code
        return still_clip(frames, mode="custom")

    dark, bright = (
        next(moving(clip(code), Chain("line-drop lines=24"), view="screen", seconds=0.1).pictures)
        for code in (0.0, 1.0)
    )
    # 30 rows for each of 24 lines, less what the glass hides of them
    assert dark.shape[0] == 722 and np.array_equal(dark[:300], bright[:300])
    assert bright.max() < 255 and bright.max() > 240
