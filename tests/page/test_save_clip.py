"""Clips are guarded: counted, told, and a caution before those that flash."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

from scalesim.core.moving import Moving
from scalesim.io.clips.card import SECONDS, caution_card
from scalesim.io.clips.guarded import clip_files, save_clip

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
    assert not saved.report.passes and saved.card_s == SECONDS
    frames = frames_of(saved.file.path)
    card = caution_card(saved.report.sentences(), (96, 128))
    count = len(frames) - 60
    assert count == 360  # 6 s at 59.94 a second, the last one begun
    assert np.array_equal(frames[0], card) and np.array_equal(frames[count - 1], card)
    assert frames[count].max() == 0 and frames[count + 1].min() == 255
    assert any("caution" in sentence for sentence in saved.sentences())
    assert sorted(path.name for path in tmp_path.iterdir()) == ["flashing.mkv", "flashing.mkv.flashes.json"]


def test_a_card_fits_pictures_of_odd_size(tmp_path: Path) -> None:
    """4:2:0 needs even sizes, so odd pictures grow by a line and a sample; the card is as large."""
    saved = save_clip(lambda: clip_of([0, 255] * 30, (95, 127)), tmp_path / "odd.mp4")
    assert (saved.file.height, saved.file.width) == (96, 128) and saved.card_s
    assert {frame.shape for frame in frames_of(saved.file.path)} == {(96, 128, 3)}
