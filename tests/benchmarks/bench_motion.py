"""The counter chart written and read back. Run: pytest -s tests/benchmarks/bench_motion.py

- reading: `motion` of a 1080p60 H.264 capture against FFmpeg, by PyAV, decoding the same clip alone;
- memory: what a capture four times as long takes more;
- writing: the clips of the chart at 720p60, in frames a second; the reference is real time, 60 a second.

Both readers run by turns, so that other work on the machine disturbs them alike.
"""

from __future__ import annotations

import resource
import time
from pathlib import Path

import av
from timing import report

from scalesim.charts.counter.draw import counter_frames
from scalesim.charts.counter.layout import layout
from scalesim.io.clips.grey import write_grey
from scalesim.io.read import read
from scalesim.jobs.motion.motion import motion

FRAMES, SHORT, LONG = 900, 240, 960
TURNS = 3
LEAST_SHARE = 0.8
LEAST_WRITTEN = 60.0
MOST_MEMORY_MB = 60.0


def capture(path: Path, mode: str, frames: int) -> Path:
    """Write a capture of the chart as capture programs do, H.264 4:2:0."""
    plan = layout(mode)
    with av.open(str(path), "w") as made:
        stream = made.add_stream("libx264", rate=60, options={"preset": "ultrafast", "crf": "20"})
        stream.width, stream.height, stream.pix_fmt = plan.mode.samples, plan.mode.frame_lines, "yuv420p"
        for luma in counter_frames(plan, frames):
            frame = av.VideoFrame.from_ndarray(luma, format="gray").reformat(format="yuv420p")
            made.mux(stream.encode(frame))
        made.mux(stream.encode())
    return path


def decoded(path: Path) -> float:
    """Return the seconds that decoding alone takes."""
    begun = time.perf_counter()
    with av.open(str(path)) as taken:
        taken.streams.video[0].thread_type = "AUTO"
        assert sum(1 for _ in taken.decode(video=0)) > 0
    return time.perf_counter() - begun


def told(path: Path) -> float:
    """Return the seconds that `motion` takes, the opening of the file and all."""
    begun = time.perf_counter()
    assert motion(read(path)).events == []
    return time.perf_counter() - begun


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def written(folder: Path) -> float:
    """Return frames a second of both clips that `chart counter` writes, one after the other."""
    plan = layout("720p60")
    begun = time.perf_counter()
    for name in ("chart.mkv", "chart.mp4"):
        write_grey(folder / name, counter_frames(plan, SHORT), plan.mode.rate)
    return SHORT / (time.perf_counter() - begun)


def test_motion_keeps_up_with_decoding(tmp_path: Path) -> None:
    clip = capture(tmp_path / "capture.mp4", "1080p60", FRAMES)
    told(clip)
    turns = [(decoded(clip), told(clip)) for _ in range(TURNS)]
    alone, whole = min(a for a, _ in turns), min(w for _, w in turns)
    small = capture(tmp_path / "short.mp4", "240p59.94", SHORT)
    long = capture(tmp_path / "long.mp4", "240p59.94", LONG)
    told(small)
    before = peak_mb()
    told(long)
    grown = peak_mb() - before
    rate = max(written(tmp_path) for _ in range(TURNS))
    report(
        "motion",
        [
            (
                "motion of 1080p60, frames a second, to decoding alone",
                FRAMES / whole,
                FRAMES / alone,
                ">= 0.8",
            ),
            ("both clips of the chart at 720p60, frames a second", rate, LEAST_WRITTEN, ">= 1"),
            ("memory, MB, of a capture four times as long", grown, MOST_MEMORY_MB, "<= 1"),
        ],
    )
    assert alone / whole >= LEAST_SHARE
    assert rate >= LEAST_WRITTEN
    assert grown <= MOST_MEMORY_MB
