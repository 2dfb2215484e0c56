"""Mean colour difference to the ideal: closed forms on flats, the grid of places, and what it ignores."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of
from metrics.slants import Array, lines_scene

from scalesim.metrics.fidelity.colour_difference import (
    MOST_PLACES,
    ciede2000,
    code_to_lab,
    delta_e_2000,
    sample_step,
)
from scalesim.metrics.fidelity.likeness import registered


def flat(*code: float) -> Array:
    return np.tile(np.array(code, dtype=np.float32), (720, 320, 1))


def test_greys_have_no_colour_and_lightness_by_formula() -> None:
    """a* = b* = 0; half code is light 0.5^2.4 = 0.189465, L* = 116 cbrt(0.189465) - 16 = 50.625."""
    lab = code_to_lab(np.repeat(np.linspace(0, 1, 11)[:, None], 3, axis=1))
    assert np.abs(lab[:, 1:]).max() < 1e-9
    assert lab[[0, 5, 10], 0] == pytest.approx([0, 116 * np.cbrt(0.5**2.4) - 16, 100], abs=1e-9)


def test_a_changed_level_on_a_flat() -> None:
    """The mean over the picture is the difference of the two colours."""
    found = delta_e_2000(evidence_of(flat(0.5, 0.3, 0.2), "line-drop lines=240 phase=1, level gain=1.1"))[0]
    expected = ciede2000(np.array([0.5, 0.3, 0.2]), np.array([0.55, 0.33, 0.22]))
    assert found == pytest.approx(float(expected), abs=1e-3)
    assert found > 1


def test_nothing_changed_is_zero() -> None:
    """A flat picture, and any picture through the ideal's own scaler."""
    assert delta_e_2000(evidence_of(flat(0.4, 0.5, 0.6), "line-average lines=240"))[0] == pytest.approx(
        0, abs=1e-3
    )
    frame = lines_scene(1) * np.array([1.0, 0.6, 0.3], dtype=np.float32)
    assert delta_e_2000(evidence_of(frame, "line-average lines=240 encoding=light"))[0] < 1e-3


def test_a_worse_scaler_is_farther_off() -> None:
    """A drop differs from the ideal at every stair, a wide blur at every edge."""
    frame = lines_scene(1) * np.array([1.0, 0.6, 0.3], dtype=np.float32)
    chains = (
        "line-average lines=240",
        "line-drop lines=240",
        "flicker-filter taps=1/1/1/1/1/1/1/1/1, line-drop lines=240",
    )
    found = [delta_e_2000(evidence_of(frame, chain))[0] for chain in chains]
    assert found == sorted(found)
    assert found[2] > 1.2 * found[0] > 0


def test_placement_is_not_a_difference() -> None:
    """The ideal goes with the chain's geometry."""
    frame = lines_scene(1)
    plain = delta_e_2000(evidence_of(frame, "line-average lines=240"))[0]
    assert delta_e_2000(evidence_of(frame, "line-average lines=240, position lines=3"))[0] == pytest.approx(
        plain, rel=0.1
    )


def test_chroma_alone_is_seen() -> None:
    """Red against green of one luma: invisible to SSIM's luma, not to this."""
    evidence = evidence_of(flat(0.5, 0.3, 0.3), "line-drop lines=240")
    pair = registered(evidence)
    other = np.tile(
        np.array([0.3, 0.3 + 0.2 * 0.2126 / 0.7152, 0.3], dtype=np.float32), (*pair.test.shape, 1)
    )
    assert np.allclose(pair.test, other @ np.array([0.2126, 0.7152, 0.0722]), atol=1e-6)
    assert float(ciede2000(pair.reference_colours, other).mean()) > 10


@pytest.mark.parametrize(
    ("lines", "samples", "step"),
    [(240, 1280, 7), (480, 1280, 13), (480, 720, 7), (480, 1920, 19), (100, 300, 1)],
)
def test_every_line_and_every_nth_sample(lines: int, samples: int, step: int) -> None:
    """n is odd, and at most 50000 places are compared."""
    assert sample_step(lines, samples) == step
    assert lines * len(range(step // 2, samples, step)) <= MOST_PLACES


def test_the_grid_stands_for_the_picture() -> None:
    """Within 3 % of the mean over every sample, on slanted edges and discs of colour."""
    frame = lines_scene(3) * np.array([1.0, 0.6, 0.3], dtype=np.float32)
    evidence = evidence_of(frame, "line-drop lines=240")
    pair = registered(evidence)
    whole = float(ciede2000(pair.reference_colours, pair.test_colours).mean())
    assert delta_e_2000(evidence)[0] == pytest.approx(whole, rel=0.03)
