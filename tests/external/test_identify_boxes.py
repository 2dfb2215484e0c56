"""`identify` on some black boxes of OpenCV, Pillow and FFmpeg, captured badly.

Sources and how the truth is got: `benchmarks/box_steps.py` (each library call is probed with impulses on a
pedestal). The larger set, with every kind of capture, is `benchmarks/bench_identify.py`.
"""

from __future__ import annotations

import pytest
from box_judge import Found, judge
from box_trial import played, tried
from boxes import foreign_box, random_box
from capture_paths import capture

CASES = [
    *(("drop", "crf23", 41), ("box", "mjpeg5", 42), ("blend", "crf23", 43), ("triangle", "clean", 44)),
    *(("cubic", "crf23", 45), ("lanczos3", "mjpeg5", 46), ("series", "clean", 47)),
    *(("interlaced", "crf23", 48), ("fieldwise", "mjpeg5", 49)),
]


@pytest.mark.parametrize(("kind", "path", "seed"), CASES)
def test_a_box_is_known_by_its_capture(kind: str, path: str, seed: int) -> None:
    """Operator within L1 0.10, lines within 0.05 of a source line, fields, name, chain and encoding right."""
    verdict = tried(random_box(seed, kind), path, seed)
    assert verdict.l1 < 0.10 and verdict.phase < 0.05, verdict
    assert verdict.relation and verdict.name and verdict.encoding is not False, verdict
    assert verdict.chain is not False, verdict


@pytest.mark.parametrize("seed", [61, 64])
def test_a_kernel_nobody_named_is_called_unknown(seed: int) -> None:
    """A name would be a lie; the measured operator is still near the truth."""
    verdict = tried(foreign_box(seed), "clean", seed)
    assert verdict.flagged and verdict.l1 < 0.25, verdict


def test_another_box_is_not_taken_for_this_one() -> None:
    """Guard: the truth of a box does not pass for that of its neighbour."""
    one, other = random_box(44, "triangle"), random_box(44, "box")
    taken = capture(one.apply(played(one.mode)), "clean", 44, fields=one.relation != "progressive")
    answer = Found(other.truth, other.truth, (other.method,), False, other.relation, other.encoding, 1.0)
    verdict = judge(one, taken, answer)
    assert not verdict.right and not verdict.name
