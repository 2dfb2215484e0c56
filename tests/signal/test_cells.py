"""Cell means, and several frames made one."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.signal.kernel.along_line import AlongLine
from scalesim.signal.kernel.cells import cell_weights, stack

RNG = np.random.RandomState(3)


def test_the_middle_half_of_a_cell() -> None:
    """Four cells of 10 samples: samples 2.5 to 7.5 of each; a cell cut off by the edge is not seen."""
    weights, seen = cell_weights(np.linspace(0, 1, 5), AlongLine(1.0, 0.0, 1.0), 40)
    assert seen.all()
    assert weights[:10, 0] == pytest.approx([0, 0, 0.1, 0.2, 0.2, 0.2, 0.2, 0.1, 0, 0])
    assert weights.sum(axis=0) == pytest.approx(1)
    _, seen = cell_weights(np.linspace(0, 1, 5), AlongLine(0.8, 0.2, 1.0), 40)
    assert list(seen) == [False, True, True, True]


def frames(count: int) -> np.ndarray:
    """Return frames of one picture with a little noise."""
    return RNG.randint(0, 2, (1, 120, 16)) + RNG.normal(0, 0.01, (count, 120, 16))


def test_a_jump_is_moved_back_and_a_stranger_left_out() -> None:
    """Frame 2 two lines lower, frame 4 another picture: the mean is that of the others."""
    taken = frames(6)
    truth = taken[0].round()
    taken[2] = np.roll(taken[2], 2, axis=0)
    taken[4] = RNG.randint(0, 2, (120, 16))
    found = stack(taken)
    assert (found.moved, found.unstable, found.used) == ((2,), (4,), (0, 1, 2, 3, 5))
    assert np.abs(found.mean - truth)[8:-8].max() < 0.05
    assert np.abs(taken.mean(axis=0) - truth)[8:-8].max() > 0.15, "the plain mean is not"


def test_steady_frames_are_all_used_and_two_pictures_in_turn_are_told() -> None:
    """Nothing is left out of six equal frames; two pictures that alternate come back as a pair."""
    steady = stack(frames(6))
    assert (steady.unstable, steady.alternating) == ((), None)
    both = frames(6)
    both[1::2] = RNG.randint(0, 2, (1, 120, 16)) + RNG.normal(0, 0.01, (3, 120, 16))
    pair = stack(both).alternating
    assert pair is not None
    assert np.abs(pair[1] - both[1].round()).max() < 0.05
