"""The kernel chart: what is drawn is what its truth says, in every mode, and nothing of it is ambiguous."""

from __future__ import annotations

import json

import numpy as np
import pytest

from scalesim.charts.kernel import kernel_chart
from scalesim.charts.layout import HIGH, LOW, layout
from scalesim.core.mode import MODES
from scalesim.errors import ParameterError

FAMILIES = sorted({(m.frame_lines, m.samples, m.interlaced): name for name, m in MODES.items()}.values())


def redrawn(truth: dict) -> np.ndarray:
    """Return the grey chart drawn from its truth alone, sample by sample, by the truth's own rule."""
    lines, samples = truth["lines"], truth["samples"]
    codes = np.random.RandomState(truth["seed"]).randint(0, 2, (lines, truth["cells"]))
    frame = np.full((lines, samples), truth["levels"]["surround"])
    across = (np.arange(samples) + 0.5) / samples
    for cell, (left, right) in enumerate(zip(truth["cell_edges"], truth["cell_edges"][1:], strict=False)):
        inside = (across >= left) & (across < right)
        level = np.where(codes[:, cell] == 1, truth["levels"]["high"], truth["levels"]["low"])
        frame[:, inside] = level[:, None]
    for kind in ("bars", "ramps"):
        band = truth[kind]
        line = np.full(samples, truth["levels"]["surround"])
        for level, left, right in zip(band["levels"], band["edges"], band["edges"][1:], strict=False):
            line[(across >= left) & (across < right)] = level
        for top, bottom in band["lines"]:
            frame[top:bottom] = line
    return frame


@pytest.mark.parametrize("mode", FAMILIES)
def test_the_truth_redraws_the_chart(mode: str) -> None:
    """The JSON text of the truth, read back, gives the same picture; a changed seed does not."""
    chart = kernel_chart(mode)
    truth = json.loads(json.dumps(chart.truth, allow_nan=False))
    assert chart.frame.shape == (MODES[mode].frame_lines, MODES[mode].samples, 3)
    assert chart.frame.dtype == np.float32
    assert np.allclose(chart.frame[..., 1], redrawn(truth), atol=1e-6)
    truth["seed"] += 1
    assert not np.allclose(chart.frame[..., 1], redrawn(truth), atol=0.1)


def test_every_size_scan_page_and_window_has_its_own_bars() -> None:
    """Charts of two modes are told apart by their bars; rates of one size share a chart."""
    plans = [
        layout(mode, page=page, aspect=aspect)
        for mode in FAMILIES
        for page in ("luma", "colour")
        for aspect in ("full", "4:3")
    ]
    seeds = {(p.mode.frame_lines, p.mode.samples, p.mode.interlaced, p.page, p.aspect): p for p in plans}
    assert len({p.seed for p in plans}) == len(seeds)
    patterns = {tuple(p.bar_levels()) for p in seeds.values()}
    assert len(patterns) == len(seeds)
    assert layout("720p60").seed == layout("720p50").seed


def test_lines_are_told_apart() -> None:
    """No two source lines correlate like one line with itself: 32 random cells stay below 0.95."""
    plan = layout("720p60")
    codes = plan.codes()[plan.coded_lines()].astype(float)
    codes -= codes.mean(axis=1, keepdims=True)
    codes /= np.linalg.norm(codes, axis=1, keepdims=True)
    likeness = codes @ codes.T - np.eye(len(codes))
    assert likeness.max() < 0.95
    shifted = np.roll(codes, 1, axis=1)  # shifted copies of one code would be alike: codes are not
    assert np.abs(np.sum(shifted[:-1] * codes[1:], axis=1)).mean() < 0.3


def test_bands_are_three_pairs_of_equal_lines_on_whole_fields() -> None:
    """Every band begins on an even line, so that both fields of an interlaced mode get the same of it."""
    for mode in FAMILIES:
        plan = layout(mode)
        assert len(plan.bars) == len(plan.ramps) == 3
        for top, bottom in (*plan.bars, *plan.ramps):
            assert top % 2 == 0
            assert (bottom - top) % 2 == 0
            assert bottom - top >= plan.lines // 32
        frame = kernel_chart(mode).frame
        top, bottom = plan.bars[1]
        assert np.ptp(frame[top:bottom], axis=0).max() == 0
        assert np.ptp(frame[bottom + plan.lines // 8 : bottom + plan.lines // 4], axis=0).max() > 0.5


def test_the_window_for_4_3_keeps_the_sides_free() -> None:
    """On the 4:3 page nothing but the surround lies outside the centre 3/4 of a wide picture."""
    frame = kernel_chart("1080p60", aspect="4:3").frame
    side = frame.shape[1] // 8
    assert np.ptp(frame[:, : side - 1]) == 0
    assert np.ptp(frame[:, side + 2 : -side]) > 0.5
    assert np.ptp(kernel_chart("1080p60").frame[:, : side - 1]) > 0.5
    assert kernel_chart("480p", aspect="4:3").truth["aspect"] == "full", "480p is 4:3 already"


@pytest.mark.parametrize(
    ("mode", "weights"), [("720p60", (0.2126, 0.7152, 0.0722)), ("480p", (0.299, 0.587, 0.114))]
)
def test_the_colour_page_has_one_luma(mode: str, weights: tuple[float, ...]) -> None:
    """Codes change B'-Y' at constant luma: ITU-R BT.709-6 item 3.2, BT.601-7 item 2.5.1."""
    plan = layout(mode, page="colour")
    frame = kernel_chart(mode, page="colour").frame[plan.coded_lines()]
    luma = frame @ np.asarray(weights, np.float32)
    assert np.ptp(luma) < 1e-5
    assert np.ptp(frame[..., 2] - luma) > 0.5
    assert np.ptp(kernel_chart(mode).frame[plan.coded_lines()] @ np.asarray(weights, np.float32)) > 0.7


def test_drawn_again_it_is_the_same_and_its_levels_are_the_two() -> None:
    """Deterministic; cells carry the two levels only."""
    first, second = kernel_chart("576i"), kernel_chart("576i")
    assert np.array_equal(first.frame, second.frame)
    plan = layout("576i")
    inside = first.frame[plan.coded_lines(), 100:600, 0]
    assert set(np.unique(inside)) == {np.float32(LOW), np.float32(HIGH)}
    assert "16 separate steps" in first.title


@pytest.mark.parametrize(
    ("keys", "word"), [({"page": "color"}, "colour"), ({"aspect": "4/3"}, "4:3"), ({}, "720p60")]
)
def test_unknown_words_are_answered_with_the_valid_ones(keys: dict[str, str], word: str) -> None:
    """A wrong page, aspect or mode is refused with what is valid."""
    with pytest.raises(ParameterError, match=word):
        kernel_chart("720p60" if keys else "720x60", **keys)


@pytest.mark.parametrize("mode", ["480i", "576p50", "720p60"])
def test_edges_and_levels_are_those_of_the_file(mode: str) -> None:
    """Bars change level exactly where the truth has their edges, and all levels are whole 8-bit codes."""
    chart = kernel_chart(mode)
    samples, bars = chart.truth["samples"], chart.truth["bars"]
    line = chart.frame[bars["lines"][0][0], :, 1]
    changes = np.flatnonzero(np.diff(line)) + 1
    edges = samples * np.asarray(bars["edges"])
    assert np.abs(edges - np.round(edges)).max() < 1e-9
    assert set(changes) <= set(np.round(edges).astype(int))
    levels = 255 * np.asarray([*chart.truth["ramps"]["levels"], *bars["levels"]])
    assert np.abs(levels - np.round(levels)).max() < 1e-9
