"""Where a study's frame spends its time, part by part. Run: pytest -s tests/benchmarks/bench_study_parts.py

In one process, of the demonstration's 1080 lines as a 1080p60 clip in H.264; milliseconds of processor
time: the quietest quarter of the frames, as other work on the machine makes the rest dearer. What a metric
finds first (the strips of the source, luma on the screen, outlines) is told with the metric that asks for
it first, in the ranking's order. The first chain of a frame, and one more chain, half a line away from it,
that is given what the first found of the source.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from fractions import Fraction
from pathlib import Path

import numpy as np
from timing import OUTPUT, plot, report

from scalesim.chain import Chain
from scalesim.demo.bench import SCENES
from scalesim.io.clips.write import write_clip
from scalesim.io.footage import footage
from scalesim.jobs.compare.ranking import DEFAULT_BY
from scalesim.jobs.predict.predict import predict
from scalesim.metrics import METRICS

FRAMES, RATE = 60, 60
CHAINS = {
    "average to 240": "line-average lines=240",
    "480i": "line-average lines=480, flicker-filter, interlace",
}
MOVED = {name: text.replace("line-average", "line-average phase=0.5") for name, text in CHAINS.items()}
"""One more chain: the lines that it mixes are none that the first one mixed."""
Spent = dict[str, list[float]]


@contextmanager
def counted(spent: Spent, part: str) -> Iterator[None]:
    """Note the processor time of a part, ms."""
    begun = time.process_time()
    yield
    spent.setdefault(part, []).append(1e3 * (time.process_time() - begun))


def quiet(found: list[float]) -> float:
    """Return the mean of the quarter that took least."""
    return float(np.mean(np.sort(found)[: max(1, len(found) // 4)]))


def test_parts(tmp_path: Path) -> None:
    frame = next(scene for scene in SCENES if scene.draw().shape[0] == 1080).draw()
    path = tmp_path / "in.mp4"
    write_clip(path, (np.roll(frame, 4 * k, axis=1) for k in range(FRAMES)), Fraction(RATE))
    taken = footage(path, every="1")
    rows = []
    for name, text in CHAINS.items():
        chains, spent = {"": Chain(text), ", one more chain": Chain(MOVED[name])}, {}
        stills = taken.part(taken.frames).stills()
        for _ in range(FRAMES):
            with counted(spent, "decode"):
                _, still = next(stills)
            still.found["looks woven"] = False  # as a study has it
            for turn, chain in chains.items():
                measure_parts(spent, turn, lambda still=still, chain=chain: predict(still, chain, metrics=()))
        parts = {part: quiet(found) for part, found in spent.items()}
        parts["decode"] = float(np.mean(spent["decode"]))  # which comes in bursts
        first = sum(cost for part, cost in parts.items() if "more" not in part)
        rows += [(f"{name}: {part}, ms", cost, first, "") for part, cost in parts.items()]
        rows.append((f"{name}: all of the first chain, ms", first, first, ""))
        assert parts["decode"] < first / 2  # the metrics are the bottleneck where every frame is taken
    report("study-parts", rows)
    plot("study-parts", "A frame of a study, by part", rows)
    assert (OUTPUT / "study-parts.txt").is_file()


def measure_parts(spent: Spent, turn: str, make: Callable) -> None:
    """Note what the chain and each metric of the ranking take; false detail comes with what is kept."""
    with counted(spent, f"chain{turn}"):
        evidence = make().evidence()
    for name in DEFAULT_BY:
        if name != "false_detail":
            with counted(spent, f"{name}{turn}"):
                METRICS[name].measure(evidence)
