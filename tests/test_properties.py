"""Every law of `properties` FAILS on something deliberately wrong, and passes on the right thing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np
import properties
import pytest
import rasters
from greatest import Greatest
from numpy.typing import NDArray
from scipy.sparse import csr_array

from scalesim.chain import Chain
from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.build import average_lines, repeat_lines, select_lines
from scalesim.core.encoding import code_to_light
from scalesim.core.operator import FieldOperator, Operator, still
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.schema import param
from scalesim.stages import FrameStage, LinearStage, PictureStage, PointStage
from scalesim.stages._base import Maps, Stage
from scalesim.stages.colour import Chroma
from scalesim.stages.fields import Deinterlace, FieldOnly, Interlace
from scalesim.stages.geometry import Position
from scalesim.stages.level import Level, Quantise
from scalesim.stages.lines import LineAverage, LineDrop
from scalesim.stages.resample import Resample

FRAMES = rasters.PROGRESSIVE_480
FIELDS = rasters.INTERLACED_540
SHAPE = (480, 4, 3)


def fails(match: str) -> Any:
    return pytest.raises(AssertionError, match=match)


# operators


def test_rows_sum_to() -> None:
    right = average_lines(480, 240, 2.0)
    properties.rows_sum_to(Operator(right, encoding="code"), 1.0)
    with fails("row sum: off by 0.01"):
        properties.rows_sum_to(Operator(right * 1.01, encoding="code"), 1.0)
    with fails("no rows to sum"):
        properties.rows_sum_to(Operator(), 1.0)


class _Clipping(Operator):
    def __call__(self, values: NDArray) -> NDArray:
        return np.clip(super().__call__(values), 0.0, 0.5)


@pytest.mark.parametrize("encoding", ["code", "light"])
def test_linear_in_its_encoding(encoding: Any) -> None:
    matrix = average_lines(480, 240, 2.0)
    properties.linear_in_its_encoding(Operator(matrix, encoding=encoding), SHAPE)
    with fails(f"linearity in {encoding} values"):
        properties.linear_in_its_encoding(_Clipping(matrix, encoding=encoding), SHAPE)


def test_linear_in_its_encoding_notices_the_wrong_encoding() -> None:
    class Mislabelled(Operator):
        def __call__(self, values: NDArray) -> NDArray:
            return Operator(self.lines, encoding="light")(values)

    with fails("linearity in code values"):
        properties.linear_in_its_encoding(Mislabelled(average_lines(480, 240, 2.0), encoding="code"), SHAPE)


def test_any_commutes_with_curves() -> None:
    properties.any_commutes_with_curves(Operator(select_lines(480, 240, 2.0)), SHAPE)
    with fails("curve first against curve last"):
        properties.any_commutes_with_curves(Operator(average_lines(480, 240, 2.0), encoding="any"), SHAPE)
    with fails("not for 'code'"):
        properties.any_commutes_with_curves(Operator(encoding="code"), SHAPE)


def test_choice_commutes_with() -> None:
    def rounding(values: NDArray) -> NDArray:
        return Quantise(bits=3).apply(values, FRAMES)

    def by_line(values: NDArray) -> NDArray:
        return values * np.arange(len(values), dtype=values.dtype)[:, None, None]

    choice = Operator(select_lines(480, 240, 2.0, 1.0))
    properties.choice_commutes_with(choice, rounding, SHAPE)
    with fails("before and after differ"):
        properties.choice_commutes_with(choice, by_line, SHAPE)
    with fails("for choices"):
        properties.choice_commutes_with(
            Operator(average_lines(480, 240, 2.0), encoding="code"), rounding, SHAPE
        )


def test_undoes() -> None:
    repeat = still(repeat_lines(6, 2))
    properties.undoes(still(select_lines(12, 6, 2.0)), repeat, 6)
    with fails("product against identity"):
        properties.undoes(still(select_lines(12, 6, 2.0, 2.0)), repeat, 6)
    with fails("sizes"):
        properties.undoes(still(select_lines(12, 5, 2.0)), repeat, 6)


# stages: each a right one spoilt in one way


@dataclass(frozen=True, kw_only=True)
class _Spoilt(LinearStage):
    kind: ClassVar[str] = "spoilt"
    lines: int = param(240, type="whole")
    phase: float = param(0.0)
    spoil: str = param(
        "", type="choice", choices=("", "raster", "gain", "maps", "naive", "sign", "nan", "dtype")
    )

    def _right(self) -> LineAverage:
        phase = -self.phase if self.spoil == "sign" else self.phase
        return LineAverage(
            lines=self.lines, phase=phase, fields="naive" if self.spoil == "naive" else "aware"
        )

    def raster(self, before: Raster) -> Raster:
        return before.with_(lines=self.lines + (1 if self.spoil == "raster" else 0))

    def maps(self, before: Raster) -> Maps:
        lines, samples = self._right().maps(before)
        shift = 0.5 if self.spoil == "maps" else 0.0
        return tuple(replace(m, offset=m.offset + shift) for m in lines), samples

    def operator(self, before: Raster) -> FieldOperator:
        gain = {"gain": 0.9, "nan": np.nan}.get(self.spoil, 1.0)
        phases = (Operator(p.lines * gain, encoding="code") for p in self._right().operator(before).phases)
        if self.spoil == "dtype":
            phases = (_Doubling(p.lines, encoding="code") for p in phases)
        return FieldOperator(tuple(phases))


class _Doubling(Operator):
    def __call__(self, values: NDArray) -> NDArray:
        return super().__call__(values).astype(np.float64)


@pytest.mark.parametrize(
    ("spoil", "message"),
    [("raster", r"not \(241, 24, 3\)"), ("nan", "not finite"), ("dtype", "from float32")],
)
def test_output_is_on_its_raster(spoil: str, message: str) -> None:
    properties.output_is_on_its_raster(_Spoilt(), FRAMES)
    with fails(message):
        properties.output_is_on_its_raster(_Spoilt(spoil=spoil), FRAMES)


@pytest.mark.parametrize(
    ("spoil", "message"),
    [
        ("raster", r"greatest: gave \(240, 24, 3\) float32; it must give \(241, 24, 3\) float32"),
        ("dtype", r"greatest: gave \(240, 24, 3\) float16; it must give \(240, 24, 3\) float32"),
        ("list", "greatest: gave list; it must give"),
    ],
)
def test_output_is_on_its_raster_when_the_stage_is_not_linear(spoil: str, message: str) -> None:
    properties.output_is_on_its_raster(Greatest(), FIELDS)
    with fails(message):
        properties.output_is_on_its_raster(Greatest(spoil=spoil), FIELDS)


@dataclass(frozen=True, kw_only=True)
class _InPlace(PointStage):
    kind: ClassVar[str] = "in-place"

    def apply(self, values: NDArray, before: Raster) -> NDArray:
        values *= values.dtype.type(0.5)
        return values


def test_input_is_untouched() -> None:
    properties.input_is_untouched(Level(gain=0.5), FRAMES)
    with fails("wrote into its input"):
        properties.input_is_untouched(_InPlace(), FRAMES)


@pytest.mark.parametrize(
    ("text", "raster"),
    [
        *((text, raster) for text in ("overscan", "fit", "position lines=0") for raster in (FRAMES, FIELDS)),
        ("keep-field", FIELDS),
    ],
)
def test_result_is_apart_from_input(text: str, raster: Raster, monkeypatch: pytest.MonkeyPatch) -> None:
    """Stages that change no value hand on the array they were given; without the copy it would get out."""
    properties.result_is_apart_from_input(Chain(text), raster)
    monkeypatch.setattr("scalesim.chain.run._Given.apart_from", lambda self, values: values)
    properties.result_is_apart_from_input(Chain("line-average lines=200"), raster)
    with fails("picture 0 lies in its source's memory"):
        properties.result_is_apart_from_input(Chain(text), raster)


@dataclass(frozen=True, kw_only=True)
class _Widening(PictureStage):
    """Says that it keeps lines, and gives each the greatest of itself and the one above."""

    kind: ClassVar[str] = "widening"
    keeps_lines: ClassVar[bool] = True

    def apply(self, values: NDArray, before: Raster, phase: int = 0) -> NDArray:
        return np.maximum(values, np.roll(values, 1, axis=0))


@pytest.mark.parametrize("raster", [FRAMES, FIELDS], ids=["frames", "fields"])
def test_kept_lines_stay(raster: Raster) -> None:
    properties.kept_lines_stay(Chroma(sampling="420"), raster)
    with fails("widening: line .* changed, and lines .* with it"):
        properties.kept_lines_stay(_Widening(), raster)
    with fails("greatest: does not say that it keeps lines"):
        properties.kept_lines_stay(Greatest(), raster)

    class Shrinking(Greatest):
        keeps_lines = True

    with fails("not their number"):
        properties.kept_lines_stay(Shrinking(lines=120), raster)


def test_flat_stays_flat() -> None:
    properties.flat_stays_flat(_Spoilt(), FRAMES)
    with fails("flat 0.5: off by 0.05"):
        properties.flat_stays_flat(_Spoilt(spoil="gain"), FRAMES)


def test_maps_match_taps() -> None:
    properties.maps_match_taps(_Spoilt(), FRAMES)
    with fails("spoilt: lines of phase 0: centroid minus map: off by 0.5"):
        properties.maps_match_taps(_Spoilt(spoil="maps"), FRAMES)


def test_maps_match_taps_looks_at_samples() -> None:
    class Still(Position):
        kind = "still"

        def maps(self, before: Raster) -> Maps:
            return (IDENTITY,), Affine(1.0, 0.25)

        def operator(self, before: Raster) -> FieldOperator:
            return still()

    with fails("still: samples of phase 0"):
        properties.maps_match_taps(Still(), FRAMES)


def test_fields_agree_on_screen() -> None:
    properties.fields_agree_on_screen(_Spoilt(), FIELDS)
    with fails("landed lines apart"):
        properties.fields_agree_on_screen(_Spoilt(spoil="naive"), FIELDS)
    with fails("neither side has two fields"):
        properties.fields_agree_on_screen(_Spoilt(), FRAMES)


REDUCED = pytest.mark.parametrize(
    ("raster", "lines", "off"),
    [(rasters.INTERLACED_240, 160, r"0\.(49|50)\d*"), (FIELDS, 240, r"1\.2[45]\d*")],
    ids=["480i", "1080i"],
)


@REDUCED
def test_bright_lines_come_out_where_maps_say(raster: Raster, lines: int, off: str) -> None:
    """One phase for both fields moves the second by s - 1 frame lines of the source, s lines to one."""
    for right in (Greatest(lines=lines), Greatest(lines=lines, spoil="naive"), _Spoilt(lines=lines)):
        properties.bright_lines_come_out_where_maps_say(right, raster, 0.02)
    with fails(rf"picture 1, source frame lines off its map: off by {off} "):
        properties.bright_lines_come_out_where_maps_say(Greatest(lines=lines, spoil="unaware"), raster, 0.02)
    with fails("bright lines of picture 0, source frame lines off its map: off by 1 "):
        properties.bright_lines_come_out_where_maps_say(_Spoilt(lines=lines, spoil="maps"), raster, 0.02)


@REDUCED
def test_fields_show_one_place(raster: Raster, lines: int, off: str) -> None:
    """Fields should look s frame lines of the source apart; with one phase they look 1 apart, s - 1 off."""
    for right in (Greatest(lines=lines), _Spoilt(lines=lines)):
        properties.fields_show_one_place(right, raster, 0.02)
    for wrong in (
        Greatest(lines=lines, spoil="naive"),
        Greatest(lines=lines, spoil="unaware"),
        _Spoilt(lines=lines, spoil="naive"),
    ):
        with fails(rf"{wrong.kind}: the fields show a bright line {off}\d* source frame lines apart"):
            properties.fields_show_one_place(wrong, raster, 0.02)
    with fails("neither side has two fields"):
        properties.fields_show_one_place(Greatest(), FRAMES, 0.02)


def test_bright_lines_must_be_there() -> None:
    """A map that looks elsewhere altogether finds none, which is no agreement."""

    class Elsewhere(Greatest):
        def maps(self, before: Raster) -> Maps:
            return (Affine(before.lines / self.lines, 40.0),), IDENTITY

    class Black(Greatest):
        def apply(self, values: NDArray, before: Raster, phase: int = 0) -> NDArray:
            return 0 * super().apply(values, before, phase)

    for wrong in (Elsewhere(), Black()):
        with fails("off by|bright lines are not where maps look"):
            properties.bright_lines_come_out_where_maps_say(wrong, FRAMES, 0.02)
    with fails("are too few"):
        properties.fields_show_one_place(Greatest(lines=8), FIELDS, 0.02)


def test_phase_shift_is_input_shift() -> None:
    properties.phase_shift_is_input_shift(_Spoilt(phase=0.25), FIELDS, 3)
    with fails("phase [+] 3"):
        properties.phase_shift_is_input_shift(_Spoilt(phase=0.25, spoil="sign"), FIELDS, 3)


def test_picture_moves_down() -> None:
    properties.picture_moves_down(lambda n: Position(lines=n), FRAMES)
    with fails("line i is not on line i [+] 1"):
        properties.picture_moves_down(lambda n: Position(lines=-n), FRAMES)

    class Filled(Position):
        def operator(self, before: Raster) -> FieldOperator:
            return still(select_lines(before.lines, before.lines, 1.0, -self.lines, edge="replicate"))

    with fails("not black"):
        properties.picture_moves_down(lambda n: Filled(lines=n), FRAMES)


def test_sampling_moves_down() -> None:
    properties.sampling_moves_down(lambda p: LineDrop(lines=240, phase=p), FRAMES)
    with fails("sampling point"):
        properties.sampling_moves_down(lambda p: LineDrop(lines=240, phase=-p), FRAMES)


# chains


@dataclass(frozen=True, kw_only=True)
class _Slipping(LinearStage):
    """Gives another operator each time it is asked: fused and plain plans cannot agree."""

    kind: ClassVar[str] = "slipping"
    asked: ClassVar[list[int]] = []

    def operator(self, before: Raster) -> FieldOperator:
        self.asked.append(1)
        return still(select_lines(before.lines, before.lines, 1.0, float(len(self.asked))))


def test_fused_equals_stage_by_stage() -> None:
    properties.fused_equals_stage_by_stage(Chain("line-average lines=240, quantise, interlace"), FRAMES)
    with fails("fused against stage by stage"):
        properties.fused_equals_stage_by_stage(Chain(LineAverage(lines=240), _Slipping()), FRAMES)


@dataclass(frozen=True, kw_only=True)
class _Drifting(FrameStage):
    kind: ClassVar[str] = "drifting"

    def apply(self, pictures: Iterator[Picture], before: Raster) -> Iterator[Picture]:
        for index, picture in enumerate(pictures):
            yield replace(picture, values=np.roll(picture.values, index, axis=0))


def test_cycle_repeats() -> None:
    properties.cycle_repeats(Chain("interlace, deinterlace how=bob"), FRAMES)
    with fails("picture 1 is not picture 0"):
        properties.cycle_repeats(Chain(_Drifting()), FRAMES)


def test_geometry_matches_ramp() -> None:
    properties.geometry_matches_ramp(Chain("interlace, position lines=2"), FRAMES)
    with fails("frame line shown: off by 0.5"):
        properties.geometry_matches_ramp(Chain(_Spoilt(spoil="maps")), FRAMES)


def test_fields_come_back() -> None:
    properties.fields_come_back(Chain(Interlace(), Deinterlace(how="weave")), FRAMES)
    with fails("does not come back"):
        properties.fields_come_back(Chain(Interlace(), Deinterlace(how="bob")), FRAMES)


@dataclass(frozen=True, kw_only=True)
class _Forgetful(PointStage):
    """Loses a key on the way: what it is given is not what it keeps."""

    kind: ClassVar[str] = "level"
    gain: float = param(1.0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "gain", self.gain + 1.0)


def test_keys_round_trip() -> None:
    properties.keys_round_trip(Level(gain=0.5))
    with fails("became"):
        properties.keys_round_trip(_Forgetful(gain=2.0))


def test_text_and_toml_round_trips() -> None:
    chain = Chain(LineDrop(lines=240, phase=1 / 3), name="a name, with: marks")
    properties.text_round_trips(chain)
    properties.toml_round_trips(chain)
    wrong = Chain(_Forgetful(gain=2.0))  # reads back as the registered stage of that kind
    for law in (properties.text_round_trips, properties.toml_round_trips):
        with fails("became"):
            law(wrong)


def test_round_trips_notice_a_lost_name(monkeypatch: pytest.MonkeyPatch) -> None:
    chain = Chain(LineDrop(lines=240), name="kept")
    monkeypatch.setattr(Chain, "__str__", lambda self: self.text)
    monkeypatch.setattr(Chain, "to_toml", lambda self: '[[stage]]\nkind = "line-drop"\nlines = 240\n')
    for law in (properties.text_round_trips, properties.toml_round_trips):
        with fails("name 'kept' became ''"):
            law(chain)


# the helpers themselves


def test_some_law_applies() -> None:
    """A test that asks a law passes, whatever the verdict; one that asks none, or comes to none, fails."""
    with properties.some_law_applies("asks"):
        properties.undoes(still(select_lines(12, 6, 2.0)), still(repeat_lines(6, 2)), 6)
    with properties.some_law_applies("refutes"), fails("sizes"):
        properties.undoes(still(select_lines(12, 5, 2.0)), still(repeat_lines(6, 2)), 6)
    with fails("asks none: no law was asked"), properties.some_law_applies("asks none"):
        pass
    with (
        fails("breaks: no law was asked"),
        properties.some_law_applies("breaks"),
        pytest.raises(TypeError),
    ):
        properties.undoes(None, None, 6)  # type: ignore[arg-type]  # no verdict


def test_interior_refuses_to_be_empty() -> None:
    with fails("no interior rows"):
        properties.interior(Affine(3.0), 4, 12)


def test_near_refuses_to_compare_nothing() -> None:
    with fails("nothing compared"):
        properties._near(np.zeros(0), 0.0, 1.0, "empty")


def test_near_refuses_nan() -> None:
    with fails("off by nan"):
        properties._near(np.array([np.nan]), 0.0, 1.0, "undefined")


def test_accepted_wants_refusals_that_name_the_stage() -> None:
    class Silent(Interlace):
        kind = "silent"

    assert properties.accepted(FieldOnly(), [FRAMES, FIELDS]) == [FIELDS]
    with fails("refusal does not name it"):
        properties.accepted(Silent(), [FIELDS, FRAMES])
    with fails("no raster is taken"):
        properties.accepted(FieldOnly(), [FRAMES])


def test_light_is_what_the_laws_think_it_is() -> None:
    """The linearity law decodes with the package's own function; pinned here: 0.5^2.4 (ITU-R BT.1886)."""
    assert float(code_to_light(np.array([0.5]))[0]) == pytest.approx(0.18946457, abs=1e-8)


def test_resample_default_kernel_is_symmetric() -> None:
    lines = Resample(lines=240).operator(FRAMES).phases[0].lines
    assert isinstance(lines, csr_array)
    assert np.allclose(lines.toarray(), lines.toarray()[::-1, ::-1])


def test_stage_without_a_nature_says_so() -> None:
    with pytest.raises(NotImplementedError):
        _ = Stage().nature
