"""Staircase: closed forms, known kernels, nothing of texture, and reasons for none.

A chain of 3:1 puts the half crossing of a step at source boundary s, by the straight line between two
line centres 3 source lines apart, at c(s) for s mod 3 = 0, 1, 2. The figure is sqrt(12 mean (c - s)^2 / (3^2
- 1)): 1 for a drop, whose c is the nearest boundary between lines shown.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from few import few
from frames30 import FRAMES
from metrics.evidence import evidence_of
from metrics.slants import Array, circles_scene, colour, lines_scene, slanted

from scalesim.errors import NotMeasurable
from scalesim.metrics.edges.slants import SlantRules, find_slants, linked_runs
from scalesim.metrics.edges.staircase import staircase


def closed_form(offsets: tuple[float, float, float]) -> float:
    """Return the figure for c - s in source lines at the three places of an edge in a span."""
    return float(np.sqrt(12 * np.var(offsets) / (3**2 - 1)))


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
"""Crossings followed on pictures of lines and circles, an earlier study of this project: 1/sqrt(12) line
being 1, the source's own stairs of a third of a line among them."""


@cache
def scene(name: str) -> Array:
    return {"lines": lines_scene(0), "lines again": lines_scene(5), "circles": circles_scene()}[name]


def figure(frame: Array, chain: str, mode: str | None = None) -> float:
    return staircase(evidence_of(frame, chain, mode))[0]


def test_a_pure_drop_is_one() -> None:
    """(n^2 - 1) / 12 is the variance of n equally spaced places: the closed form is exactly 1."""
    assert CHAINS["line-drop lines=240 phase=1"] == pytest.approx(1, abs=1e-12)
    assert closed_form((0.25, 0, -0.25)) == pytest.approx(0.25, abs=1e-12)


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
    """Within 0.05, once the source's own stairs are put back: J^2 = figure^2 (1 - 1/9) + 1/9."""
    followed = np.sqrt(figure(scene(name), chain) ** 2 * 8 / 9 + 1 / 9)
    assert followed == pytest.approx(FINDINGS[chain], abs=0.05)


def test_another_chain_is_caught() -> None:
    """Guard: a drop's lines, or two blended, do not pass as an average's."""
    average = figure(scene("lines"), "line-average lines=240")
    for other in ("line-drop lines=240 phase=1", "resample lines=240 kernel=linear antialias=off phase=1/2"):
        assert figure(scene("lines"), other) > 1.5 * average


def test_interlaced_stairs_are_half_a_pitch() -> None:
    """Every 1.5th of 720 lines shown as 480i: stairs half as tall as those of a drop to 240."""
    assert figure(scene("lines"), "line-drop lines=480, interlace") == pytest.approx(0.5, abs=0.03)


def test_lines_as_they_are_have_none() -> None:
    """A 480-line source, line for line into 480i: the stairs are the source's, the chain adds none."""
    frame = np.concatenate([slanted(s, 480, 240, antialias=False) for s in (0.07, -0.2, 0.45, 0.8)], axis=1)
    assert figure(frame, "interlace") == pytest.approx(0, abs=0.01)
    with pytest.raises(NotMeasurable, match=r"1\.00 lines to a scan line"):
        figure(frame, "quantise")


FILTERED = "line-average lines=480, flicker-filter taps=1/2/1, interlace"


@pytest.mark.parametrize("name", few(["meadow", "grass", "yard", "gravel", "kettle_crew"], 2))
def test_texture_does_not_mislead(name: str) -> None:
    """A filter makes 480i smoother on a clean slant; it reads so on textured frames too, by the same
    figures."""
    clean, frame = lines_scene(0, antialias=True), FRAMES[name].load()
    if FRAMES[name].mode != "720p":
        clean = np.concatenate([slanted(s, 480, 240) for s in (0.07, -0.2, 0.45, 0.8)], axis=1)
    for chain in ("line-average lines=480, interlace", FILTERED, "line-average lines=240"):
        assert figure(frame, chain, FRAMES[name].mode) == pytest.approx(figure(clean, chain), abs=0.02)
    if FRAMES[name].mode == "720p":
        assert figure(frame, FILTERED) < 0.6 * figure(frame, "line-average lines=480, interlace")


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
    ("frame", "reason"),
    [
        (np.full((720, 640, 3), 0.5), "has 0 steps"),
        (np.repeat(np.repeat(np.random.RandomState(3).rand(240, 256, 3), 3, 0), 3, 1), "at 1 of 3 places"),
    ],
    ids=["flat", "dots of three lines"],
)
def test_nothing_to_tell_is_a_reason(frame: Array, reason: str) -> None:
    """Null with what is missing, never 0."""
    with pytest.raises(NotMeasurable, match=reason):
        figure(np.asarray(frame), "line-average lines=240")


def test_hidden_edges_do_not_count() -> None:
    """Under the overscan nothing is followed."""
    with pytest.raises(NotMeasurable):
        figure(slanted(0.001), "line-drop lines=240, overscan top=130")


@pytest.mark.parametrize("slope", [0.05, -0.3, 0.9])
def test_the_source_s_course_is_found(slope: float) -> None:
    """A rendered line comes back within a fifth of a source line over its length, its slope within 1 %."""
    luma = slanted(slope)[:, :, 0]
    pieces = find_slants(luma, SlantRules(4, 0.25, 3, (0.03, 1.0), 6.0))
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
