"""Expected numbers of the line stages, derived by hand from the rule for spans.

Output line r of N owns input lines [r*s + p, (r + 1)*s + p), edges at integers, s = H/N.
"""

from __future__ import annotations

import pytest
from hand import lines_of, nearly, pictures, ramp, samples_of, taps

from scalesim.core.operator import Operator
from scalesim.core.raster import BOTTOM_FIRST, TOP_FIRST, Raster
from scalesim.errors import ParameterError
from scalesim.stages._base import LinearStage
from scalesim.stages.lines import FlickerFilter, LineAverage, LineDrop, LineRepeat
from scalesim.stages.resample import Resample


def operator(stage: LinearStage, lines: int, *, fields: bool = False, phase: int = 0) -> Operator:
    raster = Raster(lines, 4, fields=TOP_FIRST) if fields else Raster(lines, 4)
    return stage.operator(raster).phases[phase]


def kept(stage: LinearStage, lines: int) -> list[int]:
    found = operator(stage, lines)
    return [next(iter(taps(found, r)), -1) for r in range(stage.raster(Raster(lines, 4)).lines)]


# line-drop


@pytest.mark.parametrize(
    ("lines_in", "keys", "expected"),
    [
        (12, {"lines": 4}, [0, 3, 6, 9]),
        (12, {"lines": 4, "phase": 1}, [1, 4, 7, 10]),
        (12, {"lines": 4, "phase": 2}, [2, 5, 8, 11]),
        (12, {"lines": 4, "phase": 0.999}, [0, 3, 6, 9]),
        (12, {"lines": 4, "phase": -1}, [0, 2, 5, 8]),  # line -1 is the topmost repeated
        (12, {"lines": 4, "phase": 3}, [3, 6, 9, 11]),  # line 12 is the lowest repeated
        (12, {"lines": 8}, [0, 1, 3, 4, 6, 7, 9, 10]),  # s = 1.5: 0, 1.5, 3, 4.5 ...
        (9, {"lines": 2}, [0, 4]),  # s = 4.5
        (9, {"lines": 2, "phase": 0.5}, [0, 5]),
        (12, {"lines": 4, "step": 2}, [0, 2, 4, 6]),
        (12, {"lines": 4, "step": 2.5, "phase": 1}, [1, 3, 6, 8]),  # 1, 3.5, 6, 8.5
        (12, {"lines": 12}, list(range(12))),
        (7, {"lines": 1}, [0]),
    ],
)
def test_line_drop_keeps(lines_in: int, keys: dict[str, float], expected: list[int]) -> None:
    assert kept(LineDrop(**keys), lines_in) == expected


def test_line_drop_edge_black() -> None:
    found = operator(LineDrop(lines=4, phase=-1, edge="black"), 12)
    assert [taps(found, r) for r in range(4)] == [{}, {2: 1.0}, {5: 1.0}, {8: 1.0}]
    assert found.encoding == "any"


def test_line_drop_thirds_fall_on_whole_lines() -> None:
    """720 to 240: r*3 is whole, whatever binary rounding does to 1/3 in the phase (1e-9 rule)."""
    assert kept(LineDrop(lines=240, phase="1/3"), 720) == list(range(0, 720, 3))
    assert kept(LineDrop(lines=240, step=720 / 240 * (1 + 1e-13)), 720) == list(range(0, 720, 3))
    # 7 * (10/7) is 10.000000000000002 or 9.99...8 in binary: it must count as 10
    assert kept(LineDrop(lines=70), 100)[7::7] == list(range(10, 100, 10))


def test_line_drop_on_fields() -> None:
    """1080i to 480i, s = 540/240 = 2.25: the bottom field's phase is 1/2 * 2.25 - 1/2 = 0.625."""
    aware = LineDrop(lines=240)
    assert aware.spans(Raster(540, 4, fields=TOP_FIRST))[1].offset == 0.625
    top, bottom = (operator(aware, 540, fields=True, phase=k) for k in (0, 1))
    assert [next(iter(taps(top, r))) for r in range(5)] == [0, 2, 4, 6, 9]
    assert [next(iter(taps(bottom, r))) for r in range(5)] == [0, 2, 5, 7, 9]  # 0.625 2.875 5.125 7.375 9.625
    naive = [operator(LineDrop(lines=240, fields="naive"), 540, fields=True, phase=k) for k in (0, 1)]
    assert [taps(naive[0], r) for r in range(240)] == [taps(naive[1], r) for r in range(240)]


def test_line_drop_on_bottom_first_fields() -> None:
    stage = LineDrop(lines=240, phase=1)
    assert [s.offset for s in stage.spans(Raster(540, 4, fields=BOTTOM_FIRST))] == [1.625, 1.0]


def test_a_drop_refuses_more_lines_than_come_in() -> None:
    with pytest.raises(ParameterError, match="lines is 13; it must be at most the 12 lines"):
        LineDrop(lines=13).raster(Raster(12, 4))
    assert LineDrop(lines=13).raster(Raster(13, 4)).lines == 13


def test_line_average_enlarges_too() -> None:
    # 4 lines to 6: spans of 2/3 line; the second lies half on line 0 and half on line 1
    average = operator(LineAverage(lines=6), 4)
    assert [taps(average, r) for r in range(3)] == [{0: 1.0}, pytest.approx({0: 0.5, 1: 0.5}), {1: 1.0}]


# line-average


@pytest.mark.parametrize(
    ("lines_in", "keys", "line", "expected"),
    [
        (12, {"lines": 4}, 1, {3: 1 / 3, 4: 1 / 3, 5: 1 / 3}),
        (12, {"lines": 8}, 0, {0: 1 / 1.5, 1: 0.5 / 1.5}),  # 1.5 : 1
        (12, {"lines": 8}, 1, {1: 0.5 / 1.5, 2: 1 / 1.5}),
        (12, {"lines": 8}, 2, {3: 1 / 1.5, 4: 0.5 / 1.5}),
        (9, {"lines": 2}, 0, {0: 1 / 4.5, 1: 1 / 4.5, 2: 1 / 4.5, 3: 1 / 4.5, 4: 0.5 / 4.5}),  # 4.5 : 1
        (9, {"lines": 2}, 1, {4: 0.5 / 4.5, 5: 1 / 4.5, 6: 1 / 4.5, 7: 1 / 4.5, 8: 1 / 4.5}),
        (12, {"lines": 4, "phase": 1}, 0, {1: 1 / 3, 2: 1 / 3, 3: 1 / 3}),
        (12, {"lines": 4, "phase": 0.25}, 0, {0: 0.25, 1: 1 / 3, 2: 1 / 3, 3: 1 / 12}),
        (12, {"lines": 4, "phase": -1}, 0, {0: 2 / 3, 1: 1 / 3}),  # the share of line -1 goes to line 0
        (12, {"lines": 4, "phase": -1, "edge": "black"}, 0, {0: 1 / 3, 1: 1 / 3}),
        (12, {"lines": 4, "phase": 2}, 3, {11: 1.0}),  # [11, 14)
        (12, {"lines": 4, "phase": 2, "edge": "black"}, 3, {11: 1 / 3}),
        (12, {"lines": 4, "step": 2}, 3, {6: 0.5, 7: 0.5}),
        (12, {"lines": 4, "step": 1}, 3, {3: 1.0}),
    ],
)
def test_line_average_taps(
    lines_in: int, keys: dict[str, float], line: int, expected: dict[int, float]
) -> None:
    found = taps(operator(LineAverage(**keys), lines_in), line)
    assert found == pytest.approx(expected, abs=2e-9)


def test_line_average_in_light() -> None:
    """White and black in equal light are (1/2)^(1/2.4) = 0.749 (ITU-R BT.1886); in code values 0.5."""
    frame = ramp(2)
    (light,) = pictures("line-average lines=1 encoding=light", Raster(2, 2), frame)
    (code,) = pictures("line-average lines=1", Raster(2, 2), frame)
    nearly(lines_of(light), [0.749153538])
    nearly(lines_of(code), [0.5])


def test_line_average_of_whole_steps_of_one_is_a_choice() -> None:
    assert operator(LineAverage(lines=12), 12).encoding == "any"
    assert operator(LineAverage(lines=12, encoding="light"), 12).is_choice


def test_line_average_on_fields() -> None:
    """1080i to 480i: the top field's line 0 owns [0, 2.25), the bottom field's [0.625, 2.875)."""
    top, bottom = (operator(LineAverage(lines=240), 540, fields=True, phase=k) for k in (0, 1))
    assert taps(top, 0) == pytest.approx({0: 1 / 2.25, 1: 1 / 2.25, 2: 0.25 / 2.25}, abs=2e-9)
    assert taps(bottom, 0) == pytest.approx({0: 0.375 / 2.25, 1: 1 / 2.25, 2: 0.875 / 2.25}, abs=2e-9)


# resample


@pytest.mark.parametrize(
    ("lines_in", "keys", "line", "expected"),
    [
        # middle 4.5 of [3, 6); triangle widened to 3: distances -2..2 of 3 -> 1, 2, 3, 2, 1 ninths
        (12, {"lines": 4}, 1, {2: 1 / 9, 3: 2 / 9, 4: 3 / 9, 5: 2 / 9, 6: 1 / 9}),
        # the cheap two-line blend: at phase 0 its middle is a line's middle, so it is a drop
        (12, {"lines": 4, "antialias": False}, 1, {4: 1.0}),
        (12, {"lines": 4, "antialias": False, "phase": 0.5}, 1, {4: 0.5, 5: 0.5}),
        (12, {"lines": 4, "antialias": "off", "phase": "1/4"}, 1, {4: 0.75, 5: 0.25}),
        # 1.5 : 1, line 0: middle 0.75; line middles 0.5, 1.5 at -0.25, 0.75
        (12, {"lines": 8, "antialias": False}, 0, {0: 0.75, 1: 0.25}),
        # 1.5 : 1 widened: middle 2.25 of line 1; lines 1, 2, 3 at -0.75, 0.25, 1.25 of 1.5; sums to 1.5
        (12, {"lines": 8}, 1, {1: 0.5 / 1.5, 2: (1.25 / 1.5) / 1.5, 3: (0.25 / 1.5) / 1.5}),
        # doubling: middles 0.25, 0.75, ...; line 1 at 0.75: 0.75 of line 0, 0.25 of line 1
        (6, {"lines": 12}, 1, {0: 0.75, 1: 0.25}),
        (6, {"lines": 12}, 0, {0: 1.0}),  # replicate: the quarter of line -1 is line 0 again
        (6, {"lines": 12, "edge": "black"}, 0, {0: 0.75}),
        # Keys cubic, a = -1/2, half way between lines: -1/16, 9/16, 9/16, -1/16
        (
            12,
            {"lines": 12, "kernel": "cubic", "phase": 0.5},
            5,
            {4: -1 / 16, 5: 9 / 16, 6: 9 / 16, 7: -1 / 16},
        ),
        # Keys at a quarter: -9/128, 111/128, 29/128, -3/128
        (
            12,
            {"lines": 12, "kernel": "cubic", "phase": 0.25},
            5,
            {4: -9 / 128, 5: 111 / 128, 6: 29 / 128, 7: -3 / 128},
        ),
        (12, {"lines": 12, "kernel": "lanczos3"}, 5, {5: 1.0}),  # sinc is 0 at whole distances
        (12, {"lines": 4, "step": 2, "antialias": False}, 1, {2: 0.5, 3: 0.5}),  # middle 3
    ],
)
def test_resample_taps(lines_in: int, keys: dict[str, object], line: int, expected: dict[int, float]) -> None:
    assert taps(operator(Resample(**keys), lines_in), line) == pytest.approx(expected, abs=2e-9)


def test_resample_lanczos2_half_way() -> None:
    """sinc(1/2) sinc(1/4) = (2/pi) (2 sqrt 2/pi) = 8/(sqrt 2 pi^2), and at 3/2: -(2/3pi)(4/3pi)(sqrt 2/2)."""
    from math import pi, sqrt

    near, far = (2 / pi) * (sqrt(0.5) * 4 / pi), -(2 / (3 * pi)) * (sqrt(0.5) * 4 / (3 * pi))
    total = 2 * (near + far)
    found = taps(operator(Resample(lines=12, kernel="lanczos2", phase=0.5), 12), 5)
    assert found == pytest.approx(
        {4: far / total, 5: near / total, 6: near / total, 7: far / total}, abs=2e-9
    )


def test_resample_samples_use_the_same_rule() -> None:
    found = operator(Resample(samples=2, antialias=False, phase=0.5), 3)
    assert found.lines is None and found.samples is not None
    # 4 samples to 2: s = 2, middles 1.5 and 3.5 are the middles of samples 1 and 3
    assert found.samples.toarray().tolist() == [[0, 1, 0, 0], [0, 0, 0, 1]]
    assert Resample(samples=2).raster(Raster(3, 4)).samples == 2


def test_resample_both_axes_gives_phase_to_the_lines() -> None:
    line_maps, samples = Resample(lines=4, samples=2, phase=1, step=2).maps(Raster(12, 4))
    assert (line_maps[0].scale, line_maps[0].offset) == (2.0, 1.0)
    assert (samples.scale, samples.offset) == (2.0, 0.0)
    _, samples = Resample(samples=2, phase=1, step=1.5).maps(Raster(12, 4))
    assert (samples.scale, samples.offset) == (1.5, 1.0)


def test_resample_in_light_and_naive() -> None:
    (picture,) = pictures("resample lines=1 antialias=off encoding=light", Raster(2, 2), ramp(2))
    nearly(lines_of(picture), [0.749153538])  # as line-average: the two lines in equal parts
    naive = Resample(lines=240, fields="naive", phase=1).maps(Raster(540, 4, fields=TOP_FIRST))[0]
    assert [m.offset for m in naive] == [1.0, 1.0]


def test_resample_needs_an_axis() -> None:
    with pytest.raises(ParameterError, match="neither lines nor samples is given"):
        Resample(kernel="cubic")


# line-repeat


def test_line_repeat() -> None:
    for times in (1, 2, 3, 7):
        (picture,) = pictures(f"line-repeat times={times}", Raster(4, 2), ramp(4))
        assert lines_of(picture) == [float(i) for i in range(4) for _ in range(times)]
    assert LineRepeat().times == 2


def test_line_repeat_repeats_field_lines() -> None:
    raster = Raster(2, 2, fields=TOP_FIRST)
    found = [lines_of(p) for p in pictures("line-repeat", raster, ramp(4))]
    assert found == [[0, 0, 2, 2], [1, 1, 3, 3]]


# flicker-filter


@pytest.mark.parametrize(
    ("keys", "line", "expected"),
    [
        ("1/2/1", 3, {2: 0.25, 3: 0.5, 4: 0.25}),
        ("1/2/1", 0, {0: 0.75, 1: 0.25}),
        ("1/2/1", 7, {6: 0.25, 7: 0.75}),
        ("1", 3, {3: 1.0}),
        ("1/6/1", 3, {2: 0.125, 3: 0.75, 4: 0.125}),
        ("1/2/2/2/1", 3, {1: 0.125, 2: 0.25, 3: 0.25, 4: 0.25, 5: 0.125}),
        ("-1/2/6/2/-1", 3, {1: -0.125, 2: 0.25, 3: 0.75, 4: 0.25, 5: -0.125}),
        ("paired", 0, {0: 0.5, 1: 0.5}),
        ("paired", 1, {0: 0.5, 1: 0.5}),
        ("paired", 6, {6: 0.5, 7: 0.5}),
    ],
)
def test_flicker_filter_taps(keys: str, line: int, expected: dict[int, float]) -> None:
    assert taps(operator(FlickerFilter(taps=keys), 8), line) == expected


def test_flicker_filter_off_is_a_choice_and_the_others_are_not() -> None:
    assert operator(FlickerFilter(taps=1), 8).encoding == "any"
    assert operator(FlickerFilter(), 8).encoding == "code"
    assert operator(FlickerFilter(taps="paired"), 8).encoding == "code"


def test_paired_gives_both_fields_one_content() -> None:
    top, bottom = pictures("flicker-filter taps=paired, interlace", Raster(8, 2), ramp(8))
    assert lines_of(top) == lines_of(bottom) == [0.5, 2.5, 4.5, 6.5]


def test_one_bright_line_after_1_2_1() -> None:
    """Closed form: unfiltered the line's field has light 1 and the other 0; filtered 0.5, and 0.25 twice."""
    frame = ramp(8) * 0
    frame[4] = 1.0
    top, bottom = pictures("flicker-filter taps=1/2/1, interlace", Raster(8, 2), frame)
    assert lines_of(top) == [0, 0, 0.5, 0] and lines_of(bottom) == [0, 0.25, 0.25, 0]


@pytest.mark.parametrize("taps_given", ["1/2", "1/2/3", "1/-2/1", "", "a/b/a", "1/inf/1"])
def test_flicker_filter_refuses(taps_given: str) -> None:
    with pytest.raises(ParameterError, match="flicker-filter: taps is"):
        FlickerFilter(taps=taps_given)


@pytest.mark.parametrize("taps_given", ["1e308/1e308/1e308", "1e200/1/1e200"])
def test_flicker_filter_never_turns_the_picture_black(taps_given: str) -> None:
    """Taps whose sum is beyond a float would be normalised to nothing: refused, or normalised right."""
    try:
        found = operator(FlickerFilter(taps=taps_given), 8)
    except ParameterError:
        return
    assert sum(taps(found, 4).values()) == pytest.approx(1.0)


@pytest.mark.parametrize("step", [1e-3, 1e-7, 1e-9, 1e-12])
def test_line_average_of_a_tiny_step_keeps_its_level(step: float) -> None:
    """Spans far thinner than the 1e-9 that counts as whole: refused, or still an average."""
    try:
        found = operator(LineAverage(lines=4, step=step), 12)
    except ParameterError:
        return
    assert sum(taps(found, 1).values()) == pytest.approx(1.0, abs=1e-5)


def test_paired_refuses_an_odd_number_of_lines() -> None:
    with pytest.raises(ParameterError, match="the number must be even"):
        FlickerFilter(taps="paired").raster(Raster(481, 4))
    assert samples_of(pictures("flicker-filter taps=paired", Raster(2, 2), ramp(2))[0]) == [0.5, 0.5]
