"""Banded products against the dense matrix they stand for."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.tube.bands import blocks_of


@pytest.mark.parametrize("outputs", [5, 31, 32, 33, 100])
def test_equals_the_dense_product(outputs: int) -> None:
    """With taps that reach beyond both ends, which are left out."""
    random = np.random.RandomState(outputs)
    columns = (np.arange(outputs) // 3)[:, None] + np.arange(-2, 3)
    weights = random.rand(outputs, 5)
    inputs = outputs // 3 + 1
    dense = np.zeros((outputs, inputs))
    for row in range(outputs):
        for tap, column in enumerate(columns[row]):
            if 0 <= column < inputs:
                dense[row, column] += weights[row, tap]
    values = random.rand(inputs, 7)
    got = np.full((outputs, 7), np.nan)
    for block in blocks_of(columns, weights, inputs):
        block.times(values[block.columns], got[block.rows])
    assert np.allclose(got, dense @ values, atol=1e-5)
    assert not np.allclose(got, dense @ values[::-1], atol=1e-2)


def test_terms_are_runs_of_input_rows() -> None:
    weights = np.array([[[1.0, 10.0]], [[2.0, 20.0]]])
    (block,) = blocks_of(np.array([[0], [1]]), weights, 2)
    assert block.weights.tolist() == [[1, 10, 0, 0], [0, 0, 2, 20]]
