"""A still that scrolls: whole samples and lines, fields at their own times, against shifts by hand."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from scipy import ndimage

from scalesim.core.clip import Clip, still_clip
from scalesim.core.pan import panned
from scalesim.errors import ParameterError

FRAME = np.random.RandomState(5).uniform(0, 1, (480, 24, 3)).astype(np.float32)
STILL = still_clip(FRAME, mode="480p60")
WOVEN = still_clip(FRAME, mode="480i")


def frames(clip: Clip) -> list[np.ndarray]:
    return [picture.values for picture in clip.pictures()]


@pytest.mark.parametrize(("samples", "lines"), [(180, 0), (-180, 0), (0, 60), (60, -120), (7.0, 11.0)])
def test_shifts_are_those_of_the_speed(samples: float, lines: float) -> None:
    """SciPy's ndimage.shift, wrapping, order 0 (PyPI), by the distance covered, rounded half up."""
    clip = panned(STILL, samples=samples, lines=lines, seconds=0.2)
    assert clip.length == len(frames(clip)) == 12 and not clip.is_still and clip.raster is STILL.raster
    for k, found in enumerate(frames(clip)):
        by = [np.floor(speed * k / 60 + 0.5) for speed in (lines, samples)]
        assert np.array_equal(found, ndimage.shift(FRAME, (*by, 0), order=0, mode="grid-wrap"))


def test_positive_is_right_and_down() -> None:
    frame = np.zeros((480, 24, 3), np.float32)
    frame[100, 10] = 1
    clip = panned(still_clip(frame, mode="480p60"), samples=60, lines=120, seconds=0.1)
    places = [np.argwhere(picture[..., 0] == 1)[0].tolist() for picture in frames(clip)]
    assert places == [[100 + 2 * k, 10 + k] for k in range(6)]


def test_fields_show_their_own_times() -> None:
    """Field k is the lines of its parity of the frame moved to its time, not to its frame's time."""
    speed = 3 * 60000 / 1001
    clip = panned(WOVEN, samples=speed, lines=speed / 3, seconds=0.1)
    assert clip.length == 6
    for k, found in enumerate(frames(clip)):
        moved = np.roll(FRAME, (k, 3 * k), axis=(0, 1))
        assert np.array_equal(found, moved[k % 2 :: 2])
        if k % 2:
            late = np.roll(FRAME, (k - 1, 3 * (k - 1)), axis=(0, 1))
            assert not np.array_equal(found, late[k % 2 :: 2])


def test_times_and_length() -> None:
    clip = panned(WOVEN, samples=10, lines=0, seconds=0.09)
    times = [picture.time for picture in clip.pictures()]
    assert times == [k * Fraction(1001, 60000) for k in range(6)]  # 5.4 fields, made whole frames
    assert panned(STILL, samples=1, lines=0, seconds=0.1).length == 6
    assert panned(STILL, samples=1, lines=0, seconds=0.101).length == 7
    assert panned(STILL, samples=1, lines=0, seconds=1e-9).length == 1


def test_it_says_so() -> None:
    clip = panned(STILL, samples=180, lines=-6, seconds=1)
    assert clip.name == "frame panned" and clip.mode == "480p60"
    assert clip.notes[-1] == "Synthetic motion: 180 samples and -6 lines per second, wrapped around."


@pytest.mark.parametrize(
    ("samples", "lines", "seconds", "words"),
    [
        (float("nan"), 0, 1, "samples is nan; it must be a finite number"),
        (0, float("inf"), 1, "lines is inf"),
        (1, 0, 0, "seconds is 0; it must be above 0 and at most 3600"),
        (1, 0, 3601, "seconds is 3601"),
    ],
)
def test_refused(samples: float, lines: float, seconds: float, words: str) -> None:
    with pytest.raises(ParameterError, match=words):
        panned(STILL, samples=samples, lines=lines, seconds=seconds)


def test_a_moving_clip_is_refused() -> None:
    with pytest.raises(ParameterError, match="moves already"):
        panned(panned(STILL, samples=1, lines=0, seconds=1), samples=1, lines=0, seconds=1)
