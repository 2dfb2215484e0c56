"""Speed and memory of the core, as ratios in one run. Run: pytest -s tests/benchmarks/bench_predict.py

Assertions are on ratios, never on milliseconds.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
import tracemalloc
from fractions import Fraction
from itertools import islice

import numpy as np
import pytest
from timing import best_ms, report

from scalesim.chain import Chain
from scalesim.chain.coverage import coverage
from scalesim.chain.resolve import Resolved, resolve
from scalesim.chain.run import run, run_still
from scalesim.core.build import average_lines, resample_lines, select_lines
from scalesim.core.clip import still_clip
from scalesim.core.landed import landed, woven
from scalesim.core.operator import Operator
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.jobs.predict.predict import predict

FIRST_METRICS = (
    "edge_spread_lines",
    "edge_count",
    "line_doubling",
    "lost_lines",
    "flicker_percent",
    "flicker_p95",
    "flicker_area",
    "displacement_lines",
    "ssim",
    "psnr_db",
    "cropped_percent",
)
"""What a single prediction is mostly asked for; the others have a benchmark of their own."""

FULL_HD = Raster(1080, 1920)
FOUR_STAGES = "line-average lines=480, position lines=0.5, flicker-filter, line-drop lines=240 phase=1"


@pytest.fixture(scope="module")
def frame() -> np.ndarray:
    """A drawn 1080p frame of the demonstration, float32."""
    from scalesim.demo.bench import SCENES
    from scalesim.jobs.demo.steps import draw_scene

    return draw_scene(next(scene for scene in SCENES if scene.key == "deepvault_corridor"))


def test_fused_chain(frame: np.ndarray) -> None:
    """A fused four-stage chain on 1080p is at least twice as fast as stage by stage."""
    chain = Chain(FOUR_STAGES)
    fused, plain = chain.resolve(FULL_HD), chain.resolve(FULL_HD, fuse=False)
    pictures = [Picture(frame, FULL_HD)]
    quick = best_ms(lambda: list(run(fused, pictures)))
    slow = best_ms(lambda: list(run(plain, pictures)))
    report(
        "fused-chain", [("fused four-stage chain, 1080p (ref: stage by stage), ms", quick, slow, "<= 0.50")]
    )
    assert quick <= slow / 2


def test_reducing_operator(frame: np.ndarray) -> None:
    """A reducing operator of at most three taps is no slower than copying the source frame."""
    copy = best_ms(frame.copy)
    limit, told = "<= 1.00", "reported"
    cases = {
        "drop 1080 to 240, 1 tap": (select_lines(1080, 240, 4.5), limit),
        "two-line blend 1080 to 240, 2 taps": (resample_lines(1080, 240, 4.5, 0.5, antialias=False), limit),
        "average 720 of 1080 to 240, 3 taps": (average_lines(1080, 240, 3.0), limit),
        "average 1080 to 240, up to 6 taps": (average_lines(1080, 240, 4.5), told),
        "average 1080 to 480, up to 4 taps": (average_lines(1080, 480, 2.25), told),
    }
    rows = []
    for name, (matrix, text) in cases.items():
        operator = Operator(matrix, None, "code")
        rows.append(
            (f"{name} (ref: copying the frame), ms", best_ms(lambda op=operator: op(frame)), copy, text)
        )
    report("reducing-operator", rows)
    for name, got, reference, text in rows:
        assert text != limit or got <= reference, name


@pytest.mark.parametrize(
    "text",
    ["line-average lines=240, quantise", "line-average lines=480, quantise, flicker-filter, interlace"],
)
def test_predict(frame: np.ndarray, text: str) -> None:
    """predict with its first metrics takes at most three times scikit-image's RGB SSIM on the same raster."""
    from skimage.metrics import structural_similarity

    landed = predict(frame, text, metrics=[]).landed
    other = np.clip(landed + np.float32(0.01), 0, 1)

    def reference() -> None:
        structural_similarity(
            landed,
            other,
            data_range=1.0,
            channel_axis=2,
            gaussian_weights=True,
            sigma=1.5,
            use_sample_covariance=False,
        )

    got, ref = best_ms(lambda: predict(frame, text, metrics=FIRST_METRICS), 5), best_ms(reference, 5)
    name = "predict-" + ("interlaced" if "interlace" in text else "progressive")
    report(
        name,
        [
            (
                f"predict, first metrics, {landed.shape[0]}x{landed.shape[1]} (ref: RGB SSIM), ms",
                got,
                ref,
                "<= 3.00",
            )
        ],
    )
    assert got <= 3 * ref


@pytest.mark.parametrize("name", ["average", "drop-720p", "interlaced-filtered", "one-set-down"])
def test_resolving_once(name: str) -> None:
    """The first prediction of a chain takes far less than resolving anew for each thing it holds.

    The reference resolves for the run, the geometry, the matrix and the weights by turns, and makes every
    picture, asked for or not. Neither side is given a chain that was resolved before.
    """
    from scalesim.demo.bench import SCENES
    from scalesim.jobs.demo.steps import demo_chains, draw_scene

    clip = still_clip(draw_scene(next(scene for scene in SCENES if scene.key == "kettle_crew")))
    chain = demo_chains()[name]

    def anew() -> Resolved:
        return resolve(chain.stages, clip.raster)

    def unshared() -> None:
        output = anew().output
        cycle = [picture.values for picture in run_still(anew(), clip.pictures())]
        anew().operator()
        coverage(anew())
        landed(cycle, output)
        woven(cycle, output)
        anew()

    got, ref = best_ms(lambda: predict(clip, Chain(*chain.stages), metrics=[]), 40), best_ms(unshared, 40)
    what = f"predict, no metrics, {name}, 720p (ref: unshared), ms"
    report(f"predict-once-{name}", [(what, got, ref, "<= 0.80")])
    assert got <= 0.8 * ref


def test_help_time() -> None:
    """`scalesim --help` answers within 0.35 s (against a bare interpreter, for the machine's own speed)."""

    def seconds(*words: str) -> float:
        found = []
        for _ in range(5):
            begin = time.perf_counter()
            subprocess.run([sys.executable, *words], check=True, capture_output=True, env=dict(os.environ))
            found.append(time.perf_counter() - begin)
        return min(found)

    bare, shown = seconds("-c", "pass"), seconds("-m", "scalesim", "--help")
    report("help", [("scalesim --help (ref: bare interpreter), ms", 1e3 * shown, 1e3 * bare, "350 ms")])
    assert shown <= max(0.35, 14 * bare)


def test_streaming_memory() -> None:
    """Ten seconds of 720p60 stream through a chain in memory independent of the length."""
    raster = Raster(720, 1280, Fraction(60))
    frame = np.random.RandomState(1).rand(720, 1280, 3).astype(np.float32)
    plan = Chain("line-average lines=480, quantise, flicker-filter, interlace").resolve(raster)

    def peak_mb(pictures: int) -> float:
        stream = (Picture(frame + np.float32(0), raster, k / raster.rate) for k in range(pictures))
        tracemalloc.start()
        for _ in islice(run(plan, stream), pictures):
            pass
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return peak / 1e6

    short, long = peak_mb(12), peak_mb(600)
    report("streaming", [("peak memory, 600 pictures (ref: 12 pictures), MB", long, short, "<= 1.05")])
    assert long <= 1.05 * short
