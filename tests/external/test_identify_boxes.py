"""`identify` on some black boxes of OpenCV, Pillow and FFmpeg, captured badly.

Sources and how the truth is got: `benchmarks/box_steps.py` (each library call is probed with impulses on a
pedestal). The larger set, with every kind of capture, is `benchmarks/bench_identify.py`.
"""

from __future__ import annotations

import box_steps as use
import cv2
import numpy as np
import pytest
from box_judge import Found, judge
from box_trial import played, tried
from boxes import foreign_box, random_box
from capture_paths import capture

from scalesim.chain import Chain
from scalesim.jobs.identify.identify import identify

CASES = [
    *(("drop", "crf23", 41), ("triangle", "clean", 44), ("lanczos3", "mjpeg5", 46)),
    *(("interlaced", "crf23", 48), ("fieldwise", "mjpeg5", 49)),
]
MORE = [
    *(("box", "mjpeg5", 42), ("blend", "crf23", 43), ("cubic", "crf23", 45), ("series", "clean", 47)),
]


@pytest.mark.parametrize(
    ("kind", "path", "seed"), [*CASES, *(pytest.param(*case, marks=pytest.mark.slow) for case in MORE)]
)
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


@pytest.mark.parametrize("seed", [71, 72, 73])
def test_an_area_mean_through_a_codec_keeps_its_name(seed: int) -> None:
    """OpenCV's area mean of 720 to 480 lines, as fields, H.264 crf 23: no blend at two different phases."""
    made = cv2.resize(played("720p60"), (1280, 480), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    result = identify(capture(made, "crf23", seed, fields=True).frames, "720p60")
    assert result.methods[0].startswith("line-average"), result.methods
    phase = Chain(result.chain).stages[0].phase
    assert result.chain.endswith(", interlace") and abs(phase / 1.5 - round(phase / 1.5)) < 0.02


def test_a_filter_that_clips_is_named_with_a_note_or_not_at_all() -> None:
    """FFmpeg's complex low-pass holds its result: no chain of fixed weights is printed for it."""
    low_pass = use.ffmpeg_interlace("interlace=scan=tff:lowpass=complex")
    small = cv2.resize(played("720p60"), (1280, 480), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    made = np.repeat(low_pass.run(np.ascontiguousarray(small[..., 0]))[..., None], 3, axis=2)
    result = identify(capture(made, "clean", 5, fields=True).frames, "720p60")
    assert result.undecided and result.chain.startswith("measured ")
    assert not result.methods or any("past its own value" in note for note in result.notes)


def test_swapped_fields_of_a_box() -> None:
    """A woven capture with its fields exchanged, among others by a codec."""
    seed = next(s for s in range(48, 90) if random_box(s, "interlaced").relation == "half-line")
    verdict = tried(random_box(seed, "interlaced"), "swapped", seed)
    assert verdict.relation and verdict.right and verdict.chain is not False, verdict


def test_another_box_is_not_taken_for_this_one() -> None:
    """Guard: the truth of a box does not pass for that of its neighbour."""
    one, other = random_box(44, "triangle"), random_box(44, "box")
    taken = capture(one.apply(played(one.mode)), "clean", 44, fields=one.relation != "progressive")
    answer = Found(other.truth, other.truth, (other.method,), False, other.relation, other.encoding, 1.0)
    verdict = judge(one, taken, answer)
    assert not verdict.right and not verdict.name
