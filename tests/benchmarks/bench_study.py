"""What a study of clips costs. Run: pytest -s tests/benchmarks/bench_study.py

Every frame of a 1080p60 clip in H.264: decoded, taken through chains, measured by the ranking's metrics,
and its rows kept, by one process, two, or more (SCALESIM_STUDY_WORKERS, "1,2"). The reference is FFmpeg's
program in the same run, on as many threads: it decodes the clip, scales every frame to the same lines in
two ways and computes its own SSIM of the two.

Both are run over a clip of one second and over a longer one (SCALESIM_CLIP_SECONDS, 4): what a frame costs
is the difference, so that programs that start, the files that they open and the page at the end are left
out. What these cost is told apart; of a few seconds of clip they are the larger part. Frames a second are
of the clock and hold on a machine that does nothing else; processor time is the fairer where others work on
it.

Memory: the peak of a whole command (the page included) over a clip and over the same clip several times
over, lengths in seconds by SCALESIM_STUDY_LENGTHS (10,60; 10,60,600 for the whole figure), and with one
chain, two and six.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import count
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
from clip_files import ffmpeg
from timing import plot, report

SECONDS = float(os.environ.get("SCALESIM_CLIP_SECONDS", "4"))
WORKERS = tuple(int(part) for part in os.environ.get("SCALESIM_STUDY_WORKERS", "1,2").split(","))
LENGTHS = tuple(int(part) for part in os.environ.get("SCALESIM_STUDY_LENGTHS", "10,60").split(","))
RATE = 60
CHAINS = {
    "average to 240": "line-average lines=240",
    "480i": "line-average lines=480, flicker-filter, interlace",
    "480, then 240": "line-average lines=480, line-average lines=240",
    "drop to 240": "line-drop lines=240 phase=1",
    "cubic to 240": "resample lines=240 kernel=cubic",
    "drop to 480i": "line-drop lines=480, interlace",
}
ASKED = {"average to 240": ["average to 240"], "480i": ["480i"], "three chains": [*CHAINS][:3]}
FLAT, FLAT_IN_CHAINS = 1.10, 1.25

_ONE = """
import sys
from scalesim.io.footage import footage
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.ranking import DEFAULT_BY

if __name__ == "__main__":
    path, rows, workers, *chains = sys.argv[1:]
    named = dict(chain.split(": ") for chain in chains)
    compare(named, [footage(path, every="1")], metrics=DEFAULT_BY, workers=int(workers), rows=rows)
"""


@dataclass(frozen=True)
class Cost:
    """Of one frame, and of all that is done once: seconds on the clock, and of all processors together."""

    clock: float
    work: float
    once: float


def cost_of(run: Callable[[Path], list[str]], clips: tuple[Path, Path]) -> Cost:
    """Return what a program costs that is run over a second and over more, the smaller of two runs."""
    clocks, works = [], []
    for clip in clips:
        found = []
        for _ in range(2):
            before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
            environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
            subprocess.run(run(clip), check=True, capture_output=True, env=environment)
            took, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
            found.append((took, after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime))
        clocks.append(min(clock for clock, _ in found))
        works.append(min(work for _, work in found))
    frames = SECONDS * RATE - RATE
    work = (works[1] - works[0]) / frames
    return Cost((clocks[1] - clocks[0]) / frames, work, works[0] - RATE * work)


@pytest.fixture(scope="module")
def clips(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """1080p60 clips of the demonstration's art that moves 4 samples a picture: a second, and more."""
    from scalesim.demo.bench import SCENES
    from scalesim.io.clips.write import write_clip

    frame = next(scene for scene in SCENES if scene.key == "comet_rally").draw()
    folder = tmp_path_factory.mktemp("study")
    short, long = folder / "1.mp4", folder / "more.mp4"
    for path, seconds in ((short, 1.0), (long, SECONDS)):
        write_clip(
            path, (np.roll(frame, 4 * k, axis=1) for k in range(round(seconds * RATE))), Fraction(RATE)
        )
    return short, long


def theirs(clip: Path, lines: int, threads: int) -> list[str]:
    """Return FFmpeg's command that decodes, scales by areas and by a cubic, and compares the two."""
    graph = (
        f"split[a][b];[a]scale=1920:{lines}:flags=area[x];[b]scale=1920:{lines}:flags=bicubic[y];[x][y]ssim"
    )
    some = ["-threads", str(threads)]
    limits = ["-filter_threads", str(threads), "-filter_complex_threads", str(threads)]
    named = [imageio_ffmpeg.get_ffmpeg_exe(), "-v", "error", *limits, *some, "-i", str(clip)]
    return [*named, "-lavfi", graph, "-f", "null", "-"]


def test_cost_of_a_frame(clips: tuple[Path, Path], tmp_path: Path) -> None:
    script = tmp_path / "one.py"
    script.write_text(_ONE, encoding="utf-8")
    numbers, rows = count(), []
    for workers in WORKERS:
        reference = {n: cost_of(lambda clip, n=n: theirs(clip, n, workers), clips) for n in (240, 480)}  # type: ignore[misc]  # noqa: B023  # called at once
        for what, names in ASKED.items():
            chains = [f"{name}: {CHAINS[name]}" for name in names]

            def ours(clip: Path, chains: list[str] = chains, workers: int = workers) -> list[str]:
                place = tmp_path / f"{next(numbers)}.sqlite"
                return [sys.executable, str(script), str(clip), str(place), str(workers), *chains]

            got, ref = cost_of(ours, clips), reference[480 if names == ["480i"] else 240]
            told = f"{what}, workers: {workers}"
            rows += [
                (
                    f"{told}, frames a second",
                    1 / got.clock,
                    1 / ref.clock,
                    "60 asked of two, half of FFmpeg's",
                ),
                (f"{told}, processor ms a frame", 1e3 * got.work, 1e3 * ref.work, "two cores have 33; <= 2"),
                (f"{told}, processor s once", got.once, ref.once, ""),
            ]
    report("study", rows)
    plot("study", "A study beside FFmpeg's scaling and SSIM", rows)
    first = rows[1]
    assert first[1] <= 2 * first[2]  # one chain by one process: half of FFmpeg's frames a second or more
    assert first[1] <= 2e3 / RATE


_PEAK = """
import resource, subprocess, sys
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


def peak_of(clip: Path, out: Path, every: str, chains: int = 2) -> float:
    """Return the peak memory of a whole command, MiB."""
    asked = [sys.executable, "-m", "scalesim", "compare", str(clip), "--every", every, "--out", str(out)]
    for name in [*CHAINS][:chains]:
        asked += ["--chain", f"{name}: {CHAINS[name]}"]
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
    plot(f"study-memory-{size}", "Peak memory by length", rows)
    assert max(peaks) <= FLAT * min(peaks)


def test_memory_does_not_grow_with_the_chains(tmp_path: Path) -> None:
    """Two chains of a frame are measured at once; the page shows closely what is shown of every chain."""
    clip = tmp_path / "clip.mp4"
    picture = f"testsrc2=s=1920x1080:r={RATE}:d=2"
    ffmpeg("-v", "error", "-f", "lavfi", "-i", picture, "-c:v", "libx264", "-preset", "veryfast", str(clip))
    peaks = {chains: peak_of(clip, tmp_path / f"out-{chains}", "30", chains) for chains in (1, 2, 6)}
    limits = {1: "", 2: "", 6: f"<= {FLAT_IN_CHAINS:.2f} of two"}
    rows = [(f"{chains} chains, MiB", peak, peaks[1], limits[chains]) for chains, peak in peaks.items()]
    report("study-memory-chains", rows)
    plot("study-memory-chains", "Peak memory by chains", rows)
    assert peaks[6] <= FLAT_IN_CHAINS * peaks[2]
