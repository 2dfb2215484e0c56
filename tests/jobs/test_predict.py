"""The predict job: what it returns, what it refuses, and that it says why."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest
from greatest import Greatest

import scalesim as ss
from scalesim.chain import Chain
from scalesim.chain.coverage import coverage, sparse_coverage
from scalesim.chain.resolve import resolve
from scalesim.core.clip import still_clip
from scalesim.errors import ParameterError, ShapeError
from scalesim.jobs.predict.predict import predict
from scalesim.metrics import METRICS
from scalesim.stages.level import Quantise


@pytest.fixture(scope="module")
def frame() -> np.ndarray:
    """A 720p frame with blocks, float32."""
    rng = np.random.RandomState(4)
    return np.kron(rng.rand(36, 64, 3), np.ones((20, 20, 1))).astype(np.float32)


def test_progressive(frame: np.ndarray) -> None:
    """720p60 through averaging and dropping comes out as 240p with every metric or a reason."""
    seen = predict(frame, "line-average lines=480, quantise, line-drop lines=240 phase=1")
    document = seen.to_dict()
    assert (document["mode_in"], document["mode_out"]) == ("720p60", "240p")
    assert (document["lines"], document["frame_lines"], document["samples"]) == (240, 240, 1280)
    assert document["fields"] == [{"parity": 0, "landing": 0.0}]
    assert set(document["metrics"]) == set(METRICS)
    assert {k for k, v in document["metrics"].items() if v is None} == set(document["why"])
    assert list(seen.pictures) == ["raster", "seen"]
    json.dumps(document, allow_nan=False)


def test_interlaced_and_field_only(frame: np.ndarray) -> None:
    """Fields, landings and pictures of 480i, and of both fields on one set of lines."""
    interlaced = predict(frame, "line-average lines=480, interlace", metrics=[])
    assert interlaced.to_dict()["fields"] == [{"parity": 0, "landing": 0.0}, {"parity": 1, "landing": 0.5}]
    assert interlaced.mode_out == "480i"
    assert list(interlaced.pictures) == ["raster", "field-top", "field-bottom", "woven", "seen"]
    assert np.array_equal(interlaced.woven[0::2], interlaced.pictures["field-top"])
    assert np.array_equal(interlaced.woven[1::2], interlaced.pictures["field-bottom"])
    up = predict(frame, "line-average lines=480, interlace, field-only pair=up", metrics=[])
    assert [f["landing"] for f in up.to_dict()["fields"]] == [0, 1]
    assert up.landed.shape == (240, 1280, 3)
    assert up.mode_out == "240p", "the sync of fields on one set of lines is that of 240p"


def test_bottom_first_lists_fields_in_time(frame: np.ndarray) -> None:
    """With first=bottom the bottom field is the first of the list and of the cycle."""
    seen = predict(frame, "interlace first=bottom", metrics=[])
    assert [f["parity"] for f in seen.to_dict()["fields"]] == [1, 0]
    assert np.array_equal(seen.woven, frame)


@pytest.mark.parametrize(
    "scaler", ["line-average lines=240", "resample lines=240", "resample lines=240 kernel=lanczos3"]
)
def test_the_still_of_1080i_lines_up_in_both_fields(scaler: str) -> None:
    """1080i to 240 lines a field: both fields show the source in one place, within 1e-6 line.

    On a vertical ramp the value of a line tells where on the source it looks. Weights on whole lines
    make single lines deviate by up to 0.05 line (in any scaler); the deviations repeat every four lines
    (nine source lines), so places are compared as means over that period.
    """
    assert abs(fields_apart(scaler)) < 1e-6
    assert abs(fields_apart(scaler + " fields=naive")) > 0.2


def fields_apart(scaler: str) -> float:
    """Return how far the two fields disagree about the source's place, in output field lines."""
    ramp = np.arange(1080, dtype=np.float64)[:, None, None] / 1079 * np.ones((1, 16, 3))
    top, bottom = predict(ramp, scaler, mode="1080i60", metrics=[]).cycle
    source_lines = [field[40:200, 0, 0].mean() * 1079 for field in (top, bottom)]
    # on the screen the bottom field lies half a field line, 4.5 / 2 source frame lines, lower
    return float((source_lines[1] - source_lines[0] - 2.25) / 4.5)


def test_shift_before_and_after_interlacing_differ(frame: np.ndarray) -> None:
    """One frame line before changes the pairs; one field line after moves whole fields by two."""
    before = predict(frame, "line-average lines=480, position lines=2, interlace", metrics=[])
    after = predict(frame, "line-average lines=480, interlace, position lines=1", metrics=[])
    assert np.allclose(before.woven, after.woven, atol=1e-6)
    odd = predict(frame, "line-average lines=480, position lines=1, interlace", metrics=[])
    assert not np.allclose(odd.cycle[0][1:], after.cycle[0][1:], atol=1e-3)


def test_coverage_is_what_the_chain_does_to_a_ramp(frame: np.ndarray) -> None:
    """The weights of the linear part give the landed picture of a chain without point stages."""
    for text, mode, lines in (
        ("line-average lines=480, interlace", None, 720),
        ("line-average lines=480, flicker-filter, interlace, field-only pair=up", None, 720),
        ("line-average lines=240", "1080i60", 1080),
    ):
        source = np.random.RandomState(8).rand(lines, 8, 3) * 0.001 + 0.5
        seen = predict(source, text, mode=mode or "custom", metrics=[])
        weights = coverage(seen.resolved)
        assert weights is not None
        expected = np.tensordot(weights, source, 1)
        assert np.abs(expected[1:] - seen.landed[1:]).max() < 1e-6
    joined = predict(np.zeros((480, 720, 3), np.float32), "deinterlace", mode="480i", metrics=[])
    assert coverage(joined.resolved) is None


@pytest.mark.parametrize("mode", ["1080i60", "custom"])
def test_lines_mixed_in_no_fixed_weights_are_unknown_and_said_so(mode: str) -> None:
    """The greatest line of a span changes the size, lands both fields, and has no matrix to guess."""
    source = np.random.RandomState(8).rand(1080, 64, 3).astype(np.float32)
    stages = (Greatest(lines=240), Quantise(bits=8))
    seen = predict(source, stages, mode=mode)
    interlaced = mode == "1080i60"
    assert seen.landed.shape == (480 if interlaced else 240, 64, 3)
    assert coverage(seen.resolved) is None
    for key in ("lost_lines", "line_doubling"):
        assert seen.metrics[key] is None
        assert seen.why[key] == (
            "greatest: mixes lines by what they hold, not in fixed weights, so the chain is no single matrix"
        )
    assert seen.metrics["psnr_db"] is not None and seen.metrics["cropped_percent"] == 0
    with pytest.raises(ParameterError, match="ask for the operator of the other stages"):
        seen.chain.operator(seen.source.raster)


def test_colour_differences_and_values_leave_the_weights_as_they_are() -> None:
    """Chroma and rounding move no line: the weights are those of the chain without them."""
    raster = still_clip(np.zeros((480, 720, 3), np.float32)).raster
    weights = coverage(Chain("line-average lines=240").resolve(raster))
    assert weights is not None
    for text in (
        "chroma sampling=420, line-average lines=240",
        "line-average lines=240, quantise bits=5, level",
    ):
        assert np.array_equal(coverage(Chain(text).resolve(raster)), weights)


def test_a_stage_of_the_wrong_size_is_told_in_one_line() -> None:
    frame = np.zeros((720, 1280, 3), np.float32)
    message = r"^greatest: gave \(240, 1280, 3\) float32; it must give \(241, 1280, 3\) float32, [^\n]*$"
    with pytest.raises(ShapeError, match=message):
        predict(frame, Greatest(lines=240, spoil="raster"))


def test_writing_into_a_result_leaves_the_source_alone() -> None:
    frame = np.full((480, 720, 3), 0.5, np.float32)
    seen = predict(frame, "overscan percent=4", metrics=[])
    seen.cycle[0][:] = 0
    seen.landed[:] = 0
    assert (frame == 0.5).all()


def test_a_bob_gives_two_pictures_and_says_so() -> None:
    """480i bobbed to frames: a progressive raster whose pictures alternate."""
    source = np.random.RandomState(8).rand(480, 720, 3).astype(np.float32)
    seen = predict(source, "deinterlace how=bob, line-drop lines=240", mode="480i")
    assert (seen.raster.period, len(seen.cycle)) == (1, 2)
    assert seen.metrics["flicker_percent"] > 0
    assert any("Two different pictures" in sentence for sentence in seen.sentences())


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_values_must_be_finite(frame: np.ndarray, value: float) -> None:
    """NaN or infinity in the source is refused by name."""
    bad = frame.copy()
    bad[3, 4, 1] = value
    with pytest.raises(ShapeError, match="NaN or infinite"):
        predict(bad, "line-drop lines=240")


@pytest.mark.parametrize(
    "bad",
    [
        np.zeros((720, 1280)),
        np.zeros((720, 1280, 4)),
        np.zeros((0, 1280, 3)),
        np.zeros((720, 1280, 3), np.uint8),
        "frame.png",
        None,
        [[1, 2, 3]],
    ],
    ids=["grey", "four channels", "empty", "uint8", "text", "None", "list"],
)
def test_sources_of_the_wrong_kind(bad: object) -> None:
    """Anything but (lines, samples, 3) floats is refused with its shape or dtype."""
    with pytest.raises(ShapeError, match=r"shape is|dtype is"):
        predict(bad, "line-drop lines=240")


def test_values_beyond_white_are_kept_until_written(frame: np.ndarray) -> None:
    """Out-of-range code values pass linear stages unclipped."""
    seen = predict(frame * 1.2 - 0.1, "line-drop lines=240 phase=1", metrics=[])
    assert np.array_equal(seen.woven, (frame * 1.2 - 0.1)[1::3])


def test_unknown_names_are_refused(frame: np.ndarray) -> None:
    """Metrics, modes and tubes name the nearest valid one."""
    with pytest.raises(ParameterError, match="did you mean 'ssim'"):
        predict(frame, "line-drop lines=240", metrics=["sim"])
    with pytest.raises(ParameterError, match="did you mean"):
        predict(frame, "line-drop lines=240", mode="720q60")
    with pytest.raises(ParameterError, match="tube"):
        predict(frame, "line-drop lines=240", tube="5:4")
    with pytest.raises(ParameterError, match="the picture has 720 lines; this mode has 1080"):
        predict(frame, "line-drop lines=240", mode="1080p60")


def test_one_by_one_picture() -> None:
    """The smallest picture goes through; what cannot be measured is null with a reason."""
    seen = predict(np.full((1, 1, 3), 0.5, np.float32), "line-repeat times=4")
    assert seen.woven.shape == (4, 1, 3)
    assert seen.metrics["ssim"] is None
    assert "11" in seen.why["ssim"]


def test_the_public_names(frame: np.ndarray) -> None:
    """What a notebook user writes."""
    seen = ss.predict(frame, ss.Chain("line-average lines=240"), mode="720p60")
    assert seen.metrics["cropped_percent"] == pytest.approx(0)
    assert seen.landed.shape == (240, 1280, 3)


def test_chains_of_every_kind(frame: np.ndarray) -> None:
    """A stage, or several in a list, stand for a chain; anything else is named."""
    text = predict(frame, "line-drop lines=240 phase=1", metrics=[]).woven
    stage = ss.LineDrop(lines=240, phase=1)
    assert np.array_equal(predict(frame, stage, metrics=[]).woven, text)
    assert np.array_equal(predict(frame, [stage], metrics=[]).woven, text)
    for bad in (None, 5, {}):
        with pytest.raises(ParameterError, match="chain is"):
            predict(frame, bad)
    with pytest.raises(ParameterError, match="metrics is 5"):
        predict(frame, stage, metrics=5)
    assert list(predict(frame, stage, metrics="ssim, psnr_db").metrics) == ["ssim", "psnr_db"]
    for bad in (["4:3"], 5, None):
        with pytest.raises(ParameterError, match="tube"):
            predict(frame, stage, tube=bad)
    with pytest.raises(ParameterError, match="mode"):
        predict(frame, stage, mode=5)


def test_codes_that_nobody_divided(frame: np.ndarray) -> None:
    """0…255 as floats is refused with the remedy; another byte order is not."""
    with pytest.raises(ShapeError, match="divide 8-bit codes by 255"):
        predict(frame * 255, "line-drop lines=240")
    swapped = predict(frame.astype(">f4"), "line-drop lines=240", metrics=[])
    assert np.array_equal(swapped.woven, predict(frame, "line-drop lines=240", metrics=[]).woven)


def test_seen_leaves_no_sample_out() -> None:
    """1920 samples on 240 lines: six dots to a line give 1920 dots across, so every column is there."""
    comb = np.zeros((1080, 1920, 3), np.float32)
    comb[:, 1::3] = 1
    seen = predict(comb, "line-average lines=240", metrics=[]).seen
    assert seen.shape == (1440, 1920, 3)
    assert seen.mean() == pytest.approx(1 / 3)


def test_two_lines_cannot_flicker_by_this_measure() -> None:
    """Fields of a single line have a reason, not a crash."""
    seen = predict(np.full((2, 20, 3), 0.5, np.float32), "interlace")
    assert seen.metrics["flicker_percent"] is None
    assert "too few lines" in seen.why["flicker_percent"]


def test_a_chain_is_resolved_once(frame: np.ndarray, monkeypatch: pytest.MonkeyPatch) -> None:
    """Running, weights and geometry come from one resolving, and the weights wait until a metric asks."""
    counted: dict[str, int] = {}

    def counting(name: str, call: Callable) -> Callable:
        def counted_call(*given: object, **named: object) -> object:
            counted[name] = counted.get(name, 0) + 1
            return call(*given, **named)

        return counted_call

    monkeypatch.setattr("scalesim.chain.chain.resolve", counting("resolve", resolve))
    monkeypatch.setattr(
        "scalesim.jobs.predict.prediction.sparse_coverage", counting("coverage", sparse_coverage)
    )
    text = "line-average lines=480, quantise, interlace"
    predict(frame, text, metrics=["flicker_percent", "psnr_db"])
    assert counted == {"resolve": 1}
    counted.clear()
    lined = np.full_like(frame, 0.2)
    lined[90:630:30] = lined[91:630:30] = 0.9
    assert predict(lined, text).metrics["line_doubling"] is not None
    assert counted == {"resolve": 1, "coverage": 1}
    counted.clear()
    clip = ss.still_clip(frame)
    known = Chain(text).resolve(clip.raster)
    counted.clear()
    assert np.array_equal(predict(clip, text, metrics=[], resolved=known).woven, predict(clip, text).woven)
    assert counted["resolve"] == 1
    with pytest.raises(ShapeError, match="plan the chain for the picture's own raster"):
        predict(ss.still_clip(frame[:480]), text, resolved=known)


@pytest.mark.parametrize("mode", ["1080p60", "1080i60"])
def test_pictures_made_later_are_those_of_the_frame_as_it_was(mode: str) -> None:
    """A frame whose memory is used again does not change what was predicted of it before."""
    own = np.random.RandomState(2).rand(1080, 1920, 3).astype(np.float32)
    now, later = (predict(own, "overscan percent=4", mode=mode, metrics=[]) for _ in range(2))
    landed, woven = now.landed.copy(), now.woven.copy()
    own[:] = 0
    assert np.array_equal(later.landed, landed) and np.array_equal(later.woven, woven)
