"""What publishing costs. Run: pytest -s tests/benchmarks/bench_publish.py

Clips: 1080p60 in H.264, read, scaled, counted for flashes and written as H.264, beside FFmpeg by PyAV that
decodes the same clip, scales it to the same size and encodes it, in the same run. SCALESIM_CLIP_SECONDS sets
the length (2).
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from fractions import Fraction
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


def rate_of(work: Callable[[], object], pictures: float) -> float:
    """Return pictures a second, the better of two runs."""
    found = []
    for _ in range(2):
        begun = time.perf_counter()
        work()
        found.append(pictures / (time.perf_counter() - begun))
    return max(found)


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
    rows = []
    for view in ("raster", "screen"):
        for name, text in CHAINS.items():
            out = tmp_path / f"{view}.mp4"

            def ours(text: str = text, view: str = view, out: Path = out) -> None:
                clip = read(source)
                save_clip(lambda: moving(clip, Chain(text), view=view), out)

            got = rate_of(ours, SECONDS * RATE)
            with av.open(str(out)) as made:
                size = (made.streams.video[0].width, made.streams.video[0].height)
            ref = rate_of(lambda size=size: resized(source, tmp_path / "ref.mp4", size), SECONDS * RATE)
            asked = "60 asked" if view == "raster" else "30 asked"
            rows.append((f"{view} clip, {name} ({size[0]}x{size[1]}), pictures a second", got, ref, asked))
    report("publish-clips", rows)
