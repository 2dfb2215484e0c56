"""The mask: plain geometry with a mean of 1."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from scalesim.tube.display import DISPLAYS
from scalesim.tube.mask import mask_light

STUDIO = DISPLAYS["studio-36cm-800"]
EDGES = np.linspace(0, 12, 121)  # a tenth of a millimetre each


@pytest.mark.parametrize("mask", ["stripes", "slots"])
@pytest.mark.parametrize("pitch", [0.3, 0.6, 1.0])
def test_mean_light_is_kept(mask: str, pitch: float) -> None:
    """Over whole pitches the mean of each colour is 1, also where dots straddle stripes."""
    factor = mask_light(dataclasses.replace(STUDIO, mask=mask, mask_pitch_mm=pitch), EDGES, EDGES)
    assert factor is not None
    assert factor.mean(axis=(0, 1)) == pytest.approx([1, 1, 1], abs=1e-5)
    # over part of a pitch it is not: the colours stand side by side
    assert np.ptp(factor[:, :2].mean(axis=(0, 1))) > 0.5


def test_stripes_of_whole_dots() -> None:
    """A pitch of three dots: red, green, blue, each three times as bright."""
    factor = mask_light(dataclasses.replace(STUDIO, mask="stripes", mask_pitch_mm=0.3), EDGES, EDGES)
    assert factor is not None
    assert np.allclose(factor[0, :3], 3 * np.eye(3), atol=1e-4)
    assert np.allclose(factor[7, 3:6], 3 * np.eye(3), atol=1e-4)


def test_slots_have_bridges_in_turn() -> None:
    """A fifth of the vertical pitch is dark, half a pitch lower in every second triad."""
    factor = mask_light(dataclasses.replace(STUDIO, mask="slots", mask_pitch_mm=1.0), EDGES, EDGES)
    assert factor is not None
    dark = factor[:10, [1, 11], 0] < 1e-6  # red of two neighbouring triads
    assert dark[:, 0].tolist() == [False] * 8 + [True] * 2
    assert dark[:, 1].tolist() == [False] * 3 + [True] * 2 + [False] * 5
    assert factor[0, 1, 0] == pytest.approx(3 / 0.8, rel=1e-5)


def test_none() -> None:
    assert mask_light(STUDIO, EDGES, EDGES) is None
