"""Frames of clips by their numbers: as when the clip is read through, and damage told frame by frame.

Clips are made by the FFmpeg program of imageio-ffmpeg, another build than the library that reads them.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest
from clip_files import encoded, pattern
from few import few

from scalesim.core.clip import Clip
from scalesim.errors import ReadError, ScalesimError
from scalesim.io.clips.cuts import scene_begins, scene_middles
from scalesim.io.clips.index import index_clip
from scalesim.io.clips.stills import ClipStills
from scalesim.io.read import read

H264 = ("-c:v", "libx264", "-pix_fmt", "yuv420p")
OPEN = ("-c:v", "libx265", "-x265-params", "keyint=20:open-gop=1:log-level=none", "-pix_fmt", "yuv420p")
KINDS = {
    "a.mp4": (*H264, "-g", "15"),
    "broadcast.ts": ("-c:v", "mpeg2video", "-g", "15", "-bf", "2"),
    "whole.mkv": ("-c:v", "ffv1"),
    "open.mkv": OPEN,
    "hidden.webm": ("-c:v", "libvpx", "-auto-alt-ref", "1", "-lag-in-frames", "16"),
    "fields.mkv": ("-vf", "interlace", *H264, "-flags", "+ildct+ilme"),
}


def stills(path: Path, numbers: Iterable[int]) -> dict[int, Clip | ScalesimError]:
    return dict(ClipStills.of(str(path), index_clip(path), list(numbers)).stills())


def whole(path: Path) -> list[np.ndarray]:
    """Return every frame as the clip's own reader gives it."""
    clip = read(path)
    count = (clip.length or sum(1 for _ in clip.pictures())) // clip.raster.period
    return [clip.still_at(k * clip.raster.period).frame for k in range(count)]  # type: ignore[misc]  # stills


@pytest.mark.parametrize("name", few(KINDS, 3))
def test_any_frames_are_those_of_the_clip(tmp_path: Path, name: str) -> None:
    path = pattern(tmp_path / name, 1, *KINDS[name], size="96x64", rate="60")
    expected, index = whole(path), index_clip(path)
    clip = read(path)
    assert (index.frames, index.raster, index.mode) == (len(expected), clip.raster, clip.mode)
    last = len(expected) - 1
    for numbers in (range(len(expected)), [last], [0, 2, last // 2, last], [7]):
        found = stills(path, numbers)
        assert list(found) == list(numbers)
        for number, still in found.items():
            assert isinstance(still, Clip) and np.array_equal(still.frame, expected[number]), number


def damaged(path: Path, seed: int) -> Path:
    """Write a copy with 60 bytes overwritten in its middle."""
    rnd, data = random.Random(seed), bytearray(path.read_bytes())
    at = int(len(data) * (0.35 + 0.3 * rnd.random()))
    data[at : at + 60] = rnd.randbytes(60)
    broken = path.with_name(f"broken-{seed}{path.suffix}")
    broken.write_bytes(bytes(data))
    return broken


@pytest.mark.parametrize("name", ["a.mp4", "broadcast.ts"])
def test_damage_is_listed_and_the_rest_is_whole(tmp_path: Path, name: str) -> None:
    """What is given is pixel for pixel the undamaged clip's; what is lost is so however it is asked for."""
    path = pattern(tmp_path / name, 2, *KINDS[name], size="160x120", rate="30")
    expected, lost_any = whole(path), 0
    for seed in (1, 2, 3):
        broken = damaged(path, seed)
        found = stills(broken, range(index_clip(broken).frames))
        lost = [number for number, still in found.items() if not isinstance(still, Clip)]
        lost_any += len(lost)
        assert len(lost) <= 30
        for number, still in found.items():
            if lost and isinstance(still, Clip) and len(found) == len(expected):  # some damage nobody notices
                assert np.array_equal(still.frame, expected[number]), (seed, number)
        for number in range(0, len(found), 4):
            assert isinstance(stills(broken, [number])[number], Clip) == (number not in lost), (seed, number)
        for number in lost:
            assert isinstance(found[number], ReadError) and "damaged" in str(found[number])
    assert lost_any, "nothing was lost, so nothing was checked"


def test_a_clip_cut_short_says_so(tmp_path: Path) -> None:
    path = pattern(tmp_path / "a.mkv", 2, "-c:v", "ffv1", size="96x64", rate="30")
    short = tmp_path / "short.mkv"
    short.write_bytes(path.read_bytes()[: int(0.6 * path.stat().st_size)])
    index = index_clip(short)
    assert index.frames < 60 and "cut short" in index.damage[0]
    found = stills(short, range(index.frames))
    assert sum(isinstance(still, Clip) for still in found.values()) >= index.frames - 1


def test_no_clip_is_refused(tmp_path: Path) -> None:
    for data in (b"", b"\x1aE\xdf\xa3" + bytes(300)):
        (tmp_path / "a.mkv").write_bytes(data)
        with pytest.raises(ReadError, match=r"a\.mkv"):
            index_clip(tmp_path / "a.mkv")


def test_scenes(tmp_path: Path) -> None:
    """Three still pictures of 10, 14 and 6 frames: cuts at 10 and 24, by FFmpeg's own score."""
    rnd = np.random.RandomState(1)
    pictures = [
        np.kron(rnd.randint(0, 256, (6, 8, 3)), np.ones((16, 16, 1))).astype(np.uint8) for _ in range(3)
    ]
    frames = np.concatenate(
        [np.repeat(p[None], n, axis=0) for p, n in zip(pictures, (10, 14, 6), strict=True)]
    )
    path = encoded(tmp_path / "cuts.mkv", frames, "rgb24", (96, 128), "-c:v", "ffv1", rate="30")
    assert scene_begins(str(path)) == [10, 24]
    assert scene_middles(str(path), 30) == [5, 17, 27]
