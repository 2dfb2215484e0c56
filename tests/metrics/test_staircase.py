"""Staircase: closed forms for stairs of whole lines, known kernels, and reasons for none.

A source without antialiasing has its edge at s, a whole line, for a true course evenly spread about
it: a stair of variance 1/12 source line^2. A chain of 3:1 with symmetric taps puts the half crossing, by the
straight line between two line centres 3 source lines apart, at c(s) for s mod 3 = 0, 1, 2. The figure
is then sqrt(12 (mean (c - s)^2 + 1/12)) / 3 of a pure drop's.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from metrics.evidence import evidence_of
from metrics.slants import Array, circles_scene, colour, lines_scene, slanted

from scalesim.errors import NotMeasurable
from scalesim.metrics.edges.slants import find_slants, linked_runs
from scalesim.metrics.edges.staircase import half_crossings, slant_rules, staircase


def closed_form(offsets: tuple[float, float, float]) -> float:
    """Return the figure for c - s in source lines at the three places of an edge in a span."""
    return float(np.sqrt(12 * (np.mean(np.square(offsets)) + 1 / 12)) / 3)


CHAINS = {
    # a drop crosses half way between two lines shown: a line off either way, or not at all
    "line-drop lines=240 phase=1": closed_form((1, 0, -1)),
    # the mean of two lines: half a line off either way, or none when the edge halves the pair
    "resample lines=240 kernel=linear antialias=off phase=1/2": closed_form((0.5, 0, -0.5)),
    # levels 0, 2/3, 1: half is crossed 3/4 of the way from centre to centre, 1/4 line from s
    "line-average lines=240": closed_form((0, 0.25, -0.25)),
    # taps 1/2/3/2/1: levels 1/9, 8/9 (no offset) and 0, 6/9, 1 (as the box)
    "resample lines=240 kernel=linear": closed_form((0, 0.25, -0.25)),
}
FINDINGS = {
    "line-drop lines=240 phase=1": 1.00,
    "line-average lines=240": 0.39,
    "resample lines=240 kernel=linear": 0.38,
    "resample lines=240 kernel=lanczos3": 0.36,
}
"""Measured on lines and circles by an earlier study of this project, 1/sqrt(12) line being 1."""


@cache
def scene(name: str) -> Array:
    return {"lines": lines_scene(0), "lines again": lines_scene(5), "circles": circles_scene()}[name]


def figure(frame: Array, chain: str, mode: str | None = None) -> float:
    return staircase(evidence_of(frame, chain, mode))[0]


def test_a_pure_drop_is_one() -> None:
    """n^2/12 is the variance of a place rounded to n lines, whatever n: the closed form is exactly 1."""
    assert CHAINS["line-drop lines=240 phase=1"] == pytest.approx(1, abs=1e-12)
    assert closed_form((0.25, 0, -0.25)) == pytest.approx(0.408248, abs=1e-6)


@pytest.mark.parametrize("name", ["lines", "lines again"])
@pytest.mark.parametrize("chain", CHAINS)
def test_closed_forms_on_lines(name: str, chain: str) -> None:
    """Six straight edges of slopes 0.03 to 1: within 0.03."""
    assert figure(scene(name), chain) == pytest.approx(CHAINS[chain], abs=0.03)


@pytest.mark.parametrize("chain", CHAINS)
def test_closed_forms_on_circles(chain: str) -> None:
    """Discs of radius 60, 150 and 240 lines, followed by cubics: within 0.04."""
    assert figure(scene("circles"), chain) == pytest.approx(CHAINS[chain], abs=0.04)


@pytest.mark.parametrize("name", ["lines", "lines again", "circles"])
@pytest.mark.parametrize("chain", FINDINGS)
def test_measured_figures(name: str, chain: str) -> None:
    """Within 0.05 of what was measured before."""
    assert figure(scene(name), chain) == pytest.approx(FINDINGS[chain], abs=0.05)


def test_a_place_one_line_off_at_random_is_caught() -> None:
    """Guard: lines of the output shaken by one sample in eight up or down do not pass as a box's."""
    evidence = evidence_of(scene("lines"), "line-average lines=240")
    good = staircase(evidence)[0]
    shaken = evidence.landed.copy()
    for first in range(0, shaken.shape[1], 16):
        shaken[:, first : first + 8] = np.roll(shaken[:, first : first + 8], 1, axis=0)
    bad = staircase(replace(evidence, pictures=(shaken,), landed=shaken))[0]
    assert bad > 2 * good


def test_interlaced_stairs_are_half_a_pitch() -> None:
    """A 480-line source, line for line into 480i: stairs of one frame line, half a pitch: 1/2."""
    frame = np.concatenate([slanted(s, 480, 240, antialias=False) for s in (0.07, -0.2, 0.45, 0.8)], axis=1)
    assert figure(frame, "interlace") == pytest.approx(0.5, abs=0.02)
    assert figure(frame, "quantise") == pytest.approx(1.0, abs=0.03)


def test_an_antialiased_source_through_a_fine_filter_has_few() -> None:
    """Grey tells where the edge lies; a triangle keeps most of it."""
    frame = lines_scene(0, antialias=True)
    smooth = figure(frame, "resample lines=240 kernel=linear")
    assert smooth < 0.25
    assert smooth < figure(frame, "line-average lines=240") < figure(frame, "line-drop lines=240")


def test_gain_place_and_polarity_do_not_count() -> None:
    """Half the contrast, a picture moved by a whole line, a negative: the same stairs."""
    frame, chain = scene("lines"), "line-average lines=240"
    plain = figure(frame, chain)
    assert figure(frame, chain + ", level gain=0.5 lift=0.2") == pytest.approx(plain, abs=0.01)
    assert figure(frame, chain + ", position lines=3") == pytest.approx(plain, abs=0.02)
    assert figure(1 - frame, chain) == pytest.approx(plain, abs=0.01)


def test_noise_hardly_counts() -> None:
    """Noise of 2/255 changes the figure by less than 0.02."""
    frame = scene("lines")
    noisy = colour(frame[:, :, 0] + np.random.RandomState(0).normal(0, 2 / 255, frame.shape[:2]))
    for chain in ("line-drop lines=240", "line-average lines=240"):
        assert figure(noisy, chain) == pytest.approx(figure(frame, chain), abs=0.02)


@pytest.mark.parametrize(
    "frame",
    [
        np.full((720, 640, 3), 0.5),
        np.random.RandomState(3).rand(720, 640, 3),
        slanted(0.0, samples=640),
        slanted(1.6, samples=640),
        slanted(0.2, samples=640),
        np.repeat(np.repeat(slanted(0.3, 144, 256, antialias=False), 5, 0), 5, 1),
    ],
    ids=["flat", "noise", "level", "steep", "one edge only", "dots of five lines"],
)
def test_nothing_to_follow_is_a_reason(frame: Array) -> None:
    """Null with the numbers that were missing, never 0."""
    with pytest.raises(NotMeasurable, match="slanted edges"):
        figure(np.asarray(frame), "line-average lines=240")


def test_hidden_edges_do_not_count() -> None:
    """Under the overscan nothing is followed."""
    with pytest.raises(NotMeasurable):
        figure(scene("lines"), "line-drop lines=240, overscan left=1150")


@pytest.mark.parametrize("slope", [0.05, -0.3, 0.9])
def test_the_source_s_course_is_found(slope: float) -> None:
    """A rendered line comes back within a fifth of a source line over its length, its slope within 1 %."""
    luma = slanted(slope)[:, :, 0]
    pieces = find_slants(luma, slant_rules(720))
    assert sum(piece.length for piece in pieces) > 0.5 * min(1280, 690 / abs(slope))
    for piece in pieces:
        at = np.linspace(piece.begin, piece.end, 9)
        assert piece.line(at) == pytest.approx(360 + slope * (at - 640), abs=0.2)
        assert piece.slope(at).mean() == pytest.approx(slope, rel=0.01)
        assert piece.rise == 1
        assert (piece.above, piece.below) == pytest.approx((0.2, 0.8), abs=0.01)


def test_runs_do_not_jump() -> None:
    """Two edges four lines apart stay two runs; one of the other polarity between them is neither."""
    columns = np.tile(np.arange(10), 3)
    places = np.concatenate([np.full(10, 20.0), np.full(10, 24.0), np.full(10, 22.0)])
    rising = np.repeat([True, True, False], 10)
    runs = linked_runs(columns, places, rising, 5.0)
    assert sorted(places[run].tolist() for run in runs) == [[20.0] * 10, [22.0] * 10, [24.0] * 10]


def test_half_crossings_by_hand() -> None:
    """Levels 0, 1/4, 1 on lines centred at 4.5, 5.5, 6.5: half is crossed a third on from 5.5."""
    luma = np.repeat(np.r_[np.zeros(5), 0.25, np.ones(6)][:, None], 3, axis=1)
    found = half_crossings(luma, np.arange(3), np.full(3, 6.0), 1.0, 1)
    assert found == pytest.approx([5.5 + 1 / 3] * 3)
    assert np.isnan(half_crossings(luma, np.arange(3), np.full(3, 6.0), 1.0, -1)).all()
    assert np.isnan(half_crossings(luma, np.arange(3), np.full(3, 9.0), 1.0, 1)).all()
