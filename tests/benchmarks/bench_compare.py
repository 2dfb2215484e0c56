"""Speed of comparing. Run: pytest -s tests/benchmarks/bench_compare.py

Prints what each metric costs at 240x1280 of a 720p frame, and what twelve chains on a few frames cost
beside the metrics themselves.
"""

from __future__ import annotations

import time

from timing import best_ms, report

from scalesim.core.clip import Clip, still_clip
from scalesim.demo.bench import SCENES
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.ranking import DEFAULT_BY
from scalesim.jobs.demo.steps import demo_chains, draw_scene
from scalesim.jobs.predict.predict import predict
from scalesim.metrics import METRICS

TWELVE = (
    "drop-720p",
    "average-then-drop",
    "average",
    "blend",
    "interlaced",
    "interlaced-filtered",
    "interlaced-paired",
    "one-set-down",
    "one-set-up",
    "one-set-paired-down",
    "squeeze",
    "letterbox",
)


def kettle() -> Clip:
    """The drawn 720p frame with the densest outlines, as a fresh clip that remembers nothing."""
    scene = next(scene for scene in SCENES if scene.key == "kettle_crew")
    return still_clip(draw_scene(scene), mode=scene.mode, name=scene.key)


def test_each_metric() -> None:
    """No metric takes over 40 ms at 240x1280 beyond predicting, when the frame is known already.

    The reference is predicting without any metric; what several metrics share counts for each.
    """
    clip = kettle()
    chain = "line-average lines=240, quantise"
    predict(clip, chain)
    bare = best_ms(lambda: predict(clip, chain, metrics=[]))
    first_of = {id(entry): name for name, entry in reversed(METRICS.items())}
    rows = []
    for name in first_of.values():
        cost = best_ms(lambda name=name: predict(clip, chain, metrics=[name]), 5)
        rows.append((f"{name} at 240x1280 (ref: no metric), ms", cost, bare, f"{cost - bare:.1f} ms its own"))
    report("metrics", sorted(rows, key=lambda row: -row[1]))


def test_twelve_chains() -> None:
    """Twelve chains over three frames: the time is that of the metrics and the scaling, not of the table."""
    chains = {key: demo_chains()[key] for key in TWELVE}
    clips = [kettle() for _ in range(3)]
    begin = time.perf_counter()
    table = compare(chains, clips, by=DEFAULT_BY)
    whole = 1e3 * (time.perf_counter() - begin)
    assert not table.failed
    begin = time.perf_counter()
    for clip in (kettle() for _ in range(3)):
        for chain in chains.values():
            predict(clip, chain)
    alone = 1e3 * (time.perf_counter() - begin)
    report(
        "compare", [("12 chains x 3 frames of 720p (ref: predictions alone), ms", whole, alone, "<= 1.25")]
    )
    assert whole <= 1.25 * alone
