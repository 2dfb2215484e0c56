"""Identify, against boxes made by OpenCV and Pillow and by `predict`, and what it refuses."""

from __future__ import annotations

import json
from dataclasses import replace

import cv2
import numpy as np
import pytest
from few import few
from PIL import Image

import scalesim as ss
from scalesim.charts.kernel import kernel_chart
from scalesim.core.codes import to_codes
from scalesim.errors import NotIdentifiable, ParameterError, ShapeError
from scalesim.jobs.identify.identify import Identification, identify
from scalesim.jobs.predict.predict import predict
from scalesim.result import Viewer

CHART = kernel_chart("720p60").frame
WIDTH = 360
RNG = np.random.RandomState(5)


@pytest.fixture(autouse=True)
def own_noise() -> None:
    """Every test draws the same noise, whatever ran before it."""
    RNG.seed(5)


def captured(lines: np.ndarray, *, gain: float = 1.0, lift: float = 0.0, gamma: float = 1.0) -> np.ndarray:
    """Return a capture of output lines: narrower, blurred, toned, with noise of one code, 8 bits."""
    values = cv2.resize(lines.astype(np.float32), (WIDTH, len(lines)), interpolation=cv2.INTER_AREA)
    values = lift + gain * np.clip(values, 0, 1) ** gamma
    noisy = 255 * values + RNG.normal(0, 1, values.shape)
    return (np.floor(np.clip(noisy, 0, 255) + 0.5) / 255).astype(np.float32)


def by_chain(text: str, mode: str = "720p60") -> np.ndarray:
    """Return what `predict` makes of the chart of a mode, both fields woven."""
    return predict(kernel_chart(mode).frame, text, mode=mode, metrics=[]).woven


def weave(top: np.ndarray, bottom: np.ndarray) -> np.ndarray:
    """Return the frame of two fields."""
    return np.stack([top, bottom], axis=1).reshape(-1, *top.shape[1:])


def test_an_area_average_by_opencv() -> None:
    """cv2.INTER_AREA at 3:1 is the exact box: `line-average`; the operator is the matrix of thirds."""
    small = cv2.resize(CHART, (1280, 240), interpolation=cv2.INTER_AREA)
    found = identify([captured(small, gain=0.9, lift=0.03, gamma=1.05)], "720p60")
    assert found.method == "line-average"
    assert "line-average, line-average" in found.methods, "a box of half-steps averaged in pairs is its twin"
    assert found.encoding == "code"
    assert (found.lines_in, found.lines_out, found.field_relation) == (720, 240, "progressive")
    assert (found.gain, found.lift, found.gamma) == pytest.approx((0.9, 0.03, 1.05), abs=0.004)
    thirds = np.kron(np.eye(240), np.full((1, 3), 1 / 3))
    error = np.abs(found.rows[0] - thirds).sum(axis=1)
    assert error[6:-6].max() < 0.01
    assert np.abs(np.roll(thirds, 1, axis=1) - found.rows[0]).sum(axis=1)[6:-6].min() > 0.5, (
        "a line off is seen"
    )


def test_an_antialiased_lanczos_by_pillow() -> None:
    """Pillow's LANCZOS (a = 3, widened) from a window that begins 0.4 lines down: kernel and phase."""
    rows = [
        np.asarray(
            Image.fromarray(plane).resize((1280, 240), Image.Resampling.LANCZOS, box=(0, 0.4, 1280, 719.8))
        )
        for plane in (CHART[..., 0],)
    ]
    found = identify([captured(np.repeat(np.clip(rows[0], 0, 1)[..., None], 3, axis=2))], "720p60")
    assert found.method == "resample"
    assert found.methods[0] == "resample kernel=lanczos3"
    assert found.phase == pytest.approx(0.4, abs=0.02)
    assert found.step == pytest.approx((719.8 - 0.4) / 240, abs=2e-4)


def test_a_drop_gives_a_range_and_no_encoding() -> None:
    """Lines 1, 4, 7 ...: any phase in [1, 2) drops like this, in code values or in light."""
    found = identify([captured(CHART[1::3])], "720p60")
    assert found.method == "line-drop"
    assert found.phase == pytest.approx((1.0, 2.0))
    assert found.encoding == "undecidable"
    assert any("kernel=linear antialias=off" in name for name in found.methods), "at 3:1 the same lines"


def test_light_is_told_from_code_values() -> None:
    """Averaging V^2.4 is "light"; the same average of code values is not."""
    light = cv2.resize(CHART**2.4, (1280, 240), interpolation=cv2.INTER_AREA) ** (1 / 2.4)
    assert identify([captured(light)], "720p60").encoding == "light"


@pytest.mark.parametrize(
    ("chain", "relation", "taps"),
    [
        ("line-average lines=480, flicker-filter, interlace", "half-line", "1/2/1"),
        ("resample lines=480 kernel=cubic phase=1/4, interlace", "half-line", "1"),
        ("line-average lines=480, flicker-filter taps=paired, interlace", "same", ""),
    ],
)
def test_its_chain_predicts_what_was_captured(chain: str, relation: str, taps: str) -> None:
    """The chain it gives makes the same picture as the box, field relation and taps as they were."""
    frame = by_chain(chain)
    found = identify([captured(frame), captured(frame)], "720p60")
    assert (found.field_relation, found.flicker_taps) == (relation, taps)
    again = by_chain(found.chain)
    again = again if len(again) == len(frame) else np.repeat(again, 2, axis=0)
    assert np.abs(again - frame)[8:-8].max() < 0.02
    assert found.confidence > 0.9


def test_both_fields_on_the_same_lines() -> None:
    """A 240-line picture captured as two equal fields is "same", not "half-line"."""
    small = cv2.resize(CHART, (1280, 240), interpolation=cv2.INTER_AREA)
    found = identify([captured(weave(small, small))], "720p60")
    assert found.field_relation == "same"
    assert len(found.rows) == 2
    assert np.array_equal(*found.rows)


@pytest.mark.slow
def test_an_interlaced_source_scaled_field_by_field() -> None:
    """1080i, each field resampled by itself: the weights lie on that field's lines only."""
    found = identify([captured(by_chain("resample lines=240 kernel=cubic", "1080i"))], "1080i")
    assert (found.method, found.chain) == ("resample", "resample lines=240 kernel=cubic")
    top, bottom = found.rows
    assert np.abs(top[:, 1::2]).max() == 0
    assert np.abs(bottom[:, 0::2]).max() == 0
    assert np.abs(top[:, 0::2]).max() > 0.2


def test_a_kernel_without_a_name_is_measured() -> None:
    """A Gaussian before a drop is in no dictionary: unknown, and the measured kernel is that Gaussian."""
    sigma = 1.5
    blurred = cv2.GaussianBlur(CHART, (1, 13), sigmaX=0.1, sigmaY=sigma)
    found = identify([captured(blurred[1::3])], "720p60")
    assert (found.method, found.methods) == ("unknown", ())
    assert found.chain.startswith("measured ")
    taps = np.exp(-0.5 * (np.arange(-6, 7) / sigma) ** 2)
    row = found.rows[0][120]
    assert np.abs(row[361 - 6 : 361 + 7] - taps / taps.sum()).max() < 0.01
    assert sum(weight for _, weight, _ in found.kernel) == pytest.approx(1, abs=0.02)


def test_crop_and_a_jumping_frame_and_a_wrong_one() -> None:
    """Eight lines cut on each side; one frame a line lower; one of another picture: all said or survived."""
    small = cv2.resize(CHART, (1280, 240), interpolation=cv2.INTER_AREA)
    good = [captured(small[8:-8]) for _ in range(4)]
    jumped = np.roll(captured(small[8:-8]), 1, axis=0)
    wrong = captured(np.roll(CHART[1::3][8:-8], 40, axis=0))
    found = identify([*good, jumped, wrong], "720p60")
    assert found.method == "line-average"
    assert found.phase == pytest.approx(24, abs=0.02)
    assert (found.frames.moved, found.frames.unstable) == ((4,), (5,))
    assert any("jumped" in note for note in found.notes)


def test_range_mistakes_are_named() -> None:
    """Codes squeezed to 16..235 and shown as they are: gain 219/255, black 16 (ITU-R BT.709-6, item 5.3)."""
    found = identify([captured(CHART[0::3], gain=219 / 255, lift=16 / 255)], "720p60")
    assert any("limited shown as full" in note for note in found.notes)
    assert not any("range" in note for note in identify([captured(CHART[0::3])], "720p60").notes)


def turned(frame: np.ndarray, degrees: float) -> np.ndarray:
    """Return a frame turned about its middle."""
    lines, samples = frame.shape[:2]
    turn = cv2.getRotationMatrix2D((samples / 2, lines / 2), degrees, 1)
    return cv2.warpAffine(frame, turn, (samples, lines))


@pytest.mark.parametrize(
    ("spoil", "word"),
    [
        (lambda f: f[:, ::-1], "mirrored"),
        (lambda f: f[::-1], "upside down"),
        (lambda f: turned(f, 2.0), "turned|followed"),
        (lambda f: turned(f, 8.0), "turned|no bars"),  # with some noise not one bar is found
        (lambda f: f * 0, "black"),
        (lambda f: np.clip((f - 0.5) * 50 + 0.5, 0, 1), "clipped"),
        (lambda f: RNG.uniform(size=f.shape).astype(np.float32), "no bars"),
        (lambda f: cv2.resize(f, (1280, 720), interpolation=cv2.INTER_CUBIC), "720 lines"),
    ],
)
def test_what_is_no_capture_of_the_chart_is_refused_by_its_name(spoil, word: str) -> None:
    """Each in one line, saying what it is."""
    small = captured(cv2.resize(CHART, (1280, 240), interpolation=cv2.INTER_AREA))
    with pytest.raises(NotIdentifiable, match=word) as refusal:
        identify([np.ascontiguousarray(spoil(small))], "720p60")
    assert "\n" not in str(refusal.value)


def test_the_chart_of_another_mode_is_named() -> None:
    """1080p60 played where 720p60 was said."""
    other = captured(by_chain("line-average lines=240", "1080p60"))
    with pytest.raises(NotIdentifiable, match="chart of 1080p"):
        identify([other], "720p60")


def test_sizes_and_types_that_cannot_be() -> None:
    """No frame, two sizes, too small, 8-bit codes: `ShapeError` with the remedy."""
    small = captured(CHART[0::3])
    for wrong in ([], [small, small[:-8]], [small[:60]], [(255 * small).astype(np.uint8)]):
        with pytest.raises(ShapeError):
            identify(wrong, "720p60")


def test_whole_lines_repeated_by_a_scaler_are_taken_once() -> None:
    """A 240-line picture shown three times a line in a 720-line capture is still line-locked."""
    small = captured(CHART[0::3])
    found = identify([np.repeat(small, 3, axis=0)], "720p60")
    assert found.method == "line-drop"
    assert any("3 times" in note for note in found.notes)


def test_the_document_and_the_words() -> None:
    """Every key, no NaN; words say method and limits; the operator applies to pictures."""
    found = identify([captured(CHART[0::3])], "720p60")
    assert isinstance(found, Identification)
    document = found.to_dict()
    keys = "method methods lines_in lines_out phase step kernel encoding flicker_taps field_relation"
    keys += " registration gain lift gamma residual confidence chain"
    assert set(keys.split()) <= set(document)
    json.dumps(document, allow_nan=False)
    words = found.sentences()
    assert words[0].startswith("The box keeps 240 of 720 lines (confidence ")
    assert "As stages: line-drop; 3 source lines a line" in words[0]
    assert found.title == "The box keeps 240 of 720 lines"
    assert any("unscaled" in sentence for sentence in words)
    assert len(found.table().rows[0]) == len(found.table().columns)
    out = found.operator()(CHART)
    assert np.abs(out - CHART[0::3])[4:-4].max() < 1e-6
    assert ss.Chain(found.chain).stages[0].kind == "line-drop"


def lines_apart(chain: str, frame: np.ndarray, mode: str = "720p60") -> float:
    """Return how far a chain's frame lies from another, the borders left out."""
    again = by_chain(chain, mode)
    assert len(again) == len(frame)
    return float(np.abs(again - frame)[8:-8].max())


def test_one_phase_for_both_fields_of_chosen_lines() -> None:
    """Line floor(1.5 r + 0.75) of 720: alone the top field allows [0, 1), both together [0.5, 1)."""
    frame = CHART[np.floor(1.5 * np.arange(480) + 0.75).astype(int)]
    found = identify([captured(frame)], "720p60")
    assert found.method == "line-drop+interlace" and found.field_relation == "half-line"
    assert found.phase == pytest.approx((0.5, 1.0))
    assert lines_apart(found.chain, frame) == 0
    assert found.confidence > 0.9


@pytest.mark.parametrize("way", few(["line-average", "line-drop"], 1))
def test_swapped_fields_are_said_and_put_right(way: str) -> None:
    """Even and odd lines exchanged in the capture: the chain gives the frame in its right order."""
    chain = f"{way} lines=480, interlace"
    frame = by_chain(chain)
    pairs = frame.reshape(240, 2, *frame.shape[1:])
    found = identify([captured(pairs[:, ::-1].reshape(frame.shape))], "720p60")
    assert found.field_relation == "swapped"
    assert any("swapped" in sentence for sentence in found.sentences())
    assert lines_apart(found.chain, frame) < 0.02
    assert max(found.check.rms_fields) < 5, "the capture is put right before it is compared"
    assert identify([captured(frame)], "720p60").field_relation == "half-line"


def test_a_field_moved_by_a_whole_raster_line_is_not_swapped() -> None:
    """A capture that begins one raster line lower shows the fields in order, half a line on."""
    frame = by_chain("line-average lines=480, interlace")
    assert identify([captured(np.roll(frame, 1, axis=0))], "720p60").field_relation == "half-line"


@pytest.mark.slow
def test_progressive_captures_of_480_lines() -> None:
    """480p played straight in is one picture; 720p in 480 lines could be either, and a word decides."""
    straight = identify([captured(kernel_chart("480p").frame)], "480p")
    assert straight.field_relation == "progressive" and len(straight.rows) == 1
    assert any("one progressive picture" in note for note in straight.notes)
    frame = captured(by_chain("line-average lines=480"))
    either = identify([frame], "720p60")
    assert either.field_relation == "half-line" and any("--scan" in note for note in either.notes)
    for found in (
        identify([frame], "720p60", scan="progressive"),
        identify([frame], "720p60", lines=480),
        identify([frame], "720p60", marked="progressive"),
    ):
        assert (found.chain, found.field_relation) == ("line-average lines=480", "progressive")
    fields = identify([captured(kernel_chart("480p").frame)], "480p", scan="interlaced")
    assert fields.field_relation == "half-line"


def test_lines_that_contradict_the_capture_are_refused() -> None:
    """Fewer than show the chart, far more than were captured, or at odds with the scan."""
    small = captured(cv2.resize(CHART, (1280, 240), interpolation=cv2.INTER_AREA))
    assert identify([small], "720p60", lines=240).lines_out == 240
    for lines in (200, 480):
        with pytest.raises(NotIdentifiable, match=f"lines: {lines}"):
            identify([small], "720p60", lines=lines)
    with pytest.raises(ParameterError, match="scan"):
        identify([captured(by_chain("line-average lines=480"))], "720p60", lines=480, scan="interlaced")


@pytest.mark.parametrize(
    "chain",
    [
        "resample lines=480 antialias=off phase=0.3, interlace",
        "resample lines=480 kernel=cubic phase=0.25, flicker-filter, interlace",
        "resample lines=240 kernel=cubic phase=0.4",
    ],
)
def test_the_phase_that_is_printed_is_the_chains(chain: str) -> None:
    """One number, and that of the chain that was played."""
    frame = by_chain(chain)
    found = identify([captured(frame)], "720p60")
    scaler = ss.Chain(found.chain).stages[0]
    assert found.phase == scaler.phase
    assert scaler.phase == pytest.approx(ss.Chain(chain).stages[0].phase, abs=0.01)
    assert lines_apart(found.chain, frame) < 0.02


def test_the_same_lines_are_said_of_the_same_operators_only() -> None:
    """At 3:1 an average has exact twins; a cubic's neighbours fit in noise and are said to differ."""
    small = cv2.resize(CHART, (1280, 240), interpolation=cv2.INTER_AREA)
    found = identify([captured(small)], "720p60")
    for name in found.same_lines:
        assert name in found.methods
    assert "line-average, line-average" in found.same_lines
    noisy = by_chain("resample lines=240 kernel=cubic, flicker-filter taps=1/1/1")
    noisy = captured(noisy) + RNG.normal(0, 0.06, (240, WIDTH, 1)).astype(np.float32)
    answer = identify([np.clip(noisy, 0, 1)], "720p60")
    for name in set(answer.methods[1:]) - set(answer.same_lines):
        assert not any(name in said and "same lines come" in said for said in answer.sentences())


def test_fields_at_odds_with_any_chain_are_measured() -> None:
    """The second field a third of a line lower: no chain makes that, so none is printed."""
    cubic = "resample lines=240 kernel=cubic"
    top, bottom = by_chain(cubic), by_chain(f"{cubic} phase=1")
    found = identify([captured(weave(top, bottom))], "720p60")
    assert found.field_relation == "unknown" and found.chain.startswith("measured ")
    assert len(found.rows) == 2


def test_a_right_answer_without_noise_is_sure() -> None:
    """Eight bits and nothing else: a misfit of rounding alone costs no confidence."""
    for text in ("line-average lines=240", "resample lines=240 kernel=lanczos3 phase=0.3"):
        lines = by_chain(text)
        exact = (np.floor(255 * np.clip(lines, 0, 1) + 0.5) / 255).astype(np.float32)
        found = identify([exact], "720p60")
        assert found.confidence > 0.9 and not found.undecided
        assert lines_apart(found.chain, lines) < 0.02


def test_a_woven_capture_read_as_one_picture_says_so() -> None:
    """Weaving the fields of a filtered box and calling them one picture: hinted at, and not sure."""
    woven = captured(by_chain("line-average lines=480, flicker-filter, interlace"))
    found = identify([woven], "720p60", scan="progressive")
    assert found.undecided and found.confidence < 0.1
    assert any("two woven fields" in note and "--scan interlaced" in note for note in found.notes)
    assert found.residual < 2, "what the measured kernel leaves, not what a name does"
    rows = {what: (value, unit) for what, value, unit in found.table().rows}
    assert rows["phase"][1] == "" and "misfit against the best kernel" in rows
    assert "-0.00" not in str(rows)


def test_weights_are_stems_with_their_errors_beside_them() -> None:
    """An average of three: a third each, from 0 to its weight, told with as many digits as the error has."""
    lines = (CHART[0::3] + CHART[1::3] + CHART[2::3]) / 3
    found = identify([captured(lines)], "720p60")
    (plot,) = found.figures()
    stems = next(series for series in plot.panels[0].series if series.style == "stems")
    told = [text for text in stems.texts if text]
    assert len(told) == 3 and len(stems.error) == len(stems.y)
    for text in told:
        weight, error = (float(each) for each in text.split(" ± "))
        assert weight == pytest.approx(1 / 3, abs=0.01) and 0 < error < 0.01
    assert next(iter(found.parts())).title == "Each line of the output is made of 3 source lines"


def test_what_is_left_is_signed_and_has_its_size() -> None:
    """One sample is 64 codes too light: orange there, and the scale ends where 999 of 1000 samples lie."""
    found = identify([captured(CHART[0::3])], "720p60")
    check = found.check
    lighter = check.captured.copy()
    lighter[100, 300] = check.predicted[100, 300] + 64 / 255
    marked = replace(check, captured=lighter)
    assert marked.limit == check.limit
    assert (
        np.mean(np.abs(check.apart) > check.limit) <= 0.001 < np.mean(np.abs(check.apart) > check.limit / 2)
    )
    red, _, blue = marked.pictures["residual"][100, 300]
    assert red > 0.7 and blue < 0.1
    part = next(part for part in found.parts() if part.anchor == "compared")
    viewer, _ = part.items
    assert isinstance(viewer, Viewer) and viewer.pair == ("captured", "predicted") and viewer.mode == "wipe"
    assert viewer.scale is not None and viewer.scale.ends[2].startswith(f"+{check.limit}")


def test_the_figure_shows_where_the_prediction_fails() -> None:
    """A grey patch laid over the capture: the part lies on it, its corners mark it, nothing else is left."""
    frame = CHART[1::3].copy()
    frame[100:140, 800:900] = 0.5
    found = identify([captured(frame)], "720p60")
    cover = found.cover()
    lines, samples = found.check.captured.shape
    across = samples / CHART.shape[1]  # the captures of these tests are narrower
    top, left, height, width = cover.window
    assert top <= 120 <= top + height and left <= 850 * across <= left + width
    assert [view.label for view in cover.views] == ["captured", "predicted", "captured less predicted"]
    first = cover.views[0].marks[0]
    assert first.lines[1] > 100 and first.lines[0] < 140
    assert first.samples[1] > 800 * across and first.samples[0] < 900 * across
    assert np.array_equal(cover.views[0].values[:, :, 0], to_codes(found.check.captured))
    assert cover.title == found.title and f"rms of {lines * samples} samples" in cover.caption


@pytest.mark.parametrize("mode", ["480p", "720p60"])
def test_what_was_captured_as_it_was_drawn_is_the_identity(mode: str) -> None:
    """The chart's own file as the capture, 8 bits: no place, no tone, nothing left of 255 codes."""
    frame = (to_codes(kernel_chart(mode).frame) / 255).astype(np.float32)
    lines = frame if mode == "480p" else frame[1::3]
    found = identify([lines], mode)
    assert (found.along.scale, found.along.shift, found.along.blur) == pytest.approx((1, 0, 0), abs=1e-5)
    assert (found.gain, found.lift, found.gamma) == pytest.approx((1, 0, 1), abs=1e-4)
    assert found.check.rms_codes < 0.1
