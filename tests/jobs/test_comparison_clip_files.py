"""Files of comparison clips, decoded with PyAV (FFmpeg): rate, size and every dot, in all layouts."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import islice, pairwise
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.run import run
from scalesim.core.clip import Clip, still_clip
from scalesim.core.codes import to_codes
from scalesim.core.pan import panned
from scalesim.core.picture import Picture
from scalesim.io.clips.guarded import save_clips
from scalesim.jobs.compare.clip.clip import comparison_clip
from scalesim.jobs.compare.clip.compose import boxes_of, in_step
from scalesim.jobs.compare.clip.panel import Dots

EVEN = "line-average lines=240"
FIELDS = "line-average lines=480, interlace"
NTSC = Fraction(60000, 1001)


def source(count: int = 4) -> Clip:
    """A clip at 60000/1001 pictures a second that scrolls; of 320 samples a line each is `zoom` dots wide."""
    rs = np.random.RandomState(3)
    small = rs.randint(0, 256, (144, 40, 3)).astype(np.float32) / 255
    scene = np.repeat(np.repeat(small, 5, axis=0), 8, axis=1)
    moving = panned(still_clip(scene, mode="720p60"), samples=480, lines=0, seconds=count / 60)
    raster = moving.raster.with_(rate=NTSC)

    def pictures() -> Iterator[Picture]:
        for index, picture in enumerate(moving.pictures()):
            yield Picture(picture.values, raster, index / NTSC)

    return Clip(raster, pictures, length=moving.length)


def decoded(path: Path) -> tuple[Any, list[NDArray], list[Fraction]]:
    """Return what a file says of its stream, its pictures, and their times."""
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        found = list(container.decode(stream))
        facts = stream.width, stream.height, stream.average_rate
        times = [frame.pts * stream.time_base for frame in found]
        return facts, [frame.to_ndarray(format="rgb24") for frame in found], times


@pytest.mark.parametrize(
    ("layout", "size", "slow", "alone"),
    [
        ("stacked", 1080, 1, False),
        ("wipe", 1080, 2, True),
        pytest.param("beside", 2160, 1, False, marks=pytest.mark.slow),
        pytest.param("stacked", 2160, 1, True, marks=pytest.mark.slow),
        pytest.param("wipe", 2160, 3, False, marks=pytest.mark.slow),
    ],
)
def test_every_dot_is_the_chain_s_own(layout: Any, size: int, slow: int, alone: bool, tmp_path: Path) -> None:
    """The exact file's dots are samples of the chain run by itself, each line and sample as many dots.

    Both files are of the size that was asked for. The rate is 60000/1001 by MP4's own whole numbers; Matroska
    keeps times in whole milliseconds.
    """
    clip = source()
    made = comparison_clip(
        {"even": EVEN, "fields": FIELDS}, clip, layout=layout, size=size, slow=slow, alone=alone
    )
    saved = save_clips(made.moving, [tmp_path / "a.mkv", tmp_path / "a.mp4"], card=False)
    facts, shown, times = decoded(tmp_path / "a.mkv")
    assert facts[:2] == (size * 16 // 9, size)
    assert max(abs(time - k / NTSC) for k, time in enumerate(times)) <= Fraction(1, 2000)
    facts, _, times = decoded(tmp_path / "a.mp4")
    assert facts == (size * 16 // 9, size, NTSC) and times == [k / NTSC for k in range(len(shown))]
    first = 0 if alone else 1  # with both fields together it begins when both are there
    assert saved[0].file.frames == len(shown) == slow * (4 - first)
    part = made.shown.part
    box = boxes_of(made.shown.places, part)[0]
    codes = [to_codes(each.values) for each in run(Chain(EVEN).resolve(clip.raster), clip.pictures())]
    top, left = part.box.top // part.zoom, part.box.left
    edge = 4 * size // 1080
    for k, frame in enumerate(shown):
        dots = frame[box.top : box.bottom, box.left : box.right]
        whole = codes[first + k // slow].repeat(part.zoom, axis=0).repeat(part.zoom, axis=1)
        expected = whole[top * part.zoom :, left:][: box.height, : box.width]
        begin = 0 if layout != "wipe" else round(k / (NTSC * 4) * box.width) + edge
        assert np.array_equal(dots[:, begin:], expected[:, begin:])
        assert k == 0 or layout != "wipe" or not np.array_equal(dots[:, :begin], expected[:, :begin])


def test_rates_that_do_not_divide_are_held_until_the_next_is_due() -> None:
    """50 pictures a second beside 60000/1001, by hand: of the first the one begun last, floor(t * 50)."""

    def numbered(rate: Fraction, count: int) -> Iterator[Dots]:
        for k in range(count):
            yield Dots(k / rate, np.full((1, 1, 3), k, np.uint8))

    shown = list(in_step([numbered(NTSC, 60), numbered(Fraction(50), 60)], NTSC))
    assert [each[0][0, 0, 0] for each in shown] == list(range(60))
    assert [each[1][0, 0, 0] for each in shown] == [k * 1001 // 1200 for k in range(60)]
    short = list(in_step([numbered(NTSC, 60), numbered(Fraction(50), 10)], NTSC))
    assert len(short) == 12 and short[-1][1][0, 0, 0] == 9  # the tenth lasts from 0.18 s to 0.2 s, as 11 does


def test_four_chains_of_two_rates_under_a_wipe() -> None:
    """Each sweep shows the next of four; one of 30 pictures a second stands for two of the others'."""
    weave = "line-average lines=480, interlace, deinterlace how=weave, line-average lines=240"
    texts = {"a": EVEN, "b": "line-drop lines=240", "c": FIELDS, "d": weave}
    made = comparison_clip(texts, source(8), layout="wipe")
    box = boxes_of(made.shown.places, made.shown.part)[0]
    seen = []
    for sweep in range(4):
        frames = islice(made.shown.moving(sweeps=Fraction(sweep)).pictures, 6)
        seen.append(
            [frame[box.top : box.bottom, box.left + box.width // 2 : box.right].copy() for frame in frames]
        )
    firsts = [frames[0] for frames in seen]
    assert all(not np.array_equal(firsts[i], firsts[j]) for i in range(4) for j in range(i))
    held = [sum(np.array_equal(a, b) for a, b in pairwise(frames)) for frames in seen]
    assert held[:3] == [0, 0, 0] and held[3] in (2, 3)
