"""`motion` on captures that another program tore, repeated, dropped and encoded, and beside FFmpeg's filters.

- `torn_clips.py` makes captures with NumPy, OpenCV 5 and PyAV 18 from a clip file of the chart, by a schedule
  that is the truth; x264 encodes them at constant rate factors of 23 and 28.
- FFmpeg's filters ``mpdecimate`` and ``freezedetect``, of the program inside imageio-ffmpeg (PyPI), judge by
  themselves which frames repeat the one before.

The limits were frozen before the cases were drawn: every event found, tears within one line at the 95th
percentile, no number that the source did not show, weights of mixtures within 0.03, at most 3 false events in
10 000 clean frames. Tears nearer to an edge than 2.5 lines are left out.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterable, Iterator
from fractions import Fraction
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
from external.torn_clips import (
    Box,
    Luma,
    Truth,
    averaged,
    blurred,
    captured,
    cropped,
    dropped,
    encode,
    in_turn,
    luma_of,
    schedule,
)
from few import few

from scalesim.charts.counter.draw import counter_frames
from scalesim.charts.counter.layout import layout
from scalesim.io.clips.grey import write_grey
from scalesim.io.read import read
from scalesim.jobs.motion.answer import MotionFound
from scalesim.jobs.motion.motion import motion

EDGE = 2.5


def chart_clip(folder: Path, mode: str, frames: int) -> Path:
    """Write the chart as the program does, exactly."""
    path = folder / f"chart-{mode}-{frames}.mkv"
    if not path.exists():
        write_grey(path, counter_frames(layout(mode), frames), layout(mode).mode.rate)
    return path


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("torn")


def judged(
    path: Path, truth: Truth, lines: int, crop: float = 0.0, *, whole_lines: bool = False
) -> tuple[MotionFound, np.ndarray]:
    """Hold what was found against the truth, event by event; return it and the errors of tears in lines."""
    found = motion(read(path))
    assert found.found and len(found.timeline) == len(truth.shown)
    where = {frame: (share - crop) / (1 - 2 * crop) * lines for frame, share in truth.torn.items()}
    seen = {frame for frame, line in where.items() if EDGE <= line <= lines - EDGE}
    torn = {event.frame: event for event in found.events if event.kind == "torn"}
    assert seen <= set(torn), sorted(seen - set(torn))
    assert set(torn) <= set(where), sorted(set(torn) - set(where))
    for frame, event in torn.items():
        assert (event.source, event.other) == truth.shown[frame][:2]
    if seen == set(where):
        assert [event.frame for event in found.events if event.kind == "repeated"] == truth.repeated
        missing = [
            (event.source or 0) + k
            for event in found.events
            if event.kind == "dropped"
            for k in range(event.count)
        ]
        assert missing == truth.dropped
    for picture, (upper, lower, _) in enumerate(truth.shown):
        shown = {number for part in found.timeline.of(picture) for number in part.numbers}
        assert shown <= {upper, upper if lower is None else lower}, picture
    # A box that keeps whole lines has no tear within one: it lies before the first that is kept below it.
    edge = np.ceil if whole_lines else float
    return found, np.array([(torn[frame].line or 0) - edge(where[frame]) for frame in sorted(seen)])


@pytest.mark.parametrize("crf", few([28, 23], 1))
def test_every_event_of_an_encoded_capture_is_found(folder: Path, crf: int) -> None:
    chart = chart_clip(folder, "480p59.94", 330)
    truth = schedule(260, seed=crf, tear=0.1, edge=0.03)
    assert len(truth.torn) >= 15 and len(truth.repeated) >= 4 and len(truth.dropped) >= 4
    box = averaged(240, 640)
    path = encode(folder / f"small-{crf}.mp4", (box(f) for f in captured(luma_of(chart), truth)), crf=crf)
    found, errors = judged(path, truth, 240)
    assert np.percentile(np.abs(errors), 95) <= 1
    assert found.counts["mixed"] == 0


def mixtures(frames: Iterable[Luma], weight: float) -> Iterator[Luma]:
    before: Luma | None = None
    for frame in frames:
        if before is not None:
            yield np.round((1 - weight) * before + weight * frame.astype(float)).astype(np.uint8)
        before = frame.copy()


@pytest.mark.parametrize(("weight", "crf", "within"), [(0.5, 28, 0.03), (0.25, 23, 0.03), (0.75, 28, 0.045)])
def test_mixtures_are_told_with_their_weights(folder: Path, weight: float, crf: int, within: float) -> None:
    """At a rate factor of 28 x264 itself takes a tenth off the lesser of 25/75, so that 0.03 is missed."""
    chart = chart_clip(folder, "480p59.94", 330)
    box = averaged(240, 640)
    frames = (box(frame) for frame, _ in zip(mixtures(luma_of(chart), weight), range(60), strict=False))
    path = encode(folder / f"mixed-{weight}-{crf}.mp4", frames, crf=crf)
    found = motion(read(path))
    told = [(e.frame, e.source, e.other) for e in found.events]
    assert told == [(k, k, k + 1) for k in range(60)]
    weights = np.array([event.weight for event in found.events])
    assert np.percentile(np.abs(weights - weight), 95) <= within


CASES = {
    "line drop to 224 lines, crf 30": ("1080p60", dropped(224, 640), 224, 30, 0.0),
    "8 % cropped a side, crf 30": ("1080p60", cropped(0.08, 240, 640), 240, 30, round(0.08 * 1080) / 1080),
    "320 samples, crf 28": ("1080p60", averaged(240, 320), 240, 28, 0.0),
    "all lines, crf 28": ("720p60", lambda luma: luma, 720, 28, 0.0),
    "blur of 2.5 samples, gamma 0.6, noise, crf 30": (
        "1080p60",
        in_turn(averaged(240, 640), blurred(2.5, 0.7, 0.6, 2)),
        240,
        30,
        0.0,
    ),
}


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES)
def test_hard_paths_lose_nothing(folder: Path, case: str) -> None:
    mode, box, lines, crf, crop = CASES[case]
    chart = chart_clip(folder, mode, 330)
    truth = schedule(260, seed=len(case), tear=0.1, edge=0.03 + crop)
    name = re.sub(r"\W+", "-", case)
    path = encode(folder / f"{name}.mp4", (box(f) for f in captured(luma_of(chart), truth)), crf=crf)
    _, errors = judged(path, truth, lines, crop, whole_lines="drop" in case)
    assert np.percentile(np.abs(errors), 95) <= 1, np.abs(errors).max()


@pytest.mark.slow
def test_ten_thousand_clean_frames_have_no_false_event(folder: Path) -> None:
    """5000 frames averaged to 240 lines at crf 28, 5000 dropped to 224 at crf 30; the count wraps in both."""
    boxes: list[tuple[Box, int, int]] = [(averaged(240, 640), 240, 28), (dropped(224, 640), 224, 30)]
    clean = 0
    for k, (box, lines, crf) in enumerate(boxes):
        truth = schedule(5100, seed=100 + k, tear=0.015, edge=0.03)
        source = counter_frames(layout("480p59.94"))
        path = encode(folder / f"long-{k}.mp4", (box(f) for f in captured(source, truth)), crf=crf)
        found, _ = judged(path, truth, lines)
        assert found.counts["mixed"] == found.counts["unread"] == 0
        clean += len(truth.shown) - len(truth.torn)
    assert clean >= 10_000


def woven(frames: Iterable[Luma]) -> Iterator[Luma]:
    """Yield woven frames of 480 lines, a field from each frame, by NumPy alone."""
    box, top = averaged(480, 720), None
    for frame in frames:
        small = box(frame)
        if top is None:
            top = small.copy()
            continue
        top[1::2] = small[1::2]
        yield top
        top = None


@pytest.mark.slow
@pytest.mark.parametrize("interlaced", [True, False])
@pytest.mark.parametrize("crf", [18, 28])
def test_fields_are_read_apart(folder: Path, crf: int, interlaced: bool) -> None:
    chart = chart_clip(folder, "1080p60", 330)
    path = folder / f"fields-{crf}-{interlaced}.mp4"
    encode(path, woven(luma_of(chart)), crf=crf, rate=Fraction(30), interlaced=interlaced)
    found = motion(read(path))
    assert list(found.timeline.first) == list(range(330)) and found.events == []
    assert found.to_dict()["scan"] == "interlaced" and found.marked == interlaced


# FFmpeg's own filters


def ffmpeg(path: Path, filters: str) -> str:
    """Return what FFmpeg's filters say of a clip."""
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-hide_banner", "-nostdin", "-i", str(path)]
    done = subprocess.run(
        [*command, "-vf", filters, "-f", "null", "-"], capture_output=True, text=True, check=True
    )
    return done.stderr


@pytest.fixture(scope="module")
def repeating(folder: Path) -> tuple[Path, Truth]:
    """A lossless clip with single repeats and one freeze of 12 frames."""
    chart = chart_clip(folder, "240p59.94", 200)
    truth = schedule(150, seed=9, tear=0, repeat=0.08, drop=0.02)
    truth.shown[100:112] = [truth.shown[99]] * 12
    path = folder / "repeating.mkv"
    write_grey(path, (frame.copy() for frame in captured(luma_of(chart), truth)), Fraction(60))
    return path, truth


def test_mpdecimate_agrees_on_repeats(repeating: tuple[Path, Truth]) -> None:
    path, truth = repeating
    found = motion(read(path))
    said = ffmpeg(path, "mpdecimate=hi=64:lo=32:frac=0.01:max=0,showinfo")
    kept = [round(float(t) * 60) for t in re.findall(r"pts_time:([\d.]+)", said)]
    repeats = [event.frame for event in found.events if event.kind == "repeated"]
    assert repeats == truth.repeated == sorted(set(range(150)) - set(kept))
    assert len(repeats) >= 15


def test_freezedetect_agrees_on_a_freeze(repeating: tuple[Path, Truth]) -> None:
    path, _ = repeating
    said = ffmpeg(path, "freezedetect=n=-70dB:d=0.15")
    start = float(re.findall(r"freeze_start: ([\d.]+)", said)[0])
    long = float(re.findall(r"freeze_duration: ([\d.]+)", said)[0])
    repeats = [event.frame for event in motion(read(path)).events if event.kind == "repeated"]
    frozen = [frame for frame in repeats if 100 <= frame < 112]
    assert round(start * 60) == frozen[0] - 1 and round(long * 60) == len(frozen) + 1 == 13


def test_what_a_codec_carries_over_a_tear_is_no_mixture(folder: Path) -> None:
    """Tears near an edge leave a strip lower than a block of the codec, which holds some of the frame before.

    It was called a mixture in 3 of 100 torn frames; the clip holds none.
    """
    rng = np.random.RandomState(5)
    near = np.where(
        rng.uniform(size=300) < 0.5, *rng.uniform([[0.0125], [0.97]], [[0.03], [0.985]], (2, 300))
    )
    truth = Truth([(k, k + 1 if k % 4 == 0 else None, float(at)) for k, at in enumerate(near)])
    chart = chart_clip(folder, "720p60", 302)
    frames = (averaged(240, 640)(luma) for luma in captured(luma_of(chart), truth))
    found = motion(read(encode(folder / "strips.mp4", frames, crf=28)))
    assert found.counts["torn"] > 60
    assert [event for event in found.events if event.kind == "mixed"] == []
