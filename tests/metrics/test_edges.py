"""Edge spread: hand-derived widths, known blurs, and reasons for none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from metrics.blurs import BLURS, blurred_view, true_width
from metrics.evidence import evidence_of, grey
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from scalesim.errors import NotMeasurable
from scalesim.metrics.edges.kernel import measured
from scalesim.metrics.edges.profiles import half_crossings, profile_widths
from scalesim.metrics.edges.spread_lines import edge_spread_lines, mean_width


def step_frame(at: int, lines: int = 720, low: float = 0.2, high: float = 0.8) -> np.ndarray:
    """A frame that steps once from low to high between source lines at-1 and at."""
    return grey(np.where(np.arange(lines) < at, low, high))


def noise_frame(lines: int = 720, samples: int = 480, seed: int = 0) -> np.ndarray:
    """A frame with a step at every line, all places between the output's lines alike."""
    return np.repeat(np.random.RandomState(seed).rand(lines, samples, 1) * 0.8 + 0.1, 3, axis=2)


def test_a_drop_reads_the_least_there_is() -> None:
    """Two adjacent lines 0 and 1 cross 10 % and 90 % a tenth of a line from either: 0.8."""
    spread, count = edge_spread_lines(evidence_of(step_frame(360), "line-drop lines=240 phase=1"))
    assert spread == pytest.approx(0.8, abs=1e-3)
    assert count == 240


@pytest.mark.parametrize(("at", "width"), [(360, 0.8), (361, 1.55), (362, 1.55)])
def test_an_average_depends_on_where_the_edge_falls(at: int, width: float) -> None:
    """With the edge a third into a span the line between has the value 2/3 or 1/3.

    For values 0, v, 1 the crossings are at 0.1/v and 1 + (0.9 - v)/(1 - v): with v = 1/3 the width is
    1 + (0.9 - 1/3)/(2/3) - 0.3 = 1.55; the other case is its mirror image.
    """
    spread, _ = edge_spread_lines(evidence_of(step_frame(at), "line-average lines=240"))
    assert spread == pytest.approx(width, abs=0.01)


MEANS = {
    "line-drop lines=240 phase=1": 0.8,
    # 0.80 where the step falls between two lines, 1.55 at the two other places
    "line-average lines=240": (0.8 + 2 * 1.55) / 3,
    # two lines' mean: 0, 1/2, 1 where the step halves the pair (1.6), else 0.8
    "resample lines=240 kernel=linear antialias=off phase=1/2": (1.6 + 2 * 0.8) / 3,
    "line-average lines=480, interlace": (0.8 + 2 * (0.9 - 1 / 3) / (2 / 3) + 2 * (1 - 0.3)) / 6,
}


@pytest.mark.parametrize("chain", MEANS)
def test_with_steps_everywhere_it_is_the_mean_of_the_places(chain: str) -> None:
    """By hand: the heights at the three places of a step, each as often; 480 lines' in half pitches."""
    spread, _ = edge_spread_lines(evidence_of(noise_frame(), chain))
    assert spread == pytest.approx(MEANS[chain], rel=0.01)


@pytest.mark.parametrize(
    ("blur", "width"),
    [
        (lambda p: gaussian_filter1d(p, 3.0, axis=0), 2.5631031 * 3),
        (lambda p: gaussian_filter1d(p, 4.0, axis=0), 2.5631031 * 4),
        (lambda p: uniform_filter1d(p, 9, axis=0), 0.8 * 9),
        (lambda p: uniform_filter1d(p, 5, axis=0), 0.8 * 5),
    ],
    ids=["Gaussian 3", "Gaussian 4", "box 9", "box 5"],
)
def test_closed_forms_of_blurs(blur, width: float) -> None:
    """SciPy's blurs, line for line: the closed forms 2 sqrt(2) erfinv(0.8) s and 0.8 w, within 2 %.

    (Both are finely sampled here: the straight lines between centres take hardly anything.)
    """
    evidence = evidence_of(noise_frame(), "quantise")
    seen = blur(evidence.landed.astype(np.float64)).astype(np.float32)
    after = replace(evidence, pictures=(seen,), landed=seen, coverage=None)
    assert edge_spread_lines(after)[0] == pytest.approx(width, rel=0.02)
    assert edge_spread_lines(after)[0] != pytest.approx(width * 1.05, rel=0.02)


@pytest.mark.parametrize("harm", ["clean", "8 bit", "noise 2"])
@pytest.mark.parametrize("blur", BLURS)
def test_known_blurs_come_back(blur: str, harm: str) -> None:
    """Boxes, Gaussians and triangles by SciPy at a phase of 0.4 line, every third kept: within 5 %."""
    harms = {
        "clean": lambda p: p,
        "8 bit": lambda p: np.rint(p * 255) / 255,
        "noise 2": lambda p: p + np.random.RandomState(1).normal(0, 2 / 255, p.shape),
    }
    view, taps = blurred_view(evidence_of(noise_frame(), "line-average lines=240"), blur, harms[harm])
    kernel = measured(view, coded=True)
    assert mean_width(kernel) == pytest.approx(true_width(kernel, taps), rel=0.05)


def test_the_blurs_are_told_apart() -> None:
    """Guard: the true width of one blur is not what another reads."""
    evidence = evidence_of(noise_frame(), "line-average lines=240")
    view, _ = blurred_view(evidence, "Gaussian 1")
    other, taps = blurred_view(evidence, "Gaussian 1.5")
    assert mean_width(measured(view)) != pytest.approx(true_width(measured(other), taps), rel=0.05)


@pytest.mark.parametrize("moved", [-7, -3, 4, 8])
def test_a_capture_off_its_place_is_registered(moved: int) -> None:
    """Lines off the map, within three scan lines: the same height as in place."""
    evidence = evidence_of(noise_frame(), "line-average lines=240")
    look = evidence.geometry.lines[0]
    lines = (type(look)(look.scale, look.offset + moved),)
    off = replace(evidence, geometry=replace(evidence.geometry, lines=lines), coverage=None)
    assert edge_spread_lines(off)[0] == pytest.approx(edge_spread_lines(evidence)[0], rel=0.02)


def test_a_tone_curve_does_not_widen() -> None:
    """A gamma of 0.9 on the output of a filtered chain: within 2 %."""
    rough = np.repeat(np.repeat(np.random.RandomState(4).rand(103, 480, 1), 7, 0)[:720], 3, 2)
    evidence = evidence_of(rough, "line-average lines=240")
    seen = evidence.landed**0.9
    bent = replace(evidence, pictures=(seen,), landed=seen, coverage=None)
    assert edge_spread_lines(bent)[0] == pytest.approx(edge_spread_lines(evidence)[0], rel=0.02)


def soft_frame() -> np.ndarray:
    """Slow waves: the lines bend by about one code."""
    y = np.arange(720)[:, None, None]
    x = np.arange(480)[None, :, None]
    return np.repeat(0.5 + 0.3 * np.sin(y * 0.13 + x * 0.05), 3, axis=2)


def test_a_soft_capture_is_refused_with_its_figure() -> None:
    """Compressed or noisy, and nothing sharp in the source: no figure, and how soft it is."""
    evidence = evidence_of(soft_frame(), "line-average lines=240")
    seen = evidence.landed + np.random.RandomState(2).normal(0, 2 / 255, evidence.landed.shape)
    captured = replace(evidence, pictures=(seen,), landed=seen.astype(np.float32), coverage=None)
    with pytest.raises(NotMeasurable, match=r"too soft: its lines bend by \d\.\d codes"):
        edge_spread_lines(captured)


def test_an_interlaced_line_counts_half() -> None:
    """480 woven lines are half a pitch apart, so the same sharp step reads 0.4."""
    spread, _ = edge_spread_lines(evidence_of(step_frame(240, 480), "interlace"))
    assert spread == pytest.approx(0.4, abs=1e-3)


def test_polarity_and_gain_change_nothing() -> None:
    """A dark edge under a light one, or half the contrast, has the same width."""
    chain = "line-average lines=240"
    a, _ = edge_spread_lines(evidence_of(step_frame(361), chain))
    b, _ = edge_spread_lines(evidence_of(step_frame(361, low=0.8, high=0.2), chain))
    c, _ = edge_spread_lines(evidence_of(step_frame(361), chain + ", level gain=0.5 lift=0.2"))
    assert b == pytest.approx(a, abs=1e-4)
    assert c == pytest.approx(a, abs=1e-4)


def test_steps_are_the_same_for_every_chain() -> None:
    """They are the source's: one step in 240 strips."""
    frame = step_frame(361)
    counts = {
        edge_spread_lines(evidence_of(frame, c))[1] for c in ("line-drop lines=240", "line-average lines=240")
    }
    assert counts == {240.0}


@pytest.mark.parametrize(
    ("frame", "reason"),
    [
        (grey(np.full(720, 0.5)), "has 0 steps"),
        (grey(np.linspace(0, 1, 720)), "too soft"),
        (np.tile(np.where(np.arange(480) % 40 < 20, 0.2, 0.8)[None, :, None], (720, 1, 3)), "has 0 steps"),
    ],
    ids=["flat", "gradient", "vertical stripes"],
)
def test_nothing_to_measure_is_a_reason_not_a_number(frame: np.ndarray, reason: str) -> None:
    """A picture without steps between its lines has no spread."""
    with pytest.raises(NotMeasurable, match=reason):
        edge_spread_lines(evidence_of(frame, "line-drop lines=240"))


@pytest.mark.parametrize("chain", ["line-drop lines=240", "line-average lines=240"])
def test_texture_and_outlines_tell_as_well_as_edges(chain: str) -> None:
    """No plateau is needed: a bright outline between two greys, at all three places, reads what noise
    reads."""
    frame = grey(np.full(720, 0.2))
    for at in range(20, 700, 11):
        frame[at : at + 4] = 0.9
    assert edge_spread_lines(evidence_of(frame, chain))[0] == pytest.approx(
        edge_spread_lines(evidence_of(noise_frame(), chain))[0], rel=0.02
    )


def test_hidden_edges_do_not_count() -> None:
    """An edge under the overscan is not measured."""
    with pytest.raises(NotMeasurable):
        edge_spread_lines(evidence_of(step_frame(40), "line-drop lines=240, overscan top=30"))


def test_a_wrong_geometry_is_no_figure() -> None:
    """Told a place 60 lines off, the output does not follow the source."""
    evidence = evidence_of(noise_frame(), "line-drop lines=240 phase=1")
    look = evidence.geometry.lines[0]
    lines = (type(look)(look.scale, look.offset + 60),)
    with pytest.raises(NotMeasurable, match="does not follow"):
        edge_spread_lines(replace(evidence, geometry=replace(evidence.geometry, lines=lines)))


def test_half_crossings_by_hand() -> None:
    """Levels 0, 1/4, 1: half is crossed a third on from the second; of two the nearest; none is NaN."""
    rows = np.array([[0, 0.25, 1, 1, 1], [0, 1, 0, 0.25, 1.0], [0, 0, 0, 0, 0.4]])
    found = half_crossings(rows, np.array([1.0, 3.0, 2.0]))
    assert found[:2] == pytest.approx([1 + 1 / 3, 3 + 1 / 3])
    assert np.isnan(found[2])


def test_overshoot_does_not_widen() -> None:
    """Crossings are taken nearest the middle, so a ripple beyond the edge is left out."""
    plain = np.array([[0, 0, 0, 0, 1, 1, 1, 1.0]])
    rippled = np.array([[0, 0.15, -0.1, 0, 1, 1.1, 0.85, 1.0]])
    middle = np.array([3.5])
    assert profile_widths(rippled, middle) == pytest.approx(profile_widths(plain, middle), abs=0.08)
