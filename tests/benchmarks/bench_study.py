"""What a study of clips costs. Run: pytest -s tests/benchmarks/bench_study.py

Every frame of a 1080p60 clip in H.264: decoded, taken through a chain, measured by the ranking's metrics, and
its rows kept, by one process and by two. The reference is FFmpeg's program in the same run: it decodes the
clip, scales every frame to the same 240 lines in two ways and computes its own SSIM of the two.
SCALESIM_CLIP_SECONDS sets the length (4). Of a short clip the start of the processes is a large part.

Memory: the peak of a whole command (the page included) over a clip and over the same clip several times over,
lengths in seconds by SCALESIM_STUDY_LENGTHS (10,60; 10,60,600 for the whole figure).
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
from clip_files import ffmpeg
from timing import report

SECONDS = float(os.environ.get("SCALESIM_CLIP_SECONDS", "4"))
LENGTHS = tuple(int(part) for part in os.environ.get("SCALESIM_STUDY_LENGTHS", "10,60").split(","))
RATE = 60
CHAINS = {
    "average to 240": "line-average lines=240",
    "480, then 240": "line-average lines=480, line-average lines=240",
}
FLAT = 1.10

_ONE = """
import json, multiprocessing, resource, sys, time
from scalesim.io.footage import footage
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.ranking import DEFAULT_BY

def main():
    path, chains, workers = sys.argv[1], json.loads(sys.argv[2]), int(sys.argv[3])
    compare(chains, [footage(path)], metrics=DEFAULT_BY)  # what is loaded and found out once
    told, before = [], [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    begun = time.perf_counter()
    found = compare(chains, [footage(path, every="1")], metrics=DEFAULT_BY, workers=workers,
                    advance=lambda _: told.append(time.perf_counter()))
    for child in multiprocessing.active_children():
        child.join()
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    print(json.dumps({"frames": found.measured, "first_s": told[0] - begun, "all_s": told[-1] - begun,
                      "work_s": sum(u.ru_utime + u.ru_stime for u in used)
                      - sum(u.ru_utime + u.ru_stime for u in before)}))

if __name__ == "__main__":
    main()
"""


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A 1080p60 clip of the demonstration's art that moves 4 samples a picture."""
    from scalesim.demo.bench import SCENES
    from scalesim.io.clips.write import write_clip

    frame = next(scene for scene in SCENES if scene.key == "comet_rally").draw()
    path = tmp_path_factory.mktemp("study") / "in.mp4"
    write_clip(path, (np.roll(frame, 4 * k, axis=1) for k in range(round(SECONDS * RATE))), Fraction(RATE))
    return path


def ours(source: Path, chains: dict[str, str], workers: int) -> dict[str, float]:
    """Return frames, seconds to the first rows and to the last, and processor seconds, of a process."""
    script = source.with_name("one.py")
    script.write_text(_ONE, encoding="utf-8")
    told = subprocess.run(
        [sys.executable, str(script), str(source), json.dumps(chains), str(workers)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    found: dict[str, float] = json.loads(told.stdout)
    return found


def theirs(source: Path) -> tuple[float, float]:
    """Return seconds on the clock and of the processors that FFmpeg takes to decode, scale and compare."""
    graph = "split[a][b];[a]scale=1920:240:flags=area[x];[b]scale=1920:240:flags=bicubic[y];[x][y]ssim"
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    asked = ["-v", "error", "-i", str(source), "-lavfi", graph, "-f", "null", "-"]
    subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), *asked], check=True, capture_output=True)
    took, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    return took, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


@pytest.mark.parametrize("workers", [1, 2])
@pytest.mark.parametrize("chains", [1, 2])
def test_frames_a_second(source: Path, chains: int, workers: int) -> None:
    frames = SECONDS * RATE
    clock, work = theirs(source)
    got = ours(source, dict([*CHAINS.items()][:chains]), workers)
    assert got["frames"] == frames
    what = f"chains: {chains}, processes: {workers}"
    rows = [
        (f"{what}, frames a second", frames / got["all_s"], frames / clock, "60 asked, half the reference's"),
        (
            f"{what}, processor ms a frame",
            1e3 * got["work_s"] / frames,
            1e3 * work / frames,
            "2 cores have 33",
        ),
        (f"{what}, s to the first rows", got["first_s"], clock, ""),
    ]
    report(f"study-{chains}-{workers}", rows)


_PEAK = """
import resource, subprocess, sys
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


def peak_of(clip: Path, out: Path, every: str) -> float:
    """Return the peak memory of a whole command, MiB."""
    asked = [sys.executable, "-m", "scalesim", "compare", str(clip), "--every", every, "--out", str(out)]
    asked += ["--chain", "a: line-average lines=240", "--chain", "b: line-drop lines=240 phase=1"]
    asked += ["--metrics", "lost_lines"]
    # by a small process between: a new one counts what the one that started it held
    told = subprocess.run([sys.executable, "-c", _PEAK, *asked], capture_output=True, text=True, check=True)
    return float(told.stdout) / 1024


@pytest.mark.parametrize(("size", "every"), [("320x240", "4"), ("1920x1080", "30")])
def test_memory_does_not_grow_with_the_clip(tmp_path: Path, size: str, every: str) -> None:
    """The same ten seconds again and again: nothing in them is new but their number."""
    short = tmp_path / "0.mp4"
    picture = f"testsrc2=s={size}:r={RATE}:d=10"
    options = ("-c:v", "libx264", "-preset", "veryfast", "-g", "60")
    ffmpeg("-v", "error", "-f", "lavfi", "-i", picture, *options, str(short))
    rows, peaks = [], []
    for seconds in LENGTHS:
        long = tmp_path / f"{seconds}.mp4"
        again = ("-stream_loop", str(seconds // 10 - 1))
        ffmpeg("-v", "error", *again, "-i", str(short), "-c", "copy", str(long))
        peaks.append(peak_of(long, tmp_path / f"out-{seconds}", every))
        rows.append((f"{size}, {seconds} s, MiB", peaks[-1], peaks[0], f"<= {FLAT:.2f}"))
        long.unlink()
    report(f"study-memory-{size}", rows)
    assert max(peaks) <= FLAT * min(peaks)
