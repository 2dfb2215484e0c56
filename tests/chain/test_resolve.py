"""How a chain becomes steps: what fuses, what moves ahead, what stops it, and where the output looks."""

from __future__ import annotations

from fractions import Fraction
from itertools import islice

import numpy as np
import properties
import pytest
import rasters
from hand import taps
from hypothesis import given
from hypothesis import strategies as st

from scalesim.chain import Chain
from scalesim.chain.resolve import FrameStep, LinearStep, PointStep, Resolved
from scalesim.chain.run import run
from scalesim.core.affine import Affine
from scalesim.core.operator import still
from scalesim.core.picture import still_stream
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.errors import EncodingError, ParameterError, ScalesimError

P720 = Raster(720, 8)
I540 = Raster(540, 8, fields=TOP_FIRST)


def shape(plan: Resolved) -> str:
    """Return the steps as a word: L linear, P point, F frame."""
    letters = {LinearStep: "L", PointStep: "P", FrameStep: "F"}
    return "".join(letters[type(step)] for step in plan.steps)


@pytest.mark.parametrize(
    ("text", "fused", "plain"),
    [
        ("line-average lines=480, line-drop lines=240", "L", "LL"),
        ("line-average lines=480, position lines=1, flicker-filter, interlace, field-only", "L", "LLLLL"),
        # a rounding between two mixing stages stops fusion
        ("line-average lines=480, quantise, line-average lines=240", "LPL", "LPL"),
        # a choice of lines moves ahead of roundings and is fused with what lies before them
        ("line-average lines=480, quantise, line-drop lines=240", "LP", "LPL"),
        ("line-average lines=480, level gain=0.9, quantise, interlace", "LPP", "LPPL"),
        ("quantise, line-drop lines=240", "LP", "PL"),
        ("line-average lines=480, quantise, line-drop lines=240, line-average lines=120", "LPL", "LPLL"),
        # more lines are not moved ahead: it would be more to round
        ("line-average lines=240, quantise, line-repeat", "LPL", "LPL"),
        # black lines may not move ahead: a lift would not reach them
        ("line-average lines=240, level lift=0.1, position lines=2", "LPL", "LPL"),
        ("line-average lines=240, level lift=0.1, line-drop lines=120 phase=-3 edge=black", "LPL", "LPL"),
        # frame stages stop everything
        ("interlace, deinterlace how=weave, line-drop lines=240", "LFL", "LFL"),
        ("interlace, deinterlace how=bob, line-drop lines=240", "L", "LLL"),
        ("interlace, keep-field, quantise, line-drop lines=240", "LFLP", "LFPL"),
        # code values and light cannot be one matrix
        ("line-average lines=480 encoding=light, line-average lines=240", "LL", "LL"),
        ("line-average lines=480, line-average lines=240 encoding=light", "LL", "LL"),
        ("line-average lines=480 encoding=light, interlace, position lines=3", "L", "LLL"),
        ("line-average lines=480 encoding=light, line-average lines=240 encoding=light", "L", "LL"),
    ],
)
def test_steps(text: str, fused: str, plain: str) -> None:
    chain = Chain(text)
    assert shape(chain.resolve(P720)) == fused
    assert shape(chain.resolve(P720, fuse=False)) == plain
    properties.fused_equals_stage_by_stage(chain, P720)
    properties.cycle_repeats(chain, P720)


FUSION = [
    "line-average lines=480, line-drop lines=240 phase=1",
    "resample lines=480 samples=6 kernel=cubic, quantise, interlace",
    "resample lines=480 kernel=lanczos3 encoding=light, size height=90, quantise, interlace first=bottom",
    "position lines=1/3 samples=1/2, flicker-filter taps=-1/2/6/2/-1, level gain=0.9, line-drop lines=240",
    "line-average lines=480, interlace, field-only pair=up, quantise",
    "line-average lines=480, interlace, deinterlace how=blend, quantise, line-drop lines=240",
    "fit how=letterbox, line-drop lines=480 phase=-2 edge=black, level lift=0.1, interlace, keep-field",
    "line-repeat times=2, quantise, line-drop lines=720 phase=1, overscan percent=10",
]


@pytest.mark.parametrize("text", FUSION)
@pytest.mark.parametrize("raster", [P720, Raster(720, 9, Fraction(60000, 1001), aspect=Fraction(4, 3))])
def test_fused_equals_stage_by_stage(text: str, raster: Raster) -> None:
    properties.fused_equals_stage_by_stage(Chain(text), raster)


@pytest.mark.parametrize(
    "text",
    [
        "line-average lines=240",
        "line-drop lines=480, quantise, line-drop lines=240 phase=1",
        "deinterlace how=bob, line-drop lines=480, quantise, interlace",
        "deinterlace, resample lines=480 encoding=light, interlace, keep-field",
        "field-only, keep-field parity=bottom, line-repeat",
        "resample lines=240 kernel=cubic fields=naive, position lines=1/2, size height=95, field-only",
    ],
)
@pytest.mark.parametrize("raster", [rasters.INTERLACED_540, rasters.BOTTOM_FIRST_540], ids=["top", "bottom"])
def test_interlaced_sources_fuse(text: str, raster: Raster) -> None:
    properties.fused_equals_stage_by_stage(Chain(text), raster)
    properties.cycle_repeats(Chain(text), raster)


mixing_stages = [
    "line-average lines={n}",
    "line-average lines={n} encoding=light",
    "resample lines={n} kernel=cubic",
]
plain_stages = ["line-drop lines={n} phase=1", "line-drop lines={n} phase=-9 edge=black", "quantise bits=7"]
other_stages = [
    "level gain=0.8 lift=0.05",
    "position lines=-1.5",
    "position lines=2",
    "size height=93 width=97",
]
field_stages = [
    "interlace",
    "interlace first=bottom",
    "deinterlace how=bob",
    "deinterlace",
    "deinterlace how=blend",
]
last_stages = [
    "keep-field",
    "keep-field parity=bottom",
    "field-only",
    "flicker-filter",
    "line-repeat",
    "overscan",
]


@given(
    st.lists(
        st.sampled_from(mixing_stages + plain_stages + other_stages + field_stages + last_stages), max_size=6
    )
)
def test_random_chains_fuse(texts: list[str]) -> None:
    """Any order of stages, each put in only where the raster before it allows."""
    from scalesim.stages import Stage

    before: Raster = Raster(96, 6)
    members: list[Stage] = []
    for text in ["quantise bits=9", *texts]:
        for stage in Chain(text.format(n=max(before.lines * 2 // 3, 2) // 2 * 2)).stages:
            try:
                before = stage.raster(before)
            except ParameterError:
                continue
            members.append(stage)
    # a rounding may fall the other way after a sum in another order: then a whole step of 2^7 - 1
    properties.fused_equals_stage_by_stage(Chain(*members), Raster(96, 6), tolerance=1.01 / 127)


# cycle and rasters


@pytest.mark.parametrize(
    ("text", "source", "cycle"),
    [
        ("line-drop lines=240", P720, 1),
        ("line-average lines=480, interlace", P720, 2),
        ("line-average lines=480, interlace, field-only", P720, 2),
        ("line-average lines=480, interlace, deinterlace", P720, 1),
        ("line-average lines=480, interlace, deinterlace how=blend", P720, 1),
        ("line-average lines=480, interlace, deinterlace how=bob", P720, 2),
        ("line-average lines=480, interlace, deinterlace how=bob, line-drop lines=240", P720, 2),
        ("interlace, keep-field", P720, 1),
        ("line-drop lines=240", I540, 2),
        ("deinterlace", I540, 1),
        ("quantise", I540, 2),
        ("deinterlace how=bob, interlace", I540, 2),
    ],
)
def test_cycle(text: str, source: Raster, cycle: int) -> None:
    assert Chain(text).resolve(source).cycle == cycle
    properties.cycle_repeats(Chain(text), source)


def test_rasters_between_the_stages() -> None:
    plan = Chain("line-average lines=480, resample samples=4, interlace, deinterlace").resolve(P720)
    assert [(r.lines, r.samples, r.scan) for r in plan.rasters] == [
        (720, 8, "progressive"),
        (480, 8, "progressive"),
        (480, 4, "progressive"),
        (240, 4, "interlaced"),
        (480, 4, "progressive"),
    ]
    assert plan.source is P720 and plan.output.rate == 30
    assert len(plan.geometries) == 5


# geometry


@pytest.mark.parametrize(
    "text",
    [
        "line-drop lines=480, line-average lines=240",
        "position lines=-7 samples=2, size height=110 width=105 anchor=top, interlace",
        "resample lines=480 samples=60, flicker-filter, interlace, position lines=1/2",
        "interlace, deinterlace how=bob",
        "interlace, deinterlace how=weave, line-average lines=240",
        "interlace, deinterlace how=blend, position lines=3",
        "interlace, keep-field parity=bottom, line-average lines=180",
        "interlace first=bottom, keep-field parity=bottom, line-repeat",
        "interlace, field-only, line-average lines=180 phase=1/2",
        "fit how=crop, overscan, line-average lines=240",
    ],
)
def test_geometry_of_frames(text: str) -> None:
    properties.geometry_matches_ramp(Chain(text), Raster(720, 80), tolerance=1e-6)


@pytest.mark.parametrize("first", [rasters.INTERLACED_540, rasters.BOTTOM_FIRST_540], ids=["top", "bottom"])
@pytest.mark.parametrize(
    "text",
    [
        "line-average lines=240",
        "line-average lines=240, field-only pair=up, line-average lines=120",
        "line-average lines=240 fields=naive, position lines=1",
        "deinterlace, line-average lines=540, interlace",
        "deinterlace how=bob, position lines=2, interlace first=bottom",
        "keep-field, position lines=-1",
        "size height=105 anchor=bottom-right width=110",
    ],
)
def test_geometry_of_fields(text: str, first: Raster) -> None:
    properties.geometry_matches_ramp(Chain(text), first.with_(samples=80), tolerance=1e-6)


@pytest.mark.parametrize(
    ("text", "source", "error"),
    [
        ("line-average lines=480, line-drop lines=240 phase=1", Raster(720, 80), 1 / 12),
        ("deinterlace, line-average lines=480, interlace", rasters.INTERLACED_540.with_(samples=80), 1 / 72),
    ],
)
def test_geometry_is_the_spans_middle_not_the_centroid(text: str, source: Raster, error: float) -> None:
    """An average's taps lean to one side within its span (2/3 and 1/3 of 1.5 lines: 1/12 line). Taken over
    all lines that cancels; when a choice of lines keeps only those that lean one way it does not."""
    properties.geometry_matches_ramp(Chain(text), source, tolerance=error + 1e-6)
    with pytest.raises(AssertionError, match="frame line shown"):
        properties.geometry_matches_ramp(Chain(text), source, tolerance=error - 1e-6)


def test_geometry_by_hand() -> None:
    """720 lines, box to 480, one line down, drop to 240 at phase 1."""
    plan = Chain("line-average lines=480, position lines=1, line-drop lines=240 phase=1").resolve(P720)
    look = plan.geometry.lines[0]
    # the drop keeps line 2r + 1, its middle 2r + 3/2; one up again, 2r + 1/2; times 3/2: 3r + 3/4
    assert look(0.5) == pytest.approx(0.75) and look.scale == pytest.approx(3.0)
    assert plan.geometry.landed(plan.output) == look


@pytest.mark.parametrize(
    ("text", "source", "kept"),
    [
        ("line-average lines=240", P720, (0, 720)),
        ("line-drop lines=240 phase=1", P720, (0, 720)),  # a kept line stands for its block of three
        ("position lines=10", P720, (0, 710)),
        ("position lines=-10", P720, (10, 720)),
        ("position lines=10, position lines=-10", P720, (0, 710)),  # what left does not come back
        ("interlace, position lines=10", P720, (0, 700)),
        ("interlace, deinterlace", P720, (0, 720)),
        ("interlace, deinterlace how=bob", P720, (0, 720)),
        ("interlace, field-only pair=up", P720, (0, 720)),
        ("interlace, keep-field", P720, (0, 720)),
        ("interlace, keep-field parity=bottom", P720, (0, 720)),
        ("size height=200 anchor=top", P720, (0, 360)),
        ("size height=50", P720, (0, 720)),
        ("fit how=crop", P720.with_(aspect=Fraction(1)), (90, 630)),  # square shape on 4:3: 3/4 of the height
        ("line-average lines=240", I540, (0, 1080)),
        ("line-drop lines=240", I540, (0, 1080)),
        ("line-average lines=120 step=3 phase=6", P720, (6, 366)),
    ],
)
def test_what_is_kept_of_the_source(text: str, source: Raster, kept: tuple[float, float]) -> None:
    assert Chain(text).resolve(source).geometry.kept_lines == pytest.approx(kept)


# operator


def test_operator_is_the_product() -> None:
    """Box 3:2 then drop 2:1 at phase 1: span [1.5, 3) of line 0: half of line 1, all of line 2, over 1.5."""
    found = Chain("line-average lines=480, line-drop lines=240 phase=1").operator(P720).phases[0]
    assert taps(found, 0) == pytest.approx({1: 1 / 3, 2: 2 / 3}, abs=2e-9)


def test_operator_of_a_flicker_filter_and_fields() -> None:
    top, bottom = Chain("flicker-filter taps=1/2/1, interlace").operator(Raster(8, 2)).phases
    assert taps(top, 1) == {1: 0.25, 2: 0.5, 3: 0.25} and taps(bottom, 1) == {2: 0.25, 3: 0.5, 4: 0.25}


def test_operator_leaves_point_stages_out() -> None:
    with_point = Chain("line-average lines=480, quantise, line-drop lines=240").operator(P720).phases[0]
    without = Chain("line-average lines=480, line-drop lines=240").operator(P720).phases[0]
    assert with_point.lines is not None and without.lines is not None
    assert np.array_equal(with_point.lines.toarray(), without.lines.toarray())


@pytest.mark.parametrize(
    "text",
    [
        "line-average lines=480, quantise, flicker-filter, interlace, field-only",
        "resample samples=640, level gain=0.9, position lines=0.4, chroma, line-average lines=240",
        "interlace, deinterlace how=bob, quantise, line-drop lines=240",
        "quantise",
    ],
)
def test_operator_is_the_product_of_every_stage_by_itself(text: str) -> None:
    """However the steps were composed, the matrix is that of the linear stages one after another."""
    plan, alone = Chain(text).resolve(P720), Chain(text).resolve(P720, fuse=False)
    by_hand = still()
    for step in alone.steps:
        if isinstance(step, LinearStep):
            by_hand = step.operator @ by_hand
    found = plan.operator()
    assert found.period == by_hand.period
    for got, wanted in zip(found.phases, by_hand.phases, strict=True):
        assert got.encoding == wanted.encoding
        for axis in ("lines", "samples"):
            mine, theirs = getattr(got, axis), getattr(wanted, axis)
            assert (mine is None) == (theirs is None)
            if mine is not None:
                np.testing.assert_allclose(mine.toarray(), theirs.toarray(), rtol=0, atol=1e-12)


def test_operator_refuses_frame_stages_and_mixed_encodings() -> None:
    with pytest.raises(ParameterError, match="deinterlace: joins pictures of two times"):
        Chain("interlace, deinterlace").operator(P720)
    with pytest.raises(EncodingError, match="cannot be composed"):
        Chain("line-average lines=480 encoding=light, line-average lines=240").operator(P720)


@pytest.mark.parametrize(
    ("text", "source"),
    [
        ("flicker-filter taps=paired", Raster(481, 4)),
        ("interlace", Raster(481, 4)),
        ("line-drop lines=900", P720),
        ("deinterlace how=bob", P720),
        ("field-only", P720),
    ],
)
def test_operator_refuses_what_the_plan_refuses(text: str, source: Raster) -> None:
    with pytest.raises(ParameterError):
        Chain(text).resolve(source)
    with pytest.raises(ParameterError):
        Chain(text).operator(source)


# places in errors


def test_errors_carry_their_place_and_type() -> None:
    with pytest.raises(ParameterError) as refused:
        Chain("quantise, line-average lines=481, interlace, line-drop lines=240").resolve(P720)
    text = str(refused.value)
    assert text.startswith("stage 3 of 4, input 481 lines, 8 samples, progressive: interlace: got 481 lines")
    assert text.count("stage ") == 1 and "\n" not in text


def test_errors_name_the_first_unfitting_stage() -> None:
    with pytest.raises(
        ScalesimError, match=r"^stage 2 of 3, input 2 x 360 lines, 8 samples, interlaced: interlace:"
    ):
        Chain("interlace, interlace, deinterlace").resolve(P720)


def test_errors_come_before_the_first_picture() -> None:
    """Planning alone finds them, without running anything."""
    chain = Chain("line-drop lines=721")
    with pytest.raises(ParameterError):
        chain.resolve(P720)
    with pytest.raises(ParameterError):
        list(islice(chain.run(still_stream(properties.frame_for(P720), P720)), 1))


def test_a_point_step_behind_a_choice_sees_the_smaller_raster() -> None:
    plan = Chain("line-average lines=480, quantise, line-drop lines=240").resolve(P720)
    linear, point = plan.steps
    assert isinstance(linear, LinearStep) and isinstance(point, PointStep)
    assert (linear.before.lines, linear.after.lines, point.before.lines) == (720, 240, 240)
    (picture,) = islice(run(plan, still_stream(properties.frame_for(P720), P720)), 1)
    assert picture.raster == plan.output and picture.values.shape == (240, 8, 3)


def test_geometry_composes_in_order() -> None:
    """A zoom after a shift is not a shift after a zoom: 1/2 (x) - 10 against 1/2 (x - 10)."""
    shift_zoom = Chain("position lines=10, size height=200 anchor=top").resolve(P720).geometry.lines[0]
    zoom_shift = Chain("size height=200 anchor=top, position lines=10").resolve(P720).geometry.lines[0]
    assert shift_zoom == Affine(0.5, -10.0) and zoom_shift == Affine(0.5, -5.0)
