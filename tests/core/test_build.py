"""Builders against closed forms and a general library; stages/test_lines.py has the numbers of each stage."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scalesim.core.build import (
    average_lines,
    average_pairs,
    filter_lines,
    repeat_lines,
    resample_lines,
    select_lines,
    span_starts,
    take_field,
)
from scalesim.core.kernel import KERNELS
from scalesim.core.operator import Operator

sizes = st.integers(1, 60)
steps = st.floats(0.25, 6)
phases = st.floats(-8, 8)
edges = st.sampled_from(["replicate", "black"])


def test_span_starts_snap_to_whole_lines() -> None:
    starts = span_starts(300, 1 / 3, 0.0)
    assert np.array_equal(starts[::3], np.arange(101.0))
    assert span_starts(1, 1.0, 1e-10)[0] == 0.0 and span_starts(1, 1.0, 1e-8)[0] == 1e-8


@given(sizes, sizes, steps, phases)
def test_average_is_the_exact_area(lines_in: int, lines_out: int, step: float, phase: float) -> None:
    """Against the integral of a picture of steps, by np.interp of its running sum (edges repeated)."""
    values = np.random.RandomState(0).uniform(size=lines_in)
    pad = int(abs(phase) + step * (lines_out + 1) + 2)
    padded = np.pad(values, (pad, pad), mode="edge")
    integral = np.concatenate([[0.0], np.cumsum(padded)])
    edges_at = np.arange(lines_out + 1) * step + phase + pad
    wanted = np.diff(np.interp(edges_at, np.arange(len(integral)), integral)) / step
    found = average_lines(lines_in, lines_out, step, phase) @ values
    np.testing.assert_allclose(found, wanted, atol=1e-7)


@given(sizes, sizes, steps, phases)
def test_select_is_the_floor(lines_in: int, lines_out: int, step: float, phase: float) -> None:
    wanted = [min(max(int(np.floor(round(r * step + phase, 9))), 0), lines_in - 1) for r in range(lines_out)]
    assert (select_lines(lines_in, lines_out, step, phase) @ np.arange(lines_in)).tolist() == wanted


@given(sizes, sizes, steps, phases, st.sampled_from(list(KERNELS)), st.booleans())
def test_resample_rows_sum_to_one(
    lines_in: int, lines_out: int, step: float, phase: float, kernel: str, antialias: bool
) -> None:
    matrix = resample_lines(lines_in, lines_out, step, phase, kernel=kernel, antialias=antialias)
    np.testing.assert_allclose(matrix.sum(axis=1), 1.0, atol=1e-9)


@given(sizes, sizes, steps, phases, st.sampled_from(list(KERNELS)))
def test_black_leaves_out_what_replicate_adds_to_the_outermost_lines(
    lines_in: int, lines_out: int, step: float, phase: float, kernel: str
) -> None:
    black = resample_lines(lines_in, lines_out, step, phase, kernel=kernel, edge="black").toarray()
    full = resample_lines(lines_in, lines_out, step, phase, kernel=kernel).toarray()
    np.testing.assert_allclose(black[:, 1:-1], full[:, 1:-1], atol=1e-12)
    # the middle of a huge black surround is the picture itself
    wide = resample_lines(lines_in + 200, lines_out, step, phase + 100, kernel=kernel).toarray()
    np.testing.assert_allclose(black, wide[:, 100:-100], atol=1e-12)


@pytest.mark.parametrize("lines_out", [240, 250, 480, 1000])
def test_linear_without_antialias_is_straight_line_interpolation(lines_out: int) -> None:
    """np.interp between the middles of the lines, the outermost repeated."""
    values = np.random.RandomState(1).uniform(size=720)
    at = (np.arange(lines_out) + 0.5) * 720 / lines_out
    wanted = np.interp(at, np.arange(720) + 0.5, values)
    found = resample_lines(720, lines_out, 720 / lines_out, antialias=False) @ values
    np.testing.assert_allclose(found, wanted, atol=1e-12)


def test_cubic_reproduces_parabolas() -> None:
    """Keys 1981: with a = -1/2 the interpolation is exact for polynomials up to the second degree."""
    line = np.arange(40) + 0.5
    at = (np.arange(80) + 0.5) / 2
    found = resample_lines(40, 80, 0.5, kernel="cubic") @ (line**2 - 3 * line)
    np.testing.assert_allclose(found[6:-6], (at**2 - 3 * at)[6:-6], atol=1e-10)


@pytest.mark.parametrize("name", list(KERNELS))
def test_kernels_interpolate(name: str) -> None:
    """1 at nought, 0 at every other whole distance, symmetric, nothing beyond the half-width."""
    kernel = KERNELS[name]
    whole = np.arange(-4.0, 5.0)
    np.testing.assert_allclose(kernel.weight(whole), whole == 0, atol=1e-15)
    x = np.random.RandomState(2).uniform(-5, 5, 200)
    np.testing.assert_allclose(kernel.weight(x), kernel.weight(-x), atol=1e-15)
    assert not kernel.weight(x[np.abs(x) >= kernel.half_width]).any()


def test_filter_is_convolution() -> None:
    values = np.random.RandomState(3).uniform(size=30)
    for taps in ((1.0, 2.0, 1.0), (1.0, 2.0, 2.0, 2.0, 1.0), (-1.0, 2.0, 6.0, 2.0, -1.0), (3.0,)):
        half = len(taps) // 2
        padded = np.pad(values, half, mode="edge")
        wanted = np.convolve(padded, np.array(taps) / sum(taps), mode="valid")
        np.testing.assert_allclose(filter_lines(30, taps) @ values, wanted, atol=1e-14)


def test_filter_longer_than_the_picture() -> None:
    assert (filter_lines(2, (1.0,) * 9) @ np.array([0.0, 1.0])).tolist() == pytest.approx([4 / 9, 5 / 9])


def test_pairs_and_fields() -> None:
    values = np.arange(6.0)
    assert (average_pairs(6) @ values).tolist() == [0.5, 0.5, 2.5, 2.5, 4.5, 4.5]
    assert (take_field(6, 0) @ values).tolist() == [0, 2, 4]
    assert (take_field(6, 1) @ values).tolist() == [1, 3, 5]


@given(st.integers(1, 500), st.integers(1, 16))
def test_repeat_is_np_repeat(lines: int, times: int) -> None:
    assert np.array_equal(repeat_lines(lines, times) @ np.arange(lines), np.repeat(np.arange(lines), times))


def test_matrices_are_float64_with_one_entry_a_place() -> None:
    for matrix in (
        average_lines(9, 4, 2.25, -3.0),
        resample_lines(9, 4, 2.25, -3.0),
        filter_lines(9, (1.0, 2.0, 1.0)),
    ):
        assert matrix.dtype == np.float64 and matrix.has_canonical_format
        assert Operator(matrix, encoding="code").lines is matrix


@pytest.mark.parametrize("edge", ["replicate", "black"])
def test_far_outside(edge: str) -> None:
    """A span wholly outside shows the outermost line, or black."""
    wanted = [[0, 0, 1]] if edge == "replicate" else [[0, 0, 0]]
    assert select_lines(3, 1, 1.0, 50.0, edge=edge).toarray().tolist() == wanted  # type: ignore[arg-type]
    np.testing.assert_allclose(average_lines(3, 1, 2.0, 50.0, edge=edge).toarray(), wanted)  # type: ignore[arg-type]
    np.testing.assert_allclose(resample_lines(3, 1, 2.0, 50.0, edge=edge).toarray(), wanted, atol=1e-12)  # type: ignore[arg-type]
