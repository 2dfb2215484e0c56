"""The dictionary, the ridge, the free kernel and the fit: against dense matrices and made-up codes."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.chain import Chain
from scalesim.core.affine import Affine
from scalesim.core.raster import Raster
from scalesim.signal.kernel.dictionary import PAIR, TAPS, Base, Method, methods, tables
from scalesim.signal.kernel.field_alignment import aligned, cycle, free_form, trimmed
from scalesim.signal.kernel.field_identity import fit_fields, total
from scalesim.signal.kernel.field_lines import FieldLines, windows
from scalesim.signal.kernel.freeform import basis, rows_at
from scalesim.signal.kernel.line_operator_fit import measured, predicted, refined
from scalesim.signal.kernel.method_fit import Trial
from scalesim.signal.kernel.ridge import find_ridge

RNG = np.random.RandomState(11)
CODES = RNG.randint(0, 2, (360, 24)).astype(float)
LOW, HIGH = 0.12, 0.88


def field(matrix: np.ndarray, noise: float = 0.002, light: bool = False) -> FieldLines:
    """Return lines made of the codes by a matrix, of code values or of light, with noise."""
    levels = LOW + (HIGH - LOW) * CODES
    lines = np.clip(matrix @ levels**2.4, 0, 1) ** (1 / 2.4) if light else matrix @ levels
    lines = lines + RNG.normal(0, noise, lines.shape)
    return FieldLines(lines, np.ones(len(lines), bool), CODES, np.ones(360, bool), LOW, HIGH)


@pytest.mark.parametrize(
    ("method", "chain"),
    [
        (Method(Base("line-average")), "line-average lines=120 phase=1/4"),
        (Method(Base("line-drop", window=1)), "line-drop lines=120 phase=1/4"),
        (Method(Base("resample", "lanczos3", True)), "resample lines=120 kernel=lanczos3 phase=1/4"),
        (Method(Base("line-average"), PAIR), "line-average lines=240 phase=1/4, line-average lines=120"),
        (
            Method(Base("resample", "cubic", False), (1.0,)),
            "resample lines=240 kernel=cubic antialias=off phase=1/4, line-drop lines=120",
        ),
        (
            Method(Base("line-average"), (1.0, 2.0, 1.0)),
            "line-average lines=240 phase=1/4, flicker-filter, line-drop lines=120",
        ),
    ],
)
def test_a_method_is_the_operator_of_its_chain(method: Method, chain: str) -> None:
    """Inside the picture a method's matrix is that of the stages that `predict` runs."""
    lines = Chain(chain).operator(Raster(360, 4)).phases[0].lines
    assert lines is not None
    own = method.matrix(360, 120, 3.0, 0.25).toarray()
    assert np.abs(own - lines.toarray())[6:-6].max() < 1e-12
    assert np.abs(method.matrix(360, 120, 3.0, 1.25).toarray() - lines.toarray())[6:-6].max() > 0.1
    assert np.abs(method.applied(CODES, 120, 3.0, 0.25) - own @ CODES).max() < 1e-12


def test_every_method_keeps_flat_flat_and_stands_once() -> None:
    """Weights sum to 1 in every line; no method is listed twice; the simplest is first."""
    members = methods()
    assert len(set(members)) == len(members)
    assert members[0].base.kind == "line-drop"
    assert {m.taps for m in members} == {None, *TAPS}
    for weights in tables(members, 2.9, 4, 12).values():
        assert weights.sum(axis=1) == pytest.approx(1)


def test_a_cubic_of_another_sharpness_is_keys_formula() -> None:
    """Half way between two lines a cubic convolution has weights a/8 and (4 - a)/8 (Keys 1981, eq. 4)."""
    for a in (-0.6, -0.75):
        row = Base("keys", sharpness=a, antialias=False).matrix(20, 1, 1.0, 9.5).toarray()[0]
        assert row[8:12] == pytest.approx([a / 8, (4 - a) / 8, (4 - a) / 8, a / 8])


@pytest.mark.parametrize(("step", "phase"), [(3.0, 0.0), (2.83, 7.3), (3.21, -9.0)])
def test_the_ridge_is_where_the_lines_look(step: float, phase: float) -> None:
    """Step within 0.02, middle within half a line; upside down is told."""
    made = field(Method(Base("line-average")).matrix(360, 120, step, phase).toarray())
    found = find_ridge(made.levels, made.usable, CODES, made.coded)
    assert not found.upside_down
    assert found.place.scale == pytest.approx(step, abs=0.02)
    assert found.place(60) == pytest.approx(step * 60 + phase, abs=0.5)
    assert find_ridge(made.levels[::-1], made.usable, CODES, made.coded).upside_down
    chance = find_ridge(RNG.uniform(size=(120, 24)), made.usable, CODES, made.coded)
    assert chance.height < 9 < found.height


def test_alignment_and_the_free_kernel_need_no_name() -> None:
    """A Gaussian of 1.4 lines at a broken pitch: place and weights come out, with their errors."""
    step, phase = 2.87, 3.3
    distance = np.arange(360) + 0.5 - (step * (np.arange(120) + 0.5) + phase)[:, None]
    true = np.exp(-0.5 * (distance / 1.4) ** 2)
    true /= true.sum(axis=1, keepdims=True)
    made = field(true)
    place = aligned(made, Affine(step + 0.003, phase - 0.4), 4)
    assert place.scale == pytest.approx(step, abs=3e-4)
    kernel = free_form(made, place, "code")
    rows = rows_at(kernel, place, 120, 360)
    assert np.abs(rows - true).sum(axis=1)[8:-8].mean() < 0.03
    assert kernel.variance == pytest.approx((0.002 / 0.76) ** 2, rel=0.2), "nothing but the noise is left"
    assert 1e-5 < kernel.errors.mean() < 5e-3
    assert np.abs(rows_at(kernel, Affine(place.scale, place.offset + 1), 120, 360) - true).sum() > 30


def test_disturbed_lines_are_left_out() -> None:
    """Six black lines among 120 are found, and no others."""
    made = field(Method(Base("resample", "linear", True)).matrix(360, 120, 3.0, 0.1).toarray())
    made.levels[[20, 21, 22, 50, 77, 90]] = 0.02
    kept = trimmed(made, Affine(3.0, 0.1))
    assert set(np.flatnonzero(~kept.usable)) == {20, 21, 22, 50, 77, 90}


def test_splines_sum_to_one_and_cycles_are_counted() -> None:
    """A partition of unity; 720/240 repeats every line, 1080/240 every second, 2.87 never."""
    assert basis(np.linspace(-3, 3, 50), 5.0).sum(axis=-1) == pytest.approx(1)
    assert [cycle(720, 3.0), cycle(1080, 4.5), cycle(720, 720 / 224), cycle(720, 2.87)] == [1, 2, 14, 0]


def test_splines_are_the_cubic_ones() -> None:
    """The cubic B-spline in closed form (Schoenberg, 1946): 2/3 - x^2 + |x|^3 / 2 within a knot of its
    middle, (2 - |x|)^3 / 6 within two, 0 beyond, wherever it is asked for.
    """
    distances = np.linspace(-9, 9, 73).reshape(1, -1)
    found = basis(distances, 2.0, 0.8)
    x = np.abs(distances[..., None] / 0.8 - np.arange(-3, 4))
    exact = np.where(x < 1, 2 / 3 - x**2 + x**3 / 2, np.maximum(2 - x, 0) ** 3 / 6)
    assert found.shape == (1, 73, 7)
    assert np.abs(found - exact).max() < 1e-12


@pytest.mark.parametrize("light", [False, True])
def test_the_fit_finds_method_phase_step_and_encoding(light: bool) -> None:
    """A cubic reduction at 3:1 from 0.37 lines down: named, the phase within 0.01, the values it mixes."""
    true = Method(Base("resample", "cubic", True))
    made = field(true.matrix(360, 120, 3.0, 0.37).toarray(), light=light)
    fitted = fit_fields([made], [Affine(3.004, 0.1)], methods())
    best = fitted.joint[0][0]
    assert best.method == true
    assert best.domain == ("light" if light else "code")
    assert (best.step, best.phase) == pytest.approx((3.0, 0.37), abs=0.01)
    others = [t for t in fitted.joint if t[0].method != true or t[0].domain != best.domain]
    assert total(others[0]) > 2 * total(fitted.joint[0])


def test_a_drop_at_a_broken_pitch_is_exact() -> None:
    """Every chosen line is found at a step that no whole number of lines gives."""
    true = Method(Base("line-drop", window=1))
    matrix = true.matrix(360, 120, 2.8713, 4.21).toarray()
    fitted = fit_fields([field(matrix)], [Affine(2.873, 4.1)], methods())
    best = fitted.joint[0][0]
    assert best.method == true
    found = best.method.matrix(360, 120, best.step, best.phase).toarray()
    assert np.abs(found - matrix).sum(axis=1)[6:-6].mean() < 0.03


def test_clipped_values_do_not_bend_the_answer() -> None:
    """A capture cut at 80 % white: predicted with its ceiling the misfit is that of the noise."""
    true = Method(Base("resample", "lanczos3", True))
    made = field(true.matrix(360, 120, 3.0, 0.0).toarray(), noise=0.001)
    cut = FieldLines(np.minimum(made.levels, 0.8), made.usable, CODES, made.coded, LOW, HIGH, 0.0, 0.8)
    rows = windows(cut, Affine(3.0, 0.0)).rows
    trial = Trial(true, "code", 3.0, 0.05, 0.0)
    assert refined(cut, rows, trial, free_step=False).phase == pytest.approx(0.0, abs=0.003)
    blind = FieldLines(cut.levels, cut.usable, CODES, cut.coded, LOW, HIGH)
    exact = Trial(true, "code", 3.0, 0.0, 0.0)
    assert measured(blind, rows, exact).misfit > 20 * measured(cut, rows, exact).misfit


def test_held_taps_never_pass_a_line_and_its_neighbours() -> None:
    """-1/2/6/2/-1 may overshoot; held, the result stays on the neighbours' side of the line itself."""
    method = Method(Base("line-average"), (-1.0, 2.0, 6.0, 2.0, -1.0))
    made = field(method.matrix(360, 120, 3.0, 0.0).toarray())
    free, held = (predicted(made, Trial(method, "code", 3.0, 0.0, 0.0, held=h)) for h in (False, True))
    between = method.between(CODES, 120, 3.0, 0.0)
    own, beside = between[2:-2:2], (between[1:-3:2] + between[3:-1:2]) / 2
    assert np.all((held - own) * (beside - own) >= -1e-12)
    assert np.any((free - own) * (beside - own) < -1e-3)
