"""A film's cuts: a hand that moves by two pixels is none, whatever the mask beats with."""

from __future__ import annotations

import numpy as np

from scalesim.signal.glass.cuts import Cuts, likeness, thumbnail


def _frame(right: int) -> np.ndarray:
    """A picture of broad bars through a mask of about four pixels a triad, moved to the right."""
    x = np.arange(640) - right
    bars = 0.3 + 0.2 * np.sin(2 * np.pi * x / 210) + 0.1 * np.sin(2 * np.pi * x / 70)
    stripes = 1 + 0.8 * np.cos(2 * np.pi * x / 4.03)
    return np.repeat((bars * stripes)[None].astype(np.float32), 480, axis=0)


def test_a_move_of_two_pixels_behind_a_mask_is_no_cut() -> None:
    still, moved = thumbnail(_frame(0)), thumbnail(_frame(2))
    assert likeness(still, moved) > 0.95
    cuts = Cuts()
    assert not any(cuts.at(thumbnail(_frame(right))) for right in (0, 0, 0, 0, 2, 3, 1, 0))
    assert cuts.at(thumbnail(_frame(105)))


def test_a_thumbnail_is_the_mean_of_all_pixels() -> None:
    light = np.random.RandomState(1).rand(97, 131).astype(np.float32)
    wanted = light[:96, :128].reshape(24, 4, 32, 4).mean(axis=(1, 3))
    np.testing.assert_allclose(thumbnail(light), wanted, rtol=1e-5)
    assert not thumbnail(light[:10]).any()
