"""Sums over rows, and cells made in parts: against NumPy on the whole arrays."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.signal.glass.demodulate import Frame, cells_of
from scalesim.signal.glass.sums import columns_summed, rows_summed


@pytest.mark.parametrize("count", [1, 2, 3, 7, 8, 9, 12])
def test_rows_are_summed_to_the_last_bit(count: int) -> None:
    values = np.random.RandomState(count).randn(20 * count, 37).astype(np.float32)
    expected = np.add.reduceat(values, np.arange(0, len(values), count), axis=0)
    assert np.array_equal(rows_summed(values, count), expected)
    assert not np.array_equal(rows_summed(values[::-1], count)[::-1], expected) or count < 3  # order counts


@pytest.mark.parametrize("count", [1, 2, 4, 7, 8, 9])
def test_columns_are_summed_to_the_last_bit(count: int) -> None:
    values = np.random.RandomState(count).randn(31, 20 * count).astype(np.float32)
    expected = values.reshape(31, -1, count).sum(axis=2)
    assert np.array_equal(columns_summed(values, count), expected)
    assert np.array_equal(columns_summed(values, 4) / np.float32(4), values.reshape(31, -1, 4).mean(axis=2))


@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0])
def test_cells_made_in_parts_are_the_means_over_their_pixels(factor: float) -> None:
    """Light times carrier times exp(-2 pi i phase), by the definition, in float64."""
    rng = np.random.RandomState(3)
    rows, columns, size = 900, 700, (6, 13)
    wave, mean = rng.randn(rows, columns).astype(np.float32), rng.rand(rows, columns).astype(np.float32)
    frame = Frame.of(rows, columns)
    coefficients = rng.randn(10) * [1, 20, 5, 1, 80, 4, 1, 3, 1, 1]
    phase = frame.field(coefficients)
    turned = wave.astype(float) * mean * np.exp(-2j * np.pi * factor * phase)
    across = columns // size[1] * size[1]
    shape = (rows // size[0], size[0], across // size[1], size[1])
    expected = turned[:, :across].reshape(shape).mean(axis=(1, 3))
    made = cells_of(wave, mean, frame.parts(coefficients), size, factor)
    assert np.abs(made.sum - expected).max() < 1e-5
    assert np.abs(made.light - mean[:, :across].reshape(shape).mean(axis=(1, 3))).max() < 1e-5
    assert np.array_equal(made.sum, cells_of(wave, mean, phase, size, factor).sum)
    wrong = cells_of(wave, mean, frame.parts(coefficients + 0.01), size, factor)
    assert np.abs(wrong.sum - expected).max() > 1e-3
