"""`fields`: the verdict on woven frames and on fields one by one."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import convolve1d, shift
from skimage import data

from scalesim.core.clip import still_clip
from scalesim.core.raster import Field, Raster
from scalesim.errors import ShapeError
from scalesim.jobs.fields.fields import FieldsFound, fields
from scalesim.metrics.flicker.percent import flicker_map

FRAMES = Path(__file__).parents[2] / "inputs" / "frames"


def picture() -> NDArray:
    return cv2.resize(data.astronaut(), (360, 480), interpolation=cv2.INTER_AREA).astype(np.float32) / 255


def pair_of(kind: str) -> tuple[NDArray, NDArray]:
    """Return two fields: of a frame, or one picture twice."""
    frame = picture()
    if kind == "interlaced":
        return frame[0::2], frame[1::2]
    same = cv2.resize(frame, (360, 240), interpolation=cv2.INTER_AREA)
    return same, same


def woven(kind: str, count: int = 4, noise: float = 1.0) -> list[NDArray]:
    random, (top, bottom) = np.random.RandomState(3), pair_of(kind)
    frame = np.empty((480, 360, 3), np.float32)
    frame[0::2], frame[1::2] = top, bottom
    grain = (random.normal(0, noise / 255, frame.shape).astype(np.float32) for _ in range(count))
    return [np.clip(frame + each, 0, 1) for each in grain]


def verdict_of(frames: list[NDArray], mode: str | None = None) -> FieldsFound:
    return fields([still_clip(frame, mode=mode) for frame in frames])


@pytest.mark.parametrize(("kind", "verdict"), [("interlaced", "interlaced content"), ("same", "progressive")])
def test_woven_frames_and_single_fields(kind: str, verdict: str) -> None:
    for frames in (woven(kind), [part for frame in woven(kind) for part in (frame[0::2], frame[1::2])]):
        found = verdict_of(frames)
        assert found.verdict == verdict and found.confidence > 0.95
        document = found.to_dict()
        assert abs(document["content_offset"]) == pytest.approx(0.5 if kind == "interlaced" else 0, abs=0.02)
        assert document["landing_offset"] is None and "trace" in document["why"]["landing_offset"]
        json.dumps(document, allow_nan=False)


def test_swapped_fields_are_named() -> None:
    swapped = [
        np.roll(frame.reshape(240, 2, 360, 3), 1, axis=1).reshape(480, 360, 3)
        for frame in woven("interlaced")
    ]
    assert any("swapped" in sentence for sentence in verdict_of(swapped).sentences())
    assert not any("swapped" in sentence for sentence in verdict_of(woven("interlaced")).sentences())


def test_flicker_is_that_of_the_fields_without_noise() -> None:
    """Against the flicker of the fields themselves, before noise: the noise is taken off."""
    found = verdict_of(woven("interlaced", noise=4.0, count=8)).flicker.percent
    top, bottom = pair_of("interlaced")
    half = Raster(240, 360, fields=(Field(0, Fraction(0)), Field(1, Fraction(1, 2))))
    assert found["interlaced"] == pytest.approx(float(flicker_map((top, bottom), half).mean()), rel=0.1)
    assert found["field-only, pair down"] > 1.5 * found["interlaced"]
    assert verdict_of(woven("same", noise=4.0, count=8)).flicker.percent["field-only, pair down"] < 0.2


def test_flat_pictures_are_undecided() -> None:
    found = verdict_of([np.full((480, 360, 3), 0.5, np.float32)] * 2)
    assert found.verdict == "unknown" and found.confidence == 0
    document = found.to_dict()
    assert document["content_offset"] is None and "flat" in document["why"]["content_offset"]
    assert found.sentences()[0].startswith("Undecided")


def test_pictures_that_do_not_belong_together() -> None:
    with pytest.raises(ShapeError, match="one size and mode"):
        verdict_of([np.zeros((480, 360, 3), np.float32), np.zeros((480, 352, 3), np.float32)])
    with pytest.raises(ShapeError, match="one field"):
        verdict_of([np.zeros((240, 360, 3), np.float32)])
    with pytest.raises(ShapeError, match="no capture"):
        fields([])


def panned(kind: str, count: int = 6, speed: int = 4) -> list[NDArray]:
    """Return frames of a pan: "fields" of two instants each, or "whole" pictures."""
    wide = cv2.resize(data.astronaut(), (480, 480), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    frames = []
    for k in range(count):
        frame = np.empty((480, 360, 3), np.float32)
        for parity in (0, 1):
            left = (2 * k + (parity if kind == "fields" else 0)) * speed
            frame[parity::2] = wide[parity::2, left : left + 360]
        frames.append(frame)
    return frames


@pytest.mark.parametrize(("kind", "verdict"), [("fields", "interlaced content"), ("whole", "progressive")])
def test_motion_tells_fields_from_whole_pictures(kind: str, verdict: str) -> None:
    """An unmarked clip of 480 lines: fields of two instants, or progressive pictures cut in halves."""
    found = verdict_of(panned(kind))
    assert found.verdict == verdict and found.whole is (kind == "whole")
    assert any("one instant" in sentence for sentence in found.sentences()) is (kind == "whole")


def test_still_frames_say_that_they_could_be_whole_pictures() -> None:
    found = verdict_of(woven("interlaced"))
    assert found.whole is None and any("Nothing moves, so" in sentence for sentence in found.sentences())


@pytest.mark.parametrize("cut", [0, 16])
def test_an_unmarked_woven_clip_is_read_as_fields(cut: int) -> None:
    """Woven frames with some lines cut off are fields all the same."""
    frames = [frame[cut : 480 - cut] for frame in woven("interlaced")]
    found = verdict_of(frames)
    assert not found.by_field and found.fields == 8
    assert found.verdict == "interlaced content"
    assert abs(found.offset.lines) == pytest.approx(0.5, abs=2 * found.offset.error)


def moving(name: str, count: int = 6, step: int = 3) -> list[NDArray]:
    """Return woven frames of a demonstration frame that moves so many samples a field: true interlace."""
    with Image.open(FRAMES / f"{name}.png") as opened:
        wide = np.asarray(opened.convert("RGB").resize((640 + 2 * count * step, 480), Image.Resampling.BOX))
    frames = [np.empty((480, 640, 3), np.float32) for _ in range(count)]
    for k, frame in enumerate(frames):
        for parity in (0, 1):
            left = (2 * k + parity) * step
            frame[parity::2] = wide[parity::2, left : left + 640] / np.float32(255)
    return frames


LONG = [pytest.param(name, marks=pytest.mark.slow) for name in ("comet_rally", "deepvault_corridor")]


@pytest.mark.parametrize("name", ["kettle_crew", "pocket_orchard", *LONG])
def test_motion_leaves_no_wrong_verdict(name: str) -> None:
    """Fields of two instants half a line apart: told, or not told with what would; never sent twice."""
    found = verdict_of(moving(name))
    assert found.verdict != "progressive", found.offset
    if found.offset is not None:
        assert abs(found.offset.lines - 0.5) <= 2 * found.offset.error
    if found.undecided:
        assert "stands still" in found.sentences()[0] and found.confidence == 0
        assert found.to_dict()["flicker_percent"] is None and found.to_dict()["why"]["flicker_percent"]
    else:
        assert found.confidence > 0.97


def test_doubled_art_in_motion_is_not_said_to_be_one_picture_twice() -> None:
    """Fields of two instants on the same lines: no picture was sent twice."""
    said = verdict_of(moving("moss_tower")).sentences()[0]
    assert "each its own instant" in said and "sent twice" not in said


def test_flicker_of_a_moving_clip_is_that_of_its_fields() -> None:
    """The mean over successive fields, one by one, painted by SciPy's 1/2, 1, 1/2 on twice the lines."""
    frames = moving("kettle_crew")
    shown = [part for frame in frames for part in (frame[0::2], frame[1::2])]
    wanted = []
    for k in range(len(shown) - 1):
        light = []
        for field, parity in ((shown[k], k % 2), (shown[k + 1], (k + 1) % 2)):
            sparse = np.zeros((480, 640))
            sparse[parity::2] = field.astype(float) ** 2.4 @ (0.2126, 0.7152, 0.0722)
            light.append(convolve1d(sparse, [0.5, 1.0, 0.5], axis=0))
        wanted.append(100 * np.abs(light[0] - light[1])[1:-1].mean())
    found = verdict_of(frames)
    assert found.flicker.percent["interlaced"] == pytest.approx(np.mean(wanted), rel=0.1)
    assert any("motion and noise included" in sentence for sentence in found.sentences())
    assert found.to_dict()["flicker_moved_percent"] > 30


def moved_apart(lines: float) -> list[NDArray]:
    """Return fields of one picture, every other one moved down by so many lines (SciPy's quintic spline)."""
    same = pair_of("same")[0]
    lower = shift(same, (-lines, 0, 0), order=5, mode="nearest")
    return [part for _ in range(3) for part in (same, lower)]


@pytest.mark.parametrize(
    ("lines", "said"), [(0.0, ""), (0.05, "compression can move"), (0.12, "nearer to the same")]
)
def test_an_offset_between_the_ideals_is_said_to_be(lines: float, said: str) -> None:
    """No more is told than was measured."""
    found = verdict_of(moved_apart(lines))
    assert found.verdict == "progressive"
    text = " ".join(found.sentences())
    assert said in text
    assert ("Both fields carry the same lines" in text) == (lines < 0.1)
    assert ("more than twice the error" in text) == (lines > 0)


def test_an_offset_at_the_limit_is_known_and_no_verdict() -> None:
    found = verdict_of(moved_apart(0.25))
    assert found.undecided and "neither that of the same lines" in found.reason


def test_upright_edges_are_no_motion() -> None:
    bars = np.repeat(np.tile([0.1, 0.9], 30), 6)[None, :, None] * np.ones((240, 1, 3))
    found = verdict_of([bars.astype(np.float32)] * 6)
    assert found.undecided and "edges stand upright" in found.reason and "moves" not in found.reason
