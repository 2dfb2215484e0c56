"""What publishing costs. Run: pytest -s tests/benchmarks/bench_publish.py

Clips: 1080p60 in H.264, read, scaled, counted for flashes and written as H.264, beside FFmpeg by PyAV that
decodes the same clip, scales it to the same size and encodes it, in the same run. SCALESIM_CLIP_SECONDS sets
the length (2).
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import product
from pathlib import Path

import av
import numpy as np
import pytest
from timing import report

from scalesim.chain import Chain
from scalesim.demo.bench import SCENES
from scalesim.io.clips.guarded import save_clip
from scalesim.io.clips.write import write_clip
from scalesim.io.read import read
from scalesim.jobs.predict.moving import moving

SECONDS = float(os.environ.get("SCALESIM_CLIP_SECONDS", "2"))
RATE = 60
CHAINS = {
    "average to 240": "line-average lines=240",
    "480, then 240": "line-average lines=480, line-average lines=240",
    "480i": "line-average lines=480, flicker-filter, interlace",
}


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a 1080p60 clip of the demonstration's art that moves 4 samples a picture."""
    frame = next(scene for scene in SCENES if scene.draw().shape[0] == 1080).draw()
    path = tmp_path_factory.mktemp("publish") / "in.mp4"
    write_clip(path, (np.roll(frame, 4 * k, axis=1) for k in range(round(SECONDS * RATE))), Fraction(RATE))
    return path


@dataclass(frozen=True)
class Cost:
    """Of one picture: seconds on the clock, and of all processors together."""

    clock: float
    work: float


def cost_of(work: Callable[[], object], pictures: float) -> Cost:
    """Return the smaller cost of two runs, of each kind apart."""
    clock, busy = [], []
    for _ in range(2):
        begun, before = time.perf_counter(), time.process_time()
        work()
        clock.append((time.perf_counter() - begun) / pictures)
        busy.append((time.process_time() - before) / pictures)
    return Cost(min(clock), min(busy))


def resized(clip: Path, out: Path, size: tuple[int, int]) -> None:
    """Decode, scale by areas, and encode, all by FFmpeg on as many threads as it likes."""
    with av.open(str(clip)) as taken, av.open(str(out), "w") as made:
        taken.streams.video[0].thread_type = "AUTO"
        stream = made.add_stream("libx264", rate=RATE, options={"preset": "veryfast", "crf": "16"})
        stream.width, stream.height, stream.pix_fmt = *size, "yuv420p"
        for frame in taken.decode(video=0):
            made.mux(stream.encode(frame.reformat(*size, "yuv420p", interpolation="AREA")))
        made.mux(stream.encode())


def test_clips(source: Path, tmp_path: Path) -> None:
    rows, work = [], []
    for (view, asked), (name, text) in product({"raster": 60, "screen": 30}.items(), CHAINS.items()):
        out = tmp_path / f"{view}.mp4"

        def ours(text: str = text, view: str = view, out: Path = out) -> None:
            clip = read(source)
            save_clip(lambda: moving(clip, Chain(text), view=view), out)

        got = cost_of(ours, SECONDS * RATE)
        with av.open(str(out)) as made:
            size = (made.streams.video[0].width, made.streams.video[0].height)
        ref = cost_of(lambda size=size: resized(source, tmp_path / "ref.mp4", size), SECONDS * RATE)
        what = f"{view}, {name} ({size[0]}x{size[1]})"
        rows.append((f"{what}, pictures a second", 1 / got.clock, 1 / ref.clock, f"{asked} asked"))
        work.append((f"{what}, processor ms a picture", 1e3 * got.work, 1e3 * ref.work, "2 cores have 33"))
    report("publish-clips", rows + work)
