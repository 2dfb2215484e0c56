"""Edge spread: hand-derived widths, choice of edges, and reasons for none."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of, grey

from scalesim.errors import NotMeasurable
from scalesim.metrics.edges.spread_lines import edge_spread_lines, edge_widths, find_edges, profile_widths
from scalesim.metrics.outlines.strips import source_strips


def step_frame(at: int, lines: int = 720, low: float = 0.2, high: float = 0.8) -> np.ndarray:
    """A frame that steps once from low to high between source lines at-1 and at."""
    return grey(np.where(np.arange(lines) < at, low, high))


def test_a_drop_reads_the_least_there_is() -> None:
    """Two adjacent lines 0 and 1 cross 10 % and 90 % a tenth of a line from either: 0.8."""
    spread, count = edge_spread_lines(evidence_of(step_frame(360), "line-drop lines=240 phase=1"))
    assert spread == pytest.approx(0.8, abs=1e-6)
    assert count == 240


@pytest.mark.parametrize(("at", "width"), [(360, 0.8), (361, 1.55), (362, 1.55)])
def test_an_average_depends_on_where_the_edge_falls(at: int, width: float) -> None:
    """With the edge a third into a span the line between has the value 2/3 or 1/3.

    For values 0, v, 1 the crossings are at 0.1/v and 1 + (0.9 - v)/(1 - v): with v = 1/3 the width is
    1 + (0.9 - 1/3)/(2/3) - 0.3 = 1.55; the other case is its mirror image.
    """
    spread, _ = edge_spread_lines(evidence_of(step_frame(at), "line-average lines=240"))
    assert spread == pytest.approx(width, abs=1e-5)


def test_an_interlaced_line_counts_half() -> None:
    """480 woven lines are half a pitch apart, so the same sharp step reads 0.4."""
    spread, _ = edge_spread_lines(evidence_of(step_frame(240, 480), "interlace"))
    assert spread == pytest.approx(0.4, abs=1e-6)


def test_polarity_and_gain_change_nothing() -> None:
    """A dark edge under a light one, or half the contrast, has the same width."""
    chain = "line-average lines=240"
    a, _ = edge_spread_lines(evidence_of(step_frame(361), chain))
    b, _ = edge_spread_lines(evidence_of(step_frame(361, low=0.8, high=0.2), chain))
    c, _ = edge_spread_lines(evidence_of(step_frame(361), chain + ", level gain=0.5 lift=0.2"))
    assert b == pytest.approx(a, abs=1e-5)
    assert c == pytest.approx(a, abs=1e-5)


def test_edges_are_the_same_for_every_chain() -> None:
    """The choice looks at the source only."""
    frame = step_frame(361)
    counts = {
        edge_spread_lines(evidence_of(frame, c))[1] for c in ("line-drop lines=240", "line-average lines=240")
    }
    assert counts == {240.0}


@pytest.mark.parametrize(
    "frame",
    [
        grey(np.full(720, 0.5)),
        grey(np.linspace(0, 1, 720)),
        np.tile(np.where(np.arange(480) % 40 < 20, 0.2, 0.8)[None, :, None], (720, 1, 3)),
        np.random.RandomState(3).rand(720, 480, 3),
        grey(np.where(np.arange(720) % 4 < 2, 0.2, 0.8)),
    ],
    ids=["flat", "gradient", "vertical stripes", "noise", "lines too close for plateaus"],
)
def test_no_edges_is_a_reason_not_a_number(frame: np.ndarray) -> None:
    """A picture without isolated horizontal edges has no spread."""
    with pytest.raises(NotMeasurable, match="at least 20 are needed"):
        edge_spread_lines(evidence_of(frame, "line-drop lines=240"))


def test_a_border_is_no_edge() -> None:
    """A line brighter than both sides would overshoot and read as sharper than sharp: it is left out."""
    frame = step_frame(360, low=0.1, high=0.3)
    frame[360] = 1.0
    with pytest.raises(NotMeasurable):
        edge_spread_lines(evidence_of(frame, "line-average lines=240"))


def test_hidden_edges_do_not_count() -> None:
    """An edge under the overscan is not measured."""
    with pytest.raises(NotMeasurable):
        edge_spread_lines(evidence_of(step_frame(40), "line-drop lines=240, overscan top=30"))


def test_a_wrong_geometry_finds_no_edges_where_they_are_not() -> None:
    """The measure looks where the geometry says; told a wrong place, it finds nothing to measure."""
    evidence = evidence_of(step_frame(360), "line-drop lines=240 phase=1")
    edges = find_edges(source_strips(evidence.source_luma))
    right = edge_widths(source_strips(evidence.landed_luma), edges, evidence.lines)
    shifted = type(evidence.lines)(evidence.lines.scale, evidence.lines.offset + 60)
    wrong = edge_widths(source_strips(evidence.landed_luma), edges, shifted)
    assert np.isfinite(right).all()
    assert np.isnan(wrong).all()


def test_overshoot_does_not_widen() -> None:
    """Crossings are taken nearest the middle, so a ripple beyond the edge is left out."""
    plain = np.array([[0, 0, 0, 0, 1, 1, 1, 1.0]])
    rippled = np.array([[0, 0.15, -0.1, 0, 1, 1.1, 0.85, 1.0]])
    middle = np.array([3.5])
    assert profile_widths(rippled, middle) == pytest.approx(profile_widths(plain, middle), abs=0.08)
