"""Certainty: what the frames agree on is clear, what one frame happens to show is not."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.search.certainty import certainty_of, gain_of
from scalesim.search.repeats import repeat_of


def test_a_gain_is_paired_over_frames() -> None:
    """Frames differ by far more than the settings do; the difference of each is the same."""
    best = np.array([0.1, 0.5, 0.9, 0.3, 0.7, 0.2])
    gain = gain_of(best, best + 0.1, 0.01)
    assert gain.mean == pytest.approx(0.1) and gain.better == gain.frames == 6 and gain.low > 0.05
    mixed = gain_of(best, best + np.array([0.5, -0.4, 0.5, -0.4, 0.5, -0.1]), 0.01)
    assert mixed.mean == pytest.approx(0.1) and mixed.better == 3 and mixed.low < 0


def test_one_frame_must_gain_clearly_more_than_the_resolution() -> None:
    """Two spreads of three ties and the tie itself: seven ties in all."""
    assert gain_of(np.array([0.0]), np.array([0.071]), 0.01).low > 0.01
    assert gain_of(np.array([0.0]), np.array([0.069]), 0.01).low < 0.01


def test_a_rival_as_good_takes_clearness_away() -> None:
    costs = {(k,): np.full(6, cost) for k, cost in enumerate((0.0, 0.5, 0.5, 0.5, 0.01))}
    places = list(costs)
    assert certainty_of(costs, (0,), None, places, 0.02).clear
    assert not certainty_of(costs, (0,), (4,), places, 0.02).clear
    assert not certainty_of(costs, (0,), None, places[:2], 0.02).clear  # nothing is typical of two
    flat = {place: np.full(6, 0.3 + 0.001 * place[0]) for place in costs}
    assert not certainty_of(flat, (0,), None, places, 0.02).matters


def test_repeats() -> None:
    x = np.arange(25)
    assert repeat_of(np.abs((x % 8) - 4) / 4, 0.02) == 8
    assert repeat_of(np.abs(x - 12) / 12, 0.02) is None  # one valley
    assert repeat_of(np.full(25, 0.3), 0.02) is None
