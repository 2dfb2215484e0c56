"""The laws every stage and operator must obey: one function per law.

Each raises AssertionError with a message that says what was found; none returns a bool, so no caller
can drop the answer. `test_properties.py` shows every one of them failing on something wrong.
Unless a law says otherwise it looks at *interior* rows only: those far enough from the top and
bottom (or left and right) that the edge rule has no say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from fractions import Fraction
from functools import wraps
from itertools import islice
from math import lcm
from typing import ParamSpec, TypeVar

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.run import run
from scalesim.core.affine import Affine
from scalesim.core.encoding import code_to_light, light_to_code
from scalesim.core.geometry import Geometry
from scalesim.core.operator import FieldOperator, Operator
from scalesim.core.picture import Picture, still_stream
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError, ShapeError
from scalesim.schema import changed_keys, from_keys
from scalesim.stages import LinearStage, PictureStage, Stage

WIDEST_KERNEL = 3.0
"""Half-width of lanczos3, the widest kernel there is, before it is widened by the step."""


APPLIED: Counter[str] = Counter()
"""How often each law came to a verdict."""

P = ParamSpec("P")
T = TypeVar("T")


def law(function: Callable[P, T]) -> Callable[P, T]:
    """Count a law whenever it passes or fails, so that a test can tell that it tested something."""

    @wraps(function)
    def counted(*values: P.args, **options: P.kwargs) -> T:
        try:
            found = function(*values, **options)
        except AssertionError:
            APPLIED[function.__name__] += 1
            raise
        APPLIED[function.__name__] += 1
        return found

    return counted


@contextmanager
def some_law_applies(name: str) -> Iterator[None]:
    """Fail unless a law comes to a verdict meanwhile: a test that asks none proves nothing."""
    before = APPLIED.total()
    yield
    assert APPLIED.total() > before, f"{name}: no law was asked, so it proves nothing"


def seeded(shape: tuple[int, ...], seed: int = 0, dtype: type = np.float64) -> NDArray:
    """Return code values 0..1 that are the same on every machine."""
    return np.random.RandomState(seed).uniform(0.0, 1.0, shape).astype(dtype)


def frame_for(raster: Raster, seed: int = 0, dtype: type = np.float64) -> NDArray:
    """Return a seeded frame (woven if it has fields) for `raster`."""
    return seeded((raster.frame_lines, raster.samples, 3), seed, dtype)


def interior(look: Affine, size_out: int, size_in: int, clear: float = 0.0) -> NDArray:
    """Return the output rows whose kernel, however wide, stays `clear` lines inside the input."""
    margin = (WIDEST_KERNEL + 1.0) * max(look.scale, 1.0) + 1.0 + clear
    rows = np.arange(size_out)
    rows = rows[(look(rows) - margin >= 0) & (look(rows + 1) + margin <= size_in)]
    assert len(rows), f"no interior rows: {size_in} lines in are too few to test {look} on {size_out} out"
    return rows


def whole_periods(rows: NDArray, step: float) -> NDArray:
    """Return as many rows as make whole periods of a rational step, so that means are exact.

    Twelve times over, because a chain's step may hide those of its stages (2 then 1/2 is 1).
    """
    period = lcm(Fraction(step).limit_denominator(1000).denominator, 12)
    keep = len(rows) // period * period
    return rows[: keep or len(rows)]


def centroids(matrix: NDArray, rows: NDArray) -> NDArray:
    """Return the mean input coordinate of each row's taps; line i has its middle at i + 1/2."""
    taps = matrix[rows]
    return taps @ (np.arange(matrix.shape[1]) + 0.5) / taps.sum(axis=1)


def matrices(operator: Operator, before: Raster) -> tuple[NDArray, NDArray]:
    """Return the lines' and the samples' matrix of an operator as dense arrays."""
    lines = np.eye(before.lines) if operator.lines is None else operator.lines.toarray()
    samples = np.eye(before.samples) if operator.samples is None else operator.samples.toarray()
    return lines, samples


# operators ----------------------------------------------------------------------------------------


@law
def rows_sum_to(operator: Operator, gain: float, rows: NDArray | None = None) -> None:
    """Every (interior) row of the lines' matrix sums to the stated gain, or a flat picture would change."""
    assert operator.lines is not None, "operator leaves the lines alone: there are no rows to sum"
    sums = np.asarray(operator.lines.sum(axis=1)).ravel()
    _near(sums if rows is None else sums[rows], gain, 1e-9, "row sum")


@law
def linear_in_its_encoding(operator: Operator, shape: tuple[int, int, int], seed: int = 0) -> None:
    """What comes out for a*x + b*y is a times what comes out for x plus b times that for y."""
    x, y = seeded(shape, seed), seeded(shape, seed + 1)
    a, b = 0.7, -0.4
    decode, encode = (
        (code_to_light, light_to_code) if operator.encoding == "light" else (_same, _same)
    )  # "any" must be linear in code values too

    def through(values: NDArray) -> NDArray:
        return decode(operator(encode(values)))

    _near(
        through(a * x + b * y),
        a * through(x) + b * through(y),
        1e-9,
        f"linearity in {operator.encoding} values",
    )


@law
def any_commutes_with_curves(operator: Operator, shape: tuple[int, int, int], seed: int = 0) -> None:
    """An operator of encoding "any" gives the same before and after an arbitrary curve with f(0) = 0.

    f(0) = 0 because black lines it puts in are not curved on their way.
    """
    assert operator.encoding == "any", f"this law is for 'any', not for '{operator.encoding}'"
    knots = np.linspace(0.0, 1.0, 9)
    heights = np.concatenate([[0.0], seeded((8,), seed + 7)])

    def curve(values: NDArray) -> NDArray:
        return np.interp(values, knots, heights)

    x = seeded(shape, seed)
    _near(operator(curve(x)), curve(operator(x)), 1e-12, "curve first against curve last")


@law
def choice_commutes_with(
    operator: Operator, point: Callable[[NDArray], NDArray], shape: tuple[int, int, int]
) -> None:
    """A choice gives bit for bit the same before or after a rounding or any other value by value step."""
    assert operator.is_choice, "this law is for choices: rows that are a single 1"
    x = seeded(shape, 3, np.float32)
    first, last = operator(point(x)), point(operator(x))
    assert np.array_equal(first, last), (
        f"choice before and after differ on {np.mean(first != last):.0%} of values"
    )


@law
def undoes(second: FieldOperator, first: FieldOperator, lines: int) -> None:
    """The two in series are the identity (drop after repeat)."""
    product = (second @ first).phases
    for phase in product:
        assert phase.lines is not None and phase.lines.shape == (lines, lines), "the sizes do not come back"
        _near(phase.lines.toarray(), np.eye(lines), 0.0, "product against identity")


# stages -------------------------------------------------------------------------------------------


@law
def output_is_on_its_raster(stage: Stage, before: Raster) -> None:
    """What comes out has the lines and samples `raster` promises, the dtype of the input, finite values."""
    after = stage.raster(before)
    for dtype in (np.float32, np.float64):
        try:
            pictures = outputs_of(stage, before, dtype)
        except ShapeError as refusal:  # the chain notices by itself what a stage on single pictures gives
            raise AssertionError(str(refusal)) from None
        for picture in pictures:
            expected = (after.lines, after.samples, 3)
            assert picture.values.shape == expected, f"{stage.kind}: {picture.values.shape}, not {expected}"
            assert picture.values.dtype == dtype, (
                f"{stage.kind}: {picture.values.dtype} from {np.dtype(dtype)}"
            )
            assert np.isfinite(picture.values).all(), f"{stage.kind}: values are not finite"


@law
def input_is_untouched(stage: Stage, before: Raster) -> None:
    """A stage never writes into the pictures it is given (they may be shown again)."""
    frame = frame_for(before, 4, np.float32)
    kept = frame.copy()
    stream = islice(still_stream(frame, before), 4)
    list(run(Chain(stage).resolve(before), stream))
    assert np.array_equal(frame, kept), f"{stage.kind}: wrote into its input"


@law
def result_is_apart_from_input(chain: Chain, before: Raster) -> None:
    """What comes out lies in other memory than what came in: writing into it leaves the source alone."""
    frame = frame_for(before, 11, np.float32)
    for k, picture in enumerate(chain.run_still(before, still_stream(frame, before))):
        assert not np.shares_memory(picture.values, frame), (
            f"{chain.text}: picture {k} lies in its source's memory"
        )


@law
def kept_lines_stay(stage: PictureStage, before: Raster) -> None:
    """A stage that says it keeps lines does: a grey line changed in the source changes that line alone."""
    assert stage.keeps_lines, f"{stage.kind}: does not say that it keeps lines"
    assert stage.raster(before).lines == before.lines, f"{stage.kind}: keeps lines, but not their number"
    grey = seeded((before.frame_lines, before.samples, 1), 12) * np.ones(3)
    for line in (before.frame_lines // 2, before.frame_lines // 3):
        other = grey.copy()
        other[line] = 1.0 - other[line]
        pairs = zip(
            outputs_of(stage, before, frame=grey), outputs_of(stage, before, frame=other), strict=True
        )
        for phase, (one, two) in enumerate(pairs):
            changed = np.flatnonzero(np.abs(one.values - two.values).max(axis=(1, 2)) > 1e-9)
            own = [i for i, y in enumerate(_frame_lines(before, phase)) if y == line]
            assert list(changed) == own, (
                f"{stage.kind}: line {own} changed, and lines {list(changed)} with it"
            )


def _frame_lines(raster: Raster, phase: int) -> range:
    return range(raster.frame_lines)[raster.fields[phase].parity % raster.period :: raster.period]


@law
def flat_stays_flat(stage: Stage, before: Raster, gain: float = 1.0) -> None:
    """A flat picture comes out flat, at the stated gain, on interior lines and samples."""
    frame = np.full((before.frame_lines, before.samples, 3), 0.5)
    after = stage.raster(before)
    line_maps, sample_map = stage.maps(before)
    columns = interior(sample_map, after.samples, before.samples)
    for index, picture in enumerate(outputs_of(stage, before, frame=frame)):
        rows = interior(line_maps[index % len(line_maps)], after.lines, before.lines)
        _near(picture.values[np.ix_(rows, columns)], 0.5 * gain, 1e-9, f"{stage.kind}: flat 0.5")


@law
def maps_match_taps(stage: LinearStage, before: Raster, tolerance: float = 1e-6) -> None:
    """Where `maps` says the output looks is the centroid of the operator's taps, on both axes.

    On average over whole periods of the step: a single dropped or averaged line may be off, because
    input lines are whole, but not all of them to the same side.
    """
    line_maps, sample_map = stage.maps(before)
    operators = stage.operator(before).phases
    for k in range(max(len(operators), len(line_maps))):
        lines, samples = matrices(operators[k % len(operators)], before)
        _map_is(line_maps[k % len(line_maps)], lines, tolerance, f"{stage.kind}: lines of phase {k}")
        _map_is(sample_map, samples, tolerance, f"{stage.kind}: samples of phase {k}")


def _map_is(look: Affine, matrix: NDArray, tolerance: float, name: str) -> None:
    rows = whole_periods(interior(look, *matrix.shape), look.scale)
    _near(np.mean(centroids(matrix, rows) - look(rows + 0.5)), 0.0, tolerance, f"{name}: centroid minus map")


@law
def fields_agree_on_screen(stage: LinearStage, before: Raster, tolerance: float = 1e-6) -> None:
    """Both fields show one place of the screen the same place of the source, in landed lines.

    Each phase's taps are followed from where its lines land after the stage to where the lines they
    came from would have landed before it; the straight line through them must be one for both.
    """
    offsets = _screen_offsets(stage, before)
    apart = max(offsets) - min(offsets)
    assert apart <= tolerance, f"{stage.kind}: the fields are {apart:.6f} landed lines apart on the screen"


def _screen_offsets(stage: LinearStage, before: Raster) -> list[float]:
    after = stage.raster(before)
    operators = stage.operator(before).phases
    line_maps, _ = stage.maps(before)
    found = []
    for k in range(max(before.period, after.period)):
        look = line_maps[k % len(line_maps)]
        to_before = before.picture_of_landed(k % before.period).inverse()
        to_after = after.picture_of_landed(k % after.period).inverse()
        lines, _ = matrices(operators[k % len(operators)], before)
        rows = whole_periods(interior(look, *lines.shape), look.scale)
        was, now = to_before(centroids(lines, rows)), to_after(rows + 0.5)
        scale = look.scale * to_before.scale / to_after.scale
        found.append(float(np.mean(was - scale * now)))
    assert len(found) > 1, f"{stage.kind}: neither side has two fields to compare"
    return found


@law
def bright_lines_come_out_where_maps_say(stage: Stage, before: Raster, tolerance: float) -> None:
    """A bright line at a place of the source frame comes out, in every picture, where the maps look at it.

    The mean over bright lines all over the picture, in source frame lines; for any stage, linear or not.
    """
    geometry = Chain(stage).resolve(before).geometry
    for k, (places, found) in enumerate(bright_lines_through(stage, before)):
        look = geometry.lines[k % len(geometry.lines)]
        name = f"{stage.kind}: bright lines of picture {k}, source frame lines off its map"
        _near(np.mean(look(found) - places), 0.0, tolerance, name)


@law
def fields_show_one_place(stage: Stage, before: Raster, tolerance: float) -> None:
    """A bright line of the source is at one place of the screen in both fields, each where it lands.

    The mean over bright lines, in source frame lines; for any stage, linear or not.
    """
    resolved = Chain(stage).resolve(before)
    after, shown = resolved.output, bright_lines_through(stage, before)
    assert len(shown) > 1, f"{stage.kind}: neither side has two fields to compare"
    scale = resolved.geometry.landed(after).scale
    heights = [
        scale * float(np.mean(after.picture_of_landed(k % after.period).inverse()(found)))
        for k, (_, found) in enumerate(shown)
    ]
    apart = max(heights) - min(heights)
    assert apart <= tolerance, (
        f"{stage.kind}: the fields show a bright line {apart:.3f} source frame lines apart"
    )


def bright_lines_through(stage: Stage, before: Raster) -> list[tuple[NDArray, NDArray]]:
    """Return, per output picture of a still, where bright lines are in the source and in the picture.

    The bright lines are bells, wide enough for both fields and for the steps of the stage to sample their
    middles truly, at places that fall differently on its lines. (source frame y, picture u) of each.
    """
    geometry = Chain(stage).resolve(before).geometry
    step = max(1.0, *(look.scale for look in geometry.lines))  # source frame lines per output line
    width, apart = 1.5 * step, 16.7 * step
    low, high = geometry.kept_lines
    margin = 2 * apart / 3
    places = np.arange(max(low, 0.0) + margin, min(high, before.frame_lines) - margin, apart)
    assert len(places) >= 4, f"{stage.kind}: {len(places)} bright lines are too few"
    lines = np.arange(before.frame_lines)[:, None] + 0.5
    bells = 0.6 * np.exp(-(((lines - places) / width) ** 2) / 2).sum(axis=1)
    frame = bells[:, None, None] * np.ones((1, before.samples, 3))
    dark = outputs_of(stage, before, frame=np.zeros_like(frame))
    bright = outputs_of(stage, before, frame=frame)
    return [
        (places, _middles(two.values - one.values, geometry, k, places, apart / 2))
        for k, (one, two) in enumerate(zip(dark, bright, strict=True))
    ]


def _middles(light: NDArray, geometry: Geometry, k: int, places: NDArray, reach: float) -> NDArray:
    """Return the centroid of what came within reach of each place, in picture lines."""
    look = geometry.lines[k % len(geometry.lines)]
    profile, u = light.mean(axis=(1, 2)), np.arange(len(light)) + 0.5
    near = np.abs(look(u) - places[:, None]) < reach
    total = (near * profile).sum(axis=1)
    assert (total > 0).all(), f"picture {k}: {int((total <= 0).sum())} bright lines are not where maps look"
    middles: NDArray = (near * profile * u).sum(axis=1) / total
    return middles


@law
def phase_shift_is_input_shift(stage: Stage, before: Raster, lines: int) -> None:
    """Phase + n looks where phase looked on the picture moved up by n: positive moves the sampling down."""
    shifted = replace(stage, phase=stage.phase + lines)  # type: ignore[attr-defined]  # stages with a phase
    frame = frame_for(before, 5)
    moved_up = np.roll(frame, -lines * before.period, axis=0)  # n lines of each field
    line_maps, _ = shifted.maps(before)
    got = outputs_of(shifted, before, frame=frame)
    wanted = outputs_of(stage, before, frame=moved_up)
    for k, (one, other) in enumerate(zip(got, wanted, strict=True)):
        rows = interior(line_maps[k % len(line_maps)], one.raster.lines, before.lines, abs(lines))
        _near(one.values[rows], other.values[rows], 1e-9, f"{stage.kind}: phase + {lines}, field phase {k}")


@law
def picture_moves_down(shift: Callable[[int], LinearStage], before: Raster) -> None:
    """`position lines=+n`: what was on line i appears on line i + n, and black comes in at the top."""
    for n in (1, 3):
        values = seeded((before.lines, before.samples, 3), 6)
        moved = shift(n).operator(before)(values)
        assert np.array_equal(moved[n:], values[:-n]), f"line i is not on line i + {n}"
        assert not moved[:n].any(), "what comes in at the top is not black"


@law
def sampling_moves_down(sampled: Callable[[float], LinearStage], before: Raster) -> None:
    """`phase=+n`: output line r shows input line n further down, so the picture moves up."""
    lines, _ = matrices(sampled(0.0).operator(before).phases[0], before)
    lower, _ = matrices(sampled(2.0).operator(before).phases[0], before)
    rows = np.arange(8, 16)
    _near(
        centroids(lower, rows) - centroids(lines, rows), 2.0, 1e-9, "sampling point of phase 2 below phase 0"
    )


# chains -------------------------------------------------------------------------------------------


@law
def fused_equals_stage_by_stage(chain: Chain, before: Raster, seed: int = 8, tolerance: float = 2e-5) -> None:
    """Composing neighbours changes nothing but float32 rounding.

    The tolerance allows for the power function near black, where V = L^(1/2.4) is steep.
    """
    frame = frame_for(before, seed, np.float32)
    fused, plain = chain.resolve(before), chain.resolve(before, fuse=False)
    count = 2 * fused.cycle
    got = list(islice(run(fused, still_stream(frame, before)), count))
    wanted = list(islice(run(plain, still_stream(frame, before)), count))
    assert fused.output == plain.output and fused.cycle == plain.cycle, "the plans end differently"
    for k, (one, other) in enumerate(zip(got, wanted, strict=True)):
        assert one.time == other.time, f"picture {k}: time {one.time}, not {other.time}"
        _near(one.values, other.values, tolerance, f"{chain.text}: picture {k} fused against stage by stage")


@law
def cycle_repeats(chain: Chain, before: Raster) -> None:
    """The output of a still repeats after `cycle` pictures, for the values and for what the fields are."""
    resolved = chain.resolve(before)
    frame = frame_for(before, 9, np.float32)
    got = list(islice(run(resolved, still_stream(frame, before)), 3 * resolved.cycle))
    for k in range(resolved.cycle, len(got)):
        same = np.array_equal(got[k].values, got[k - resolved.cycle].values)
        assert same, (
            f"{chain.text}: picture {k} is not picture {k - resolved.cycle}, though cycle is {resolved.cycle}"
        )


@law
def geometry_matches_ramp(chain: Chain, before: Raster, tolerance: float = 1e-6) -> None:
    """A frame that is a ramp of its own coordinate comes out as the coordinate `geometry` gives.

    On average over interior lines, for the lines (first channel) and the samples (second).
    """
    resolved = chain.resolve(before)
    frame = np.zeros((before.frame_lines, before.samples, 3))
    frame[:, :, 0] = (np.arange(before.frame_lines) + 0.5)[:, None]
    frame[:, :, 1] = np.arange(before.samples) + 0.5
    pictures = chain.run_still(before, still_stream(frame, before))
    across = resolved.geometry.samples
    columns = whole_periods(interior(across, resolved.output.samples, before.samples), across.scale)
    for k, picture in enumerate(pictures):
        look = resolved.geometry.lines[k % len(resolved.geometry.lines)]
        step = look.scale / before.period  # the stages count lines of one field
        rows = whole_periods(interior(look, resolved.output.lines, before.frame_lines), step)
        middle = picture.values[np.ix_(rows, columns)].mean(axis=(0, 1))
        name = f"{chain.text}: picture {k}"
        _near(middle[0], look(rows + 0.5).mean(), tolerance, f"{name}: frame line shown")
        _near(middle[1], across(columns + 0.5).mean(), tolerance, f"{name}: sample shown")


@law
def fields_come_back(chain: Chain, before: Raster) -> None:
    """Taking fields and putting them together gives a still back bit for bit."""
    frame = frame_for(before, 10, np.float32)
    for picture in chain.run_still(before, still_stream(frame, before)):
        assert np.array_equal(picture.values, frame), f"{chain.text}: the frame does not come back"


@law
def keys_round_trip(stage: Stage) -> None:
    """A stage is made again from the keys that differ from their defaults."""
    again = from_keys(type(stage), changed_keys(stage))
    assert again == stage, f"{stage} became {again}"


@law
def text_round_trips(chain: Chain) -> None:
    """Reading what was written in text gives an equal chain of the same name."""
    again = Chain(str(chain))
    assert again == chain, f"{chain} became {again}"
    assert again.name == chain.name, f"name {chain.name!r} became {again.name!r}"


@law
def toml_round_trips(chain: Chain) -> None:
    """Reading what was written in TOML gives an equal chain of the same name."""
    again = Chain.from_toml(chain.to_toml())
    assert again == chain, f"{chain} became {again}"
    assert again.name == chain.name, f"name {chain.name!r} became {again.name!r}"


# shared -------------------------------------------------------------------------------------------


def outputs_of(
    stage: Stage, before: Raster, dtype: type = np.float64, *, frame: NDArray | None = None
) -> list[Picture]:
    """Return one cycle of a stage's pictures of a (seeded) still."""
    values = frame_for(before, 2, dtype) if frame is None else frame
    return Chain(stage).run_still(before, still_stream(values, before))


def _same(values: NDArray) -> NDArray:
    return values


def _near(found: NDArray | float, wanted: NDArray | float, tolerance: float, name: str) -> None:
    difference = np.abs(np.asarray(found, dtype=np.float64) - wanted)
    worst = float(difference.max()) if difference.size else float("inf")
    assert worst <= tolerance, (
        f"{name}: off by {worst:.3g} where {tolerance:g} is allowed (nothing compared if inf)"
    )


@law
def accepted(stage: Stage, rasters: Iterable[Raster]) -> list[Raster]:
    """Return the rasters a stage takes; it must refuse the others in words."""
    taken = []
    for raster in rasters:
        try:
            stage.raster(raster)
        except ParameterError as refusal:
            assert str(refusal).startswith(stage.kind), f"{stage.kind}: refusal does not name it: {refusal}"
        else:
            taken.append(raster)
    assert taken, f"{stage.kind}: no raster is taken"
    return taken
