"""Combing: nothing on stills whatever the chain, all of it on pure motion, shares in between by hand."""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of, grey
from metrics.slants import Array, colour, lines_scene

from scalesim.metrics.flicker.combing import comb, combing
from scalesim.metrics.flicker.percent import flicker_percent

LINES, SAMPLES = 480, 720


def woven(first: Array, second: Array) -> Array:
    """Return the frame whose even lines are of one moment and odd lines of the next."""
    frame = first.copy()
    frame[1::2] = second[1::2]
    return frame


def bar(left: int, *, lines: slice = slice(None), low: float = 0.2, high: float = 0.8) -> Array:
    """Return an upright bar 200 samples wide."""
    luma = np.full((LINES, SAMPLES), low)
    luma[lines, left : left + 200] = high
    return colour(luma)


def figure(frame: Array, chain: str, mode: str = "480i") -> float:
    return combing(evidence_of(frame, chain, mode))[0]


def test_motion_over_the_whole_height_is_all_combing() -> None:
    """Every line differs from the next where the bar moved, and nowhere else.

    480 lines hold 477 groups of four and 478 second differences, all D^2: the share is 477/478.
    """
    frame = woven(bar(100), bar(130))
    assert figure(frame, "deinterlace how=weave") == pytest.approx(477 / 478, abs=1e-6)
    assert figure(frame, "quantise") == pytest.approx(477 / 478, abs=0.001)


@pytest.mark.parametrize("how", ["bob", "blend"])
def test_what_is_not_woven_does_not_comb(how: str) -> None:
    """One field a frame, or the mean of both: no line differs from both its neighbours."""
    assert figure(woven(bar(100), bar(130)), f"deinterlace how={how}") == 0


def test_share_of_still_detail_by_hand() -> None:
    """Beside the torn bar stands a still pattern of steps: torn energy over all of it.

    60 torn columns (30 on either side of the bar) have 477 groups and 478 second differences of D^2;
    100 columns of still steps have D^2 / 4 on two lines for each of their 79 steps.
    """
    pattern = np.where(np.arange(LINES) // 6 % 2, 0.8, 0.2)[:, None, None]
    first, second = bar(100), bar(130)
    for moment in (first, second):
        moment[:, 600:700] = pattern
    expected = 60 * 477 / (60 * 478 + 100 * 79 / 2)
    assert figure(woven(first, second), "deinterlace how=weave") == pytest.approx(expected, rel=1e-4)
    assert 0.85 < expected < 0.9


def test_tearing_across_still_edges_counts_less() -> None:
    """Where one field alone changes as much, tearing cannot be told: a short bar's ends are left out."""
    part = slice(100, 200)
    found = figure(woven(bar(100, lines=part), bar(130, lines=part)), "deinterlace how=weave")
    assert 0.8 < found < 0.95


STILLS = {
    "edges": lines_scene(2)[:480, :720],
    "noise": np.random.RandomState(0).rand(480, 720, 1).repeat(3, 2).astype(np.float32),
    "every other line": grey(np.arange(480) % 2 * 0.6 + 0.2, 720),
    "three on three off": grey(np.arange(480) % 6 // 3 * 0.6 + 0.2, 720),
}
CHAINS = [
    "line-drop lines=240",
    "resample lines=240 kernel=lanczos3",
    "line-average lines=320",
    "interlace",
    "interlace, deinterlace how=weave",
    "flicker-filter, interlace, field-only",
    "line-drop lines=240 phase=1, interlace",
    "level gain=0.5 lift=0.2, interlace",
    "level gain=1.2 lift=-0.1 clip=off, interlace",
    "position lines=0.5, interlace",
]


@pytest.mark.parametrize("chain", CHAINS)
@pytest.mark.parametrize("still", STILLS)
def test_a_progressive_still_never_combs(still: str, chain: str) -> None:
    """Whatever detail it has and whatever becomes of it: exactly 0."""
    assert figure(STILLS[still], chain, "480p") == 0


@pytest.mark.parametrize(
    "chain", ["quantise", "line-average lines=120", "deinterlace how=weave", "field-only"]
)
def test_an_interlaced_still_does_not_comb(chain: str) -> None:
    """Edges and circles in both fields of one moment."""
    assert figure(STILLS["edges"], chain) == 0


def test_on_one_set_of_lines_motion_is_double_not_torn() -> None:
    """Field-only: nothing to comb, but it flickers."""
    evidence = evidence_of(woven(bar(100), bar(130)), "field-only", "480i")
    assert combing(evidence) == (0.0,)
    assert flicker_percent(evidence)[0] > 1


def test_more_motion_combs_more() -> None:
    """Ordered by how far the bar moved beside a still pattern; noise of 1/255 hardly counts."""
    texture = np.zeros((LINES, SAMPLES, 3), np.float32)
    texture[:, 500:] = (np.arange(LINES) % 12 < 6)[:, None, None] * 0.5
    found = [figure(np.maximum(woven(bar(50), bar(50 + m)), texture), "quantise") for m in (0, 2, 8, 32)]
    assert found == sorted(found)
    assert found[0] == 0
    assert found[3] > 1.5 * found[1] > 0
    noise = np.random.RandomState(1).normal(0, 1 / 255, (LINES, SAMPLES, 1)).astype(np.float32)
    assert figure(bar(100) + noise, "deinterlace how=weave") < 0.01


def test_the_comb_of_four_lines() -> None:
    """Alternating lines give their step; a line, an edge, a pair and a slope give nothing."""

    def least(*lines: float) -> float:
        return float(comb(np.diff(np.array(lines)[:, None], axis=0))[0, 0])

    assert least(0.2, 0.8, 0.2, 0.8) == pytest.approx(0.6)
    assert least(0.8, 0.2, 0.8, 0.5) == pytest.approx(0.3)
    for still in ((0, 1, 0, 0), (0, 0, 1, 1), (0, 1, 1, 0), (0, 0.3, 0.6, 0.9), (0.5, 0.5, 0.5, 0.5)):
        assert least(*still) == 0


def test_hidden_motion_does_not_count() -> None:
    """Tearing under the overscan is not seen."""
    frame = woven(bar(20), bar(30))
    assert figure(frame, "overscan left=40") == pytest.approx(476 / 478, abs=0.01)
    assert figure(frame, "overscan left=40 right=520") == 0


def test_pictures_without_lines_or_detail() -> None:
    """Flat, or fewer than four lines: nothing tears."""
    assert combing(evidence_of(np.full((480, 64, 3), 0.4), "interlace")) == (0.0,)
    assert combing(evidence_of(np.random.RandomState(0).rand(6, 16, 3), "line-drop lines=3")) == (0.0,)
