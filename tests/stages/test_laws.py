"""Every kind of stage in `STAGES` through every law that applies to it; a new kind needs no edit here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

import properties
import pytest
import rasters
from hypothesis import given
from hypothesis import strategies as st

from scalesim.chain import Chain
from scalesim.core.kernel import KERNELS
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.schema import from_keys
from scalesim.stages import STAGES, LinearStage, PictureStage, Stage
from scalesim.stages.fields import Deinterlace, FieldOnly, Interlace
from scalesim.stages.geometry import Position, Size
from scalesim.stages.level import Quantise
from scalesim.stages.lines import FlickerFilter, LineAverage, LineDrop, LineRepeat
from scalesim.stages.resample import Resample

NOT_ON_SCREEN = {
    "field-only": "lands both fields on one set of lines: that they disagree is what it models",
    "line-repeat": "repeats the lines of each field as they come, unaware of landings",
}
"""Linear kinds whose fields need not agree on the screen, with the reason."""

UNEVEN = {
    "size": 5e-3,  # a widened triangle sampled at whole lines: its centroid wavers, unlike a plain one's
    "fit": 5e-3,
    "band-limit": 1e-3,  # its taps are longer than these small rasters: some always meet the ends
}
"""Mean centroids of these examples may be off the map by this many lines; all others by 1e-6."""


NEEDS_A_FILE = {"measured"}
"""Kinds that read a file: their laws are in the test of their own family."""


def _example(kind: str) -> Stage:
    return from_keys(STAGES[kind], STAGES[kind].example)


KINDS = [kind for kind in STAGES if kind not in NEEDS_A_FILE]


def _cases(applies: Callable[[Stage, Raster], bool], found: Mapping[str, Raster] = rasters.ALL) -> list[Any]:
    """Return (stage, raster) where the stage takes the raster and a law applies: no case proves nothing."""
    return [
        pytest.param(stage, raster, id=f"{kind} on {name}")
        for kind, stage in ((kind, _example(kind)) for kind in KINDS)
        for name, raster in found.items()
        if _taken(stage, raster) and applies(stage, raster)
    ]


def _taken(stage: Stage, raster: Raster) -> bool:
    try:
        stage.raster(raster)
    except ParameterError:
        return False
    return True


def _any(stage: Stage, raster: Raster) -> bool:
    return True


def _linear(stage: Stage, raster: Raster) -> bool:
    return stage.nature == "linear"


def _mixing(stage: Stage, raster: Raster) -> bool:
    return stage.nature != "point"


def _keeping(stage: Stage, raster: Raster) -> bool:
    return isinstance(stage, PictureStage) and stage.keeps_lines


def _two_pictures(stage: Stage, raster: Raster) -> bool:
    """True when a still comes out as two pictures that should agree on the screen."""
    return stage.kind not in NOT_ON_SCREEN and Chain(stage).resolve(raster).cycle > 1


def _two_linear(stage: Stage, raster: Raster) -> bool:
    return _linear(stage, raster) and _two_pictures(stage, raster)


def _each(cases: list[Any]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize(("stage", "raster"), cases)


@pytest.fixture(autouse=True)
def every_test_asks_a_law(request: pytest.FixtureRequest) -> Iterator[None]:
    """Whatever is collected here comes to a verdict at least once."""
    with properties.some_law_applies(request.node.name):
        yield


@pytest.mark.parametrize("kind", KINDS)
def test_refusals_name_the_stage(kind: str) -> None:
    properties.accepted(_example(kind), [*rasters.ALL.values(), *rasters.WITH_FIELDS.values()])


@_each(_cases(_any))
def test_laws_of_every_stage(stage: Stage, raster: Raster) -> None:
    properties.keys_round_trip(stage)
    properties.output_is_on_its_raster(stage, raster)
    properties.input_is_untouched(stage, raster)
    properties.result_is_apart_from_input(Chain(stage), raster)
    properties.text_round_trips(Chain(stage, name="one"))
    properties.toml_round_trips(Chain(stage, name="one"))
    properties.cycle_repeats(Chain(stage), raster)
    properties.bright_lines_come_out_where_maps_say(stage, raster, tolerance=0.03)


@_each(_cases(_mixing))
def test_a_flat_picture_stays_flat(stage: Stage, raster: Raster) -> None:
    properties.flat_stays_flat(stage, raster)


@_each(_cases(_keeping))
def test_lines_that_are_said_to_be_kept_are(stage: PictureStage, raster: Raster) -> None:
    properties.kept_lines_stay(stage, raster)


@_each(_cases(_linear))
def test_laws_of_linear_stages(stage: LinearStage, raster: Raster) -> None:
    line_maps, _ = stage.maps(raster)
    after = stage.raster(raster)
    shape = (raster.lines, raster.samples, 3)
    for k, operator in enumerate(stage.operator(raster).phases):
        rows = properties.interior(line_maps[k % len(line_maps)], after.lines, raster.lines)
        if operator.lines is not None:
            properties.rows_sum_to(operator, 1.0, rows)
        properties.linear_in_its_encoding(operator, shape)
        if operator.encoding == "any":
            properties.any_commutes_with_curves(operator, shape)
        if operator.is_choice:
            properties.choice_commutes_with(operator, lambda v: Quantise(bits=5).apply(v, raster), shape)
    properties.maps_match_taps(stage, raster, tolerance=UNEVEN.get(stage.kind, 1e-6))
    properties.geometry_matches_ramp(Chain(stage), raster, tolerance=UNEVEN.get(stage.kind, 1e-6))


@_each(_cases(_two_linear, rasters.WITH_FIELDS))
def test_taps_of_the_fields_agree_after_every_linear_stage(stage: LinearStage, raster: Raster) -> None:
    # a drop finds whole lines only: its fields agree to half the grid its phases fall on, here 1/4 line
    tolerance = 0.25 + 1e-6 if stage.kind == "line-drop" else UNEVEN.get(stage.kind, 1e-6)
    properties.fields_agree_on_screen(stage, raster, tolerance)


@_each(_cases(_two_pictures, rasters.WITH_FIELDS))
def test_fields_show_one_place_after_every_stage(stage: Stage, raster: Raster) -> None:
    properties.fields_show_one_place(stage, raster, 0.3 if stage.kind == "line-drop" else 0.02)


@pytest.mark.parametrize("raster", [rasters.INTERLACED_540, rasters.BOTTOM_FIRST_540], ids=["top", "bottom"])
@pytest.mark.parametrize("height", [101, 110, 133.3])
@pytest.mark.parametrize("anchor", ["centre", "top", "bottom"])
def test_fields_agree_exactly_when_enlarged(height: float, anchor: str, raster: Raster) -> None:
    """Straight-line interpolation gives ramps back exactly, so here nothing wavers."""
    properties.fields_agree_on_screen(Size(height=height, anchor=anchor), raster, 1e-6)


@pytest.mark.parametrize(
    "reduce", [LineAverage(lines=240), Resample(lines=240), Resample(lines=240, kernel="cubic")]
)
def test_naive_fields_disagree_on_screen(reduce: LineAverage | Resample) -> None:
    """1080i to 480i: one phase for both fields puts them 1 - s = 1.25 frame lines apart (s = 2.25)."""
    naive = from_keys(
        type(reduce),
        {"lines": 240, "kernel": reduce.kernel, "fields": "naive"}
        if isinstance(reduce, Resample)
        else {"lines": 240, "fields": "naive"},
    )
    properties.fields_agree_on_screen(reduce, rasters.INTERLACED_540)
    with pytest.raises(AssertionError, match=r"the fields are 1\.25\d* landed lines apart"):
        properties.fields_agree_on_screen(naive, rasters.INTERLACED_540)


# random keys --------------------------------------------------------------------------------------

line_counts = st.integers(100, 480)
phases = st.floats(-4, 4)
kernels = st.sampled_from(list(KERNELS))
steps = st.one_of(st.none(), st.floats(1.0, 3.0))
fields = st.sampled_from(["aware", "naive"])
some_raster = st.sampled_from(list(rasters.ALL.values()))
frame_rasters = st.sampled_from([rasters.PROGRESSIVE_720, rasters.PROGRESSIVE_480, rasters.ODD_481])

drops = st.builds(LineDrop, lines=line_counts, phase=phases, step=steps, fields=fields)
averages = st.builds(
    LineAverage,
    lines=line_counts,
    phase=phases,
    step=steps,
    fields=fields,
    encoding=st.sampled_from(["code", "light"]),
)
resamples = st.builds(
    Resample,
    lines=line_counts,
    kernel=kernels,
    phase=phases,
    step=steps,
    antialias=st.booleans(),
    fields=fields,
    encoding=st.sampled_from(["code", "light"]),
)
positions = st.builds(Position, lines=st.floats(-9, 9), samples=st.floats(-3, 3), kernel=kernels)
sizes = st.builds(Size, height=st.floats(60, 140), width=st.floats(80, 120), kernel=kernels)
filters = st.builds(FlickerFilter, taps=st.sampled_from(["1", "1/2/1", "1/6/1", "1/2/2/2/1", "-1/2/6/2/-1"]))
linear_stages = st.one_of(drops, averages, resamples, positions, sizes, filters)


@given(stage=linear_stages, raster=some_raster)
def test_random_linear_stages(stage: LinearStage, raster: Raster) -> None:
    properties.keys_round_trip(stage)
    properties.text_round_trips(Chain(stage))
    properties.toml_round_trips(Chain(stage))
    line_maps, _ = stage.maps(raster)
    after = stage.raster(raster)
    operators = stage.operator(raster)
    for k, operator in enumerate(operators.phases):
        rows = properties.interior(line_maps[k % len(line_maps)], after.lines, raster.lines)
        if operator.lines is not None:
            properties.rows_sum_to(operator, 1.0, rows)
        properties.linear_in_its_encoding(operator, (raster.lines, raster.samples, 3))
    # half a line for drops on few phases, a tenth for kernels that do not reproduce ramps
    properties.maps_match_taps(stage, raster, tolerance=0.5 if isinstance(stage, LineDrop) else 0.15)


@given(stage=st.one_of(drops, averages, resamples), raster=some_raster, lines=st.integers(-9, 9))
def test_random_phase_shifts(stage: LineDrop | LineAverage | Resample, raster: Raster, lines: int) -> None:
    properties.phase_shift_is_input_shift(stage, raster, lines)


@given(lines=st.integers(1, 300), times=st.integers(1, 5), data=st.data())
def test_drop_after_repeat_is_identity(lines: int, times: int, data: st.DataObject) -> None:
    """Whichever of the repeats is kept."""
    before = Raster(lines, 1)
    repeat = LineRepeat(times=times)
    kept = data.draw(st.integers(0, times - 1))
    drop = LineDrop(lines=lines, phase=kept)
    properties.undoes(drop.operator(repeat.raster(before)), repeat.operator(before), lines)


@pytest.mark.parametrize("first", ["top", "bottom"])
def test_weave_after_fields_is_identity_on_stills(first: str) -> None:
    properties.fields_come_back(
        Chain(Interlace(first=first), Deinterlace(how="weave")), rasters.PROGRESSIVE_480
    )


@pytest.mark.parametrize(
    "raster", [rasters.PROGRESSIVE_480, rasters.INTERLACED_540], ids=["frames", "fields"]
)
def test_position_moves_the_picture_down_and_phase_moves_the_sampling_down(raster: Raster) -> None:
    """Both signs in words: position lines=+n puts line i on line i + n, so the picture goes DOWN the screen;
    phase=+n makes line r show what lay n lines further DOWN the source, so the picture goes up."""
    properties.picture_moves_down(lambda n: Position(lines=n), raster)
    lines = raster.lines // 2
    properties.sampling_moves_down(lambda p: LineDrop(lines=lines, phase=p), raster)
    properties.sampling_moves_down(lambda p: LineAverage(lines=lines, phase=p), raster)
    properties.sampling_moves_down(lambda p: Resample(lines=lines, phase=p), raster)


def test_field_only_is_the_one_that_disagrees() -> None:
    """The reason in NOT_ON_SCREEN is true: half a field line, which is half a scan line here."""
    with pytest.raises(AssertionError, match="apart on the screen"):
        properties.fields_agree_on_screen(FieldOnly(), rasters.INTERLACED_540)
