"""The black boxes' truth is right: by closed forms, by applying it, and by what captures must leave alone.

Sources: closed forms of line choice, area mean, hat, cubic convolution (Keys, IEEE Trans. ASSP-29, 1981,
a = -1/2) and three-lobed Lanczos kernels, worked out here; FFmpeg's vf_tinterlace.c for its two low-passes.
"""

from __future__ import annotations

import box_steps as use
import cv2
import numpy as np
import pytest
from box_judge import Found, judge, line_errors
from box_kinds import ROUND
from box_steps import Matrix, Step, probed
from boxes import Box, foreign_box, random_box
from capture_paths import PATHS, capture
from PIL.Image import Resampling

LINES = 60
SMOOTH = ("hat", "cubic", "lanczos3")


def spans(count: int, pitch: float, top: float) -> np.ndarray:
    """Return the first edge of every output line's span."""
    return np.arange(count) * pitch + top


def area(count: int, pitch: float, top: float) -> Matrix:
    """Overlap of each span with each source line, over the span."""
    first = spans(count, pitch, top)[:, None]
    lines = np.arange(LINES)[None]
    return np.clip(np.minimum(first + pitch, lines + 1) - np.maximum(first, lines), 0, None) / pitch


def kernel(name: str, count: int, pitch: float, top: float, wide: float) -> Matrix:
    """A kernel centred on each span's middle, `wide` times widened, its taps summing to one."""
    centre = spans(count, pitch, top)[:, None] + pitch / 2
    t = np.abs(np.arange(LINES)[None] + 0.5 - centre) / wide
    keys = np.where(t < 1, 1.5 * t**3 - 2.5 * t**2 + 1, -0.5 * t**3 + 2.5 * t**2 - 4 * t + 2)
    shapes = {
        "hat": np.clip(1 - t, 0, None),
        "cubic": np.where(t < 2, keys, 0),
        "lanczos3": np.where(t < 3, np.sinc(t) * np.sinc(t / 3), 0),
    }
    taps = shapes[name]
    return taps / taps.sum(axis=1, keepdims=True)


CLOSED: dict[str, tuple[Step, Matrix, float]] = {
    "INTER_AREA at 3.75": (use.opencv(16, cv2.INTER_AREA), area(16, 3.75, 0), 1e-5),
    "area from 1.25": (use.opencv_area_at(14, 5, 4 * 42, 4), area(14, 3.0, 1.25), 1e-5),
    "INTER_LINEAR at 2.5": (use.opencv(24, cv2.INTER_LINEAR), kernel("hat", 24, 2.5, 0, 1), 1e-5),
    "warped linear": (
        use.opencv_at(12, 4.5, 0.3 + 2.25 - 0.5, cv2.INTER_LINEAR),
        kernel("hat", 12, 4.5, 0.3, 1),
        0.04,  # OpenCV's positions are whole 32nds of a line
    ),
    "BILINEAR": (use.pillow(16, Resampling.BILINEAR, 0.7, 48), kernel("hat", 16, 3, 0.7, 3), 1e-5),
    "BICUBIC": (
        use.pillow(14, Resampling.BICUBIC, 4.2, 45),
        kernel("cubic", 14, 45 / 14, 4.2, 45 / 14),
        1e-5,
    ),
    "LANCZOS": (use.pillow(16, Resampling.LANCZOS, 5.4, 48), kernel("lanczos3", 16, 3, 5.4, 3), 1e-5),
    "FFmpeg bilinear": (use.ffmpeg_scale(20, "bilinear"), kernel("hat", 20, 3, 0, 3), 0.01),
    "FFmpeg lanczos": (use.ffmpeg_scale(20, "lanczos"), kernel("lanczos3", 20, 3, 0, 3), 0.04),
    "FFmpeg area": (use.ffmpeg_scale(16, "area"), area(16, 3.75, 0), 0.03),
}


@pytest.mark.parametrize("name", list(CLOSED))
def test_probed_operator_is_the_closed_form(name: str) -> None:
    """Each line's taps away from the borders, as the L1 the judge uses."""
    step, closed, tolerance = CLOSED[name]
    found = probed(step, LINES)
    inner = slice(4, -4)
    assert np.abs(found - closed).sum(axis=1)[inner].max() < tolerance
    assert np.abs(np.roll(found, 1, axis=1) - closed).sum(axis=1)[inner].min() > 0.15, (
        "one line off is far off"
    )


@pytest.mark.parametrize("lines_in", [720, 1080])
def test_chosen_lines(lines_in: int) -> None:
    """Nearest of each library: the span's first line, or the one of its middle."""
    pitch = lines_in / 240
    first, middle = np.floor(spans(240, pitch, 0)), np.floor(spans(240, pitch, pitch / 2))
    expected = [
        (use.opencv(240, cv2.INTER_NEAREST), first),
        (use.opencv(240, cv2.INTER_NEAREST_EXACT), middle),
        (use.pillow(240, Resampling.NEAREST, 0, lines_in), middle),
        (use.ffmpeg_scale(240, "neighbor"), middle),
        (use.opencv_at(240, pitch, 1.3 - 0.5, cv2.INTER_NEAREST), np.floor(spans(240, pitch, 1.3))),
    ]
    for step, lines in expected:
        found = probed(step, lines_in)
        assert np.allclose(found, np.arange(lines_in)[None] == lines[:, None], atol=1e-4), step.name


def test_ffmpeg_low_passes() -> None:
    """Their taps from vf_tinterlace.c; of the clamped one the linear part."""
    for graph, weights in {
        "interlace=scan=tff:lowpass=off": [1],
        "interlace=scan=tff:lowpass=linear": [0.25, 0.5, 0.25],
        "tinterlace=mode=interleave_top:flags=vlpf": [0.25, 0.5, 0.25],
        "interlace=scan=tff:lowpass=complex": [-0.125, 0.25, 0.75, 0.25, -0.125],
    }.items():
        found = probed(use.ffmpeg_interlace(graph), 24)
        assert np.allclose(found[12, 12 - len(weights) // 2 : 13 + len(weights) // 2], weights, atol=1e-3), (
            graph
        )


def noise(box: Box) -> np.ndarray:
    """Return a rough picture of a box's mode, narrow, 8 bits."""
    rough = np.random.RandomState(1).randint(60, 190, (box.geometry.lines_in, 96, 1)).astype(np.uint8)
    return np.repeat(rough, 3, axis=2)


def split(box: Box, frame: np.ndarray) -> list[np.ndarray]:
    """Return the fields of an output frame."""
    return [frame] if box.relation == "progressive" else [frame[0::2], frame[1::2]]


@pytest.mark.parametrize("seed", [*range(len(ROUND)), *range(100, 108)])
def test_applying_a_box_is_its_truth(seed: int) -> None:
    """Truth times the picture's lines is what the box gives, to its own rounding; the next line's is not."""
    box = random_box(seed, light=False) if seed < 100 else foreign_box(seed)
    if box.clamped or box.light:
        box = random_box(seed + 200, "blend", light=seed % 2 == 0)
    picture = noise(box)
    source = picture[..., 0] / 255.0
    source = source**2.4 if box.light else source
    for number, field in enumerate(split(box, box.apply(picture)[..., 0])):
        given = np.clip(box.truth[number] @ source, 0, 1)
        given = given ** (1 / 2.4) if box.light else given
        off = 255 * np.abs(given - field)[box.inner(number)]
        assert off.max() < (2.1 if box.bits8 else 0.2)
        assert 255 * np.abs(given[1:] - field[:-1]).mean() > 5


@pytest.mark.parametrize("kind", ["interlaced", "fieldwise", "paired", "box"])
def test_fields_lie_where_the_relation_says(kind: str) -> None:
    """Half a field line apart, or on the same lines."""
    for seed in range(3):
        box = random_box(seed, kind)
        if box.relation == "progressive":
            assert len(box.truth) == 1
            continue
        inner = box.inner(0) & box.inner(1)
        top, bottom = (truth[inner] @ np.arange(truth.shape[1]) for truth in box.truth)
        pitch = box.geometry.window / box.geometry.lines
        expected = {"half-line": pitch / 2, "same": 0.0}[box.relation]
        drops = any("drop" in stage for stage in box.stages)
        # a drop has only whole lines to choose from; windows of the area mean begin on quarters
        assert abs((bottom - top).mean() - expected) <= (0.51 if drops else 0.13)
        assert inner.sum() > 200


def test_light_and_code_give_different_pictures() -> None:
    """Guard: the encoding matters, except for a drop, which says so."""
    boxes = [random_box(3, "triangle", light=light) for light in (False, True)]
    dark, bright = (box.apply(noise(box))[..., 0] for box in boxes)
    assert [box.encoding for box in boxes] == ["code", "light"]
    assert (bright - dark).mean() > 0.01
    assert random_box(3, "drop", light=True).encoding == "undecidable"


def test_foreign_kernels_are_far_from_the_usual_ones() -> None:
    """No named kernel at any position is within L1 0.15, so flagging them is a fair demand."""
    count, pitch = 18, 3.0
    tops = np.arange(-1.5, 1.51, 0.25)
    usual = [area(count, pitch, t) for t in tops]
    usual += [
        kernel(k, count, pitch, t, w) for k in ("hat", "cubic", "lanczos3") for t in tops for w in (1, pitch)
    ]
    drop, box = use.rows(1, 3), use.opencv(20, cv2.INTER_AREA)
    eye = np.eye(LINES)
    for steps in (
        [use.taps(use.hann(10)), drop],
        [use.gaussian(0.65 * pitch), drop],
        [box, use.taps([1, 2, 1])],
        [box, use.taps([-1, 5, -1])],
        [use.taps([1, 0, 0, 3, 5, 4]), drop],
    ):
        found = eye
        for step in steps:
            found = probed(step, len(found)) @ found
        assert min(np.abs(found[6:12] - other[6:12]).sum(axis=1).mean() for other in usual) > 0.15, steps[
            0
        ].name


def test_the_same_seed_is_the_same_box_and_capture() -> None:
    """Reproducible, and another seed differs."""
    box = random_box(5)
    one, again, other = (capture(box.apply(noise(box)), "mjpeg12-one", s, fields=True) for s in (1, 1, 2))
    assert np.array_equal(one.frames, again.frames) and one.setting == again.setting
    assert not np.array_equal(one.frames, other.frames)


@pytest.mark.parametrize("kind", [k for k in PATHS if k != "hum"])
@pytest.mark.parametrize("fields", [True, False])
def test_a_capture_moves_whole_lines_and_mixes_none(kind: str, fields: bool) -> None:
    """A white band lands where the setting says, at the grey its tone says, and sharp above and below."""
    lines = 96 if fields else 48
    band = np.zeros((lines, 320, 3), np.float32)
    band[lines // 2 : lines // 2 + 8] = 0.6
    taken = capture(band, kind, 4, fields=fields)
    profile = taken.frames[0][:, 200:500, 1].mean(axis=1)
    setting = taken.setting
    top = lines // 2 + setting.lines
    level = min(setting.black + setting.gain * 0.6**setting.gamma, 1)
    loose = 0.06 if PATHS[kind].quality > 20 else 0.02
    assert not fields or setting.lines % 2 == 0
    assert abs(np.median(profile[top : top + 8]) - level) < loose
    assert abs(np.median(profile[: top - 8]) - max(setting.black, 0)) < loose
    # the step is whole: no line of the band is grey
    assert abs(profile[top - 1] - max(setting.black, 0)) < 3 * loose
    assert abs(profile[top] - level) < (0.4 if "dips" in kind else 3 * loose)


def test_worse_codecs_are_worse() -> None:
    """Guard: the paths differ in the order the targets assume."""
    box = random_box(2)
    output = box.apply(noise(box).repeat(4, axis=1))
    frames = [capture(output, k, 1, fields=False).frames[0] for k in ("clean", "crf23", "crf30", "crf36")]
    errors = [float(np.abs(frame - frames[0]).mean()) for frame in frames]
    assert errors == sorted(errors) and errors[1] > 0.003 and errors[3] > 1.5 * errors[1]


def found_as(box: Box, operators: list[Matrix], **said: object) -> Found:
    """Return an answer that is right but for what is given."""
    words = {
        "named": operators,
        "methods": (box.method,),
        "unknown": False,
        "relation": box.relation,
        "encoding": box.encoding,
        "confidence": 1.0,
        **said,
    }
    return Found(operators, **words)  # type: ignore[arg-type]


def test_the_judge_takes_the_truth_and_nothing_else() -> None:
    """The truth on the captured lines scores 0; moved a line, a wrong word or a blurred kernel do not."""
    box = random_box(2, "box", light=False)
    taken = capture(box.apply(noise(box)), "cropped", 3, fields=box.relation != "progressive")
    lines = len(taken.frames[0]) // len(box.truth)
    down = taken.field_lines(box.relation)
    right = []
    for truth in box.truth:
        rows = np.zeros((lines, truth.shape[1]))
        at = np.arange(len(truth)) + down
        there = (at >= 0) & (at < lines)
        rows[at[there]] = truth[there]
        right.append(rows)
    best = judge(box, taken, found_as(box, right))
    assert best.right and best.l1 == 0 and best.phase == 0 and best.relation and best.name and best.encoding
    moved = judge(box, taken, found_as(box, [np.vstack([r[:1], r[:-1]]) for r in right]))
    assert not moved.right and moved.sure_and_wrong
    assert abs(moved.phase - box.geometry.window / box.geometry.lines) < 0.1
    blurred = [(np.roll(r, 1, axis=1) + r) / 2 for r in right]
    assert line_errors(box, taken, blurred)[0] > 0.2
    assert not judge(box, taken, found_as(box, right, relation="half-line")).relation
    assert not judge(box, taken, found_as(box, right, encoding="light")).encoding
    assert not judge(box, taken, found_as(box, right, unknown=True)).name
    other = [np.roll(r, 1, axis=1) for r in right]
    assert judge(box, taken, found_as(box, right, named=other)).chain is False
    assert line_errors(box, taken, None)[0] == 2
