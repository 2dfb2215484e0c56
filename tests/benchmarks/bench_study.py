"""What a study of clips costs. Run: pytest -s tests/benchmarks/bench_study.py

Every frame of a 1080p60 clip in H.264: decoded, taken through chains, measured by the ranking's metrics,
and its rows kept, by one process, two, or more (SCALESIM_STUDY_WORKERS, "1,2"). The reference is FFmpeg's
program in the same run, on as many threads: it decodes the clip, scales every frame to the same lines in
two ways and computes its own SSIM of the two. Two clips: a scene drawn for 1080p, and the busiest that is
drawn, two moving fields woven into every frame, each line an outline against the next.

Ours is counted once processes run and chains know what they find out once, as in any study that is longer
than a minute: the same processes have measured every other frame before. FFmpeg's is its whole run, which
starts in no time. Frames a second are of the clock and hold on a machine that does nothing else; processor
time is the fairer where others work on it.

Rows say so where Numba compiles loops: from 300 frames on, which five seconds are.

Memory: the peak of a whole command (the page included) over a clip and over the same clip several times
over, lengths in seconds by SCALESIM_STUDY_LENGTHS (10,60; 10,60,600 for the whole figure), and with one
chain, six and twelve of a kind (480i with a filter, which needs most).
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from dataclasses import dataclass
from fractions import Fraction
from importlib.util import find_spec
from itertools import product
from pathlib import Path

import imageio_ffmpeg
import numpy as np
import pytest
from clip_files import ffmpeg
from timing import plot, report

SECONDS = float(os.environ.get("SCALESIM_CLIP_SECONDS", "5"))
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
CLIPS = {"a 1080p scene": "deepvault_corridor", "woven fields": "comet_rally"}
ASKED = {"average to 240": ["average to 240"], "480i": ["480i"], "three chains": [*CHAINS][:3]}
COMPILED = ", Numba" if find_spec("numba") and SECONDS * RATE >= 300 else ""
FLAT = 1.10
CHAIN = 10.0
"""MiB that a chain may add to the peak of a whole command, of like ones."""

_ONE = """
import json, multiprocessing, os, sys, time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from scalesim.io.footage import footage
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.ranking import DEFAULT_BY

def spent():
    own = time.process_time()
    for child in multiprocessing.active_children():  # what runs on is in no total of the system's
        ticks = Path(f"/proc/{child.pid}/stat").read_text().rpartition(")")[2].split()[11:13]
        own += sum(map(int, ticks)) / os.sysconf("SC_CLK_TCK")
    return own

def main():
    path, place, workers, *chains = sys.argv[1:]
    named = dict(chain.split(": ") for chain in chains)
    if workers == "1":
        who = {"workers": 1}
    else:
        who = {"executor": ProcessPoolExecutor(int(workers), multiprocessing.get_context("spawn"))}

    def study(rows):
        told, begun = [], (time.perf_counter(), spent())
        compare(named, [footage(path, every="1")], metrics=DEFAULT_BY, rows=rows, advance=told.append,
                **who)
        frames = len(told) / len(named)
        return (time.perf_counter() - begun[0]) / frames, (spent() - begun[1]) / frames

    study(place + "-first")
    print(json.dumps(study(place)))
    if workers != "1":
        who["executor"].shutdown()

if __name__ == "__main__":
    main()
"""


@dataclass(frozen=True)
class Cost:
    """Of one frame, seconds on the clock and of all processors together."""

    clock: float
    work: float


@pytest.fixture(scope="module")
def clips(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """1080p60 clips of the demonstration's art, which moves 4 samples a picture."""
    from scalesim.demo.bench import SCENES
    from scalesim.io.clips.write import write_clip

    drawn = {scene.key: scene for scene in SCENES}
    paths = {}
    for what, key in CLIPS.items():
        frame = drawn[key].draw()
        paths[what] = tmp_path_factory.mktemp("study") / "in.mp4"
        moved = (np.roll(frame, 4 * k, axis=1) for k in range(round(SECONDS * RATE)))
        write_clip(paths[what], moved, Fraction(RATE))
    return paths


def ours(clip: Path, place: Path, workers: int, chains: list[str]) -> Cost:
    """Return what a frame of a study costs, by a program of its own."""
    script = clip.with_name("one.py")
    script.write_text(_ONE, encoding="utf-8")
    told = subprocess.run(
        [sys.executable, str(script), str(clip), str(place), str(workers), *chains],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "OPENBLAS_NUM_THREADS": "1"},
    )
    return Cost(*json.loads(told.stdout))


def theirs(clip: Path, lines: int, threads: int) -> Cost:
    """Return what FFmpeg's program takes to decode, scale by areas and by a cubic, and compare the two."""
    ways = [f"scale=1920:{lines}:flags={how}" for how in ("area", "bicubic")]
    graph = f"split[a][b];[a]{ways[0]}[x];[b]{ways[1]}[y];[x][y]ssim"
    limits = [
        part for name in ("filter_threads", "filter_complex_threads") for part in (f"-{name}", str(threads))
    ]
    asked = [
        "-v",
        "error",
        *limits,
        "-threads",
        str(threads),
        "-i",
        str(clip),
        "-lavfi",
        graph,
        "-f",
        "null",
        "-",
    ]
    before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    subprocess.run([imageio_ffmpeg.get_ffmpeg_exe(), *asked], check=True, capture_output=True)
    took, after = time.perf_counter() - begun, resource.getrusage(resource.RUSAGE_CHILDREN)
    work = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Cost(took / SECONDS / RATE, work / SECONDS / RATE)


def test_cost_of_a_frame(clips: dict[str, Path], tmp_path: Path) -> None:
    rows, first = [], None
    for workers, (art, clip), (what, names) in product(WORKERS, clips.items(), ASKED.items()):
        place = tmp_path / f"{art}-{what}-{workers}.sqlite"
        got = ours(clip, place, workers, [f"{name}: {CHAINS[name]}" for name in names])
        ref = theirs(clip, 480 if names == ["480i"] else 240, workers)
        first = first or (got, ref)
        told = f"{art}, {what}, workers: {workers}{COMPILED}"
        rows += [
            (f"{told}, frames a second", 1 / got.clock, 1 / ref.clock, "60 asked of two; >= 0.5"),
            (f"{told}, processor ms a frame", 1e3 * got.work, 1e3 * ref.work, "two cores have 33; <= 2"),
        ]
    report("study", rows)
    plot("study", "A study beside FFmpeg's scaling and SSIM", rows)
    assert first is not None
    got, ref = first  # one chain by one process; half of FFmpeg's frames are asked, a fifth must be
    assert got.work <= 5 * ref.work


_PEAK = """
import resource, subprocess, sys
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


def peak_of(clip: Path, out: Path, every: str, chains: dict[str, str]) -> float:
    """Return the peak memory of a whole command, MiB."""
    asked = [sys.executable, "-m", "scalesim", "compare", str(clip), "--every", every, "--out", str(out)]
    for name, text in chains.items():
        asked += ["--chain", f"{name}: {text}"]
    asked += ["--metrics", "lost_lines"]
    # by a small process between: a new one counts what the one that started it held
    told = subprocess.run([sys.executable, "-c", _PEAK, *asked], capture_output=True, text=True, check=True)
    return float(told.stdout) / 1024


@pytest.mark.parametrize("size", ["320x240", "1920x1080"])
def test_memory_does_not_grow_with_the_clip(tmp_path: Path, size: str) -> None:
    """The same ten seconds again and again: nothing in them is new but their number.

    Every other frame: of ten seconds already enough for compiled loops, where there is a compiler, so that
    like is compared with like; and compiling, which is done once on a machine, is none of it.
    """
    short = tmp_path / "0.mp4"
    picture = f"testsrc2=s={size}:r={RATE}:d=10"
    options = ("-c:v", "libx264", "-preset", "veryfast", "-g", "60")
    ffmpeg("-v", "error", "-f", "lavfi", "-i", picture, *options, str(short))
    rows, peaks, two = [], [], {name: CHAINS[name] for name in [*CHAINS][:2]}
    peak_of(short, tmp_path / "compiled", "2", two)
    for seconds in LENGTHS:
        long = tmp_path / f"{seconds}.mp4"
        again = ("-stream_loop", str(seconds // 10 - 1))
        ffmpeg("-v", "error", *again, "-i", str(short), "-c", "copy", str(long))
        peaks.append(peak_of(long, tmp_path / f"out-{seconds}", "2", two))
        rows.append((f"{size}, {seconds} s, MiB", peaks[-1], peaks[0], f"<= {FLAT:.2f}"))
        long.unlink()
    report(f"study-memory-{size}", rows)
    plot(f"study-memory-{size}", "Peak memory by length", rows)
    assert max(peaks) <= FLAT * min(peaks)


def test_memory_of_chains(tmp_path: Path) -> None:
    """Of each chain little is kept: its weights, and what a page shows of it, packed; pictures one by one."""
    clip = tmp_path / "clip.mp4"
    picture = f"testsrc2=s=1920x1080:r={RATE}:d=2"
    ffmpeg("-v", "error", "-f", "lavfi", "-i", picture, "-c:v", "libx264", "-preset", "veryfast", str(clip))
    kind = "line-average lines=480 phase={}, flicker-filter, interlace"
    peaks = {}
    for count in (1, 6, 12):
        chains = {f"chain {k}": kind.format(k / 16) for k in range(count)}
        peaks[count] = peak_of(clip, tmp_path / f"out-{count}", "30", chains)
    limit = f"<= {CHAIN:.0f} MiB a chain more"
    rows = [(f"chains: {chains}, MiB", peak, peaks[1], limit) for chains, peak in peaks.items()]
    report("study-memory-chains", rows)
    plot("study-memory-chains", "Peak memory by chains", rows)
    # from one to twelve: what a page holds at once besides comes with the second chain, and varies
    assert peaks[12] - peaks[1] <= 11 * CHAIN
