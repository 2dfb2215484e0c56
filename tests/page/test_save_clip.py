"""Clips are guarded: counted, told, and a caution before those that flash."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from scalesim.core.moving import Moving
from scalesim.errors import WriteError
from scalesim.io.clips.card import caution_card
from scalesim.io.clips.guarded import clip_files, save_clip, save_clips

RATE = Fraction(60000, 1001)


def clip_of(levels: list[int], size: tuple[int, int] = (96, 128)) -> Moving:
    """Return a clip of flat pictures with these codes."""
    pictures = (np.full((*size, 3), level, np.uint8) for level in levels)
    return Moving("screen", pictures, RATE, None, len(levels))


def frames_of(path: Path) -> list[NDArray]:
    with av.open(str(path)) as container:
        return [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]


def test_a_steady_clip_has_no_card(tmp_path: Path) -> None:
    saved = save_clip(lambda: clip_of([100] * 30), tmp_path / "steady.mkv")
    assert saved.report.passes and saved.card_s == 0
    assert len(frames_of(saved.file.path)) == 30
    beside = json.loads(saved.beside.read_text("utf-8"))
    assert beside["passes"] is True
    assert clip_files({"screen": saved}) == {
        "screen-clip": "steady.mkv",
        "screen-clip-flashes": "steady.mkv.flashes.json",
    }


def test_a_flashing_clip_begins_with_the_caution(tmp_path: Path) -> None:
    """30 flashes a second over the whole picture, where 3 are allowed (WCAG 2.3.1, ITU-R BT.1702)."""
    saved = save_clip(lambda: clip_of([0, 255] * 30), tmp_path / "flashing.mkv")
    assert not saved.report.passes and saved.card_s == 3
    frames = frames_of(saved.file.path)
    card = caution_card(saved.report.sentences(), (96, 128), short=True)
    count = len(frames) - 60
    assert count == 180  # 3 s at 59.94 a second, the last one begun
    assert np.array_equal(frames[0], card) and np.array_equal(frames[count - 1], card)
    assert frames[count].max() == 0 and frames[count + 1].min() == 255
    assert any("caution of 3 s" in sentence for sentence in saved.sentences())
    assert sorted(path.name for path in tmp_path.iterdir()) == ["flashing.mkv", "flashing.mkv.flashes.json"]


def test_a_card_fits_pictures_of_odd_size(tmp_path: Path) -> None:
    """4:2:0 needs even sizes, so odd pictures grow by a line and a sample; the card is as large."""
    saved = save_clip(lambda: clip_of([0, 255] * 30, (95, 127)), tmp_path / "odd.mp4")
    assert (saved.file.height, saved.file.width) == (96, 128) and saved.card_s
    assert {frame.shape for frame in frames_of(saved.file.path)} == {(96, 128, 3)}


def test_several_files_of_one_pass_have_the_caution_each(tmp_path: Path) -> None:
    """The pictures are made once, and once more behind the card; the counts are the same."""
    made = []

    def make() -> Moving:
        made.append(1)
        return clip_of([0, 255] * 30)

    saved = save_clips(make, [tmp_path / "a.mkv", tmp_path / "a.mp4"])
    assert len(made) == 2 and [each.card_s for each in saved] == [3, 3]
    assert {len(frames_of(each.file.path)) for each in saved} == {240}
    counts = [json.loads(each.beside.read_text("utf-8")) for each in saved]
    assert all(each["passes"] is False and each["caution"] for each in counts)
    assert "before a.mkv" in counts[0]["caution"] and "before a.mp4" in counts[1]["caution"]


def test_the_caution_can_be_left_out_and_is_told(tmp_path: Path) -> None:
    """On the user's word: no card, but the caution in words, in the document and beside the clip."""
    saved = save_clip(lambda: clip_of([0, 255] * 30), tmp_path / "flashing.mkv", card=False)
    assert len(frames_of(saved.file.path)) == 60 and saved.card_s == 0
    beside = json.loads(saved.beside.read_text("utf-8"))
    assert beside["passes"] is False and beside["caution_s"] == 0
    for text in (beside["caution"], saved.to_dict()["caution"], " ".join(saved.sentences())):
        assert "No caution goes before flashing.mkv" in text and "seizures" in text
    steady = save_clip(lambda: clip_of([100] * 30), tmp_path / "steady.mkv", card=False)
    assert steady.caution == "" and json.loads(steady.beside.read_text("utf-8"))["caution"] == ""


def test_a_card_adds_nothing_to_what_webp_holds(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where memory grows with every picture the card is one picture that stands for its time."""
    monkeypatch.setattr("scalesim.io.clips.write.MOST_SAMPLES", 31 * 96 * 128)
    saved = save_clip(lambda: clip_of([0, 255] * 15), tmp_path / "flashing.webp")
    assert saved.card_s == 3 and saved.file.frames == 210
    with Image.open(saved.file.path) as clip:
        assert clip.n_frames == 31
        clip.load()
        assert clip.info["duration"] == pytest.approx(3003, abs=2)  # 180 pictures at 59.94 a second


def test_a_card_that_cannot_be_put_there_does_not_lose_the_clip(tmp_path: Path) -> None:
    made = []

    def make() -> Moving:
        made.append(1)
        if len(made) > 1:
            raise WriteError("disk is full")
        return clip_of([0, 255] * 15)

    saved = save_clip(make, tmp_path / "flashing.mkv")
    assert saved.card_s == 0 and len(frames_of(saved.file.path)) == 30
    assert "disk is full" in saved.caution and "seizures" in saved.caution
