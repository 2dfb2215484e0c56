"""The flicker chart: what it draws, and that it keeps within the published figures for safety."""

from __future__ import annotations

import json

import numpy as np
import pytest

from scalesim import Chain, still_clip
from scalesim.charts._base import Chart
from scalesim.charts.flicker import AMBER, BAR_LINES, ON_CHART, flicker_chart
from scalesim.core.mode import ALIASES, MODES
from scalesim.draw.letters import text_mask
from scalesim.jobs.predict.predict import predict

KINDS = [
    ("1080i", "4:3"),
    ("720p", "16:9"),
    ("720p", "4:3"),
    ("480i", "16:9"),
    ("576i", "4:3"),
    ("480p", "4:3"),
    ("240p", "4:3"),
    ("288p", "4:3"),
    ("640x480p", "4:3"),
]
DRAWN: dict[tuple[str, str], Chart] = {}


def chart(mode: str, aspect: str) -> Chart:
    if (mode, aspect) not in DRAWN:
        DRAWN[mode, aspect] = flicker_chart(mode, aspect=aspect)
    return DRAWN[mode, aspect]


def alternating(frame: np.ndarray) -> float:
    """Share of a woven picture that changes from field to field by 10 % of white light or more.

    A line and its neighbour below lie in different fields; where their light (V^2.4, ITU-R BT.1886)
    differs by a tenth of white, the level at which WCAG and ITU-R BT.1702 begin to count, both count.
    """
    light = frame.mean(axis=2) ** 2.4
    differs = np.abs(light[0::2] - light[1::2]) >= 0.1
    return float(differs.mean())


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_less_than_a_quarter_alternates(mode: str, aspect: str) -> None:
    """ITU-R BT.1702-3: changing stripes not over 25 % of the picture; measured, and stated."""
    made = chart(mode, aspect)
    shown = made.frame[:, int(made.truth["area"]["left"]) : int(made.truth["area"]["right"])]
    assert 0.02 < alternating(shown) < 0.25
    assert made.truth["grating_area"] < 0.25 and made.truth["grating_area_limit"] == 0.25
    area = sum(
        (b["bottom"] - b["top"]) * (b["right"] - b["left"])
        for b in (g["bar"] for g in made.truth["gratings"])
    )
    box = made.truth["area"]
    whole = (box["bottom"] - box["top"]) * (box["right"] - box["left"])
    assert made.truth["grating_area"] == pytest.approx(area / whole, abs=1e-6)


def test_a_full_picture_of_lines_would_not_pass() -> None:
    lines = np.zeros((480, 720, 3), np.float32)
    lines[::2] = 0.75
    assert alternating(lines) == 1.0


@pytest.mark.parametrize(
    "mode, chain",
    [
        ("720p", "fit how=crop, line-average lines=480, interlace"),
        ("720p", "line-drop lines=480, interlace, field-only"),
        ("480p", "interlace"),
        ("576i", "field-only"),
    ],
)
def test_it_stays_below_a_quarter_through_a_chain(mode: str, chain: str) -> None:
    made = chart(mode, "4:3")
    box = predict(still_clip(made.frame, mode=made.mode), Chain(chain), metrics=())
    assert alternating(box.woven) < 0.25


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_gratings_have_the_stated_bars(mode: str, aspect: str) -> None:
    """Run lengths down the middle of each grating: bright and dark, all of the stated lines."""
    made = chart(mode, aspect)
    assert [g["bright_lines"] for g in made.truth["gratings"]] == list(BAR_LINES) == [1, 2, 3, 4, 6]
    for grating in made.truth["gratings"]:
        box, bar = grating["bar"], grating["bright_lines"]
        patch = made.frame[box["top"] : box["bottom"], box["left"] : box["right"]]
        assert np.all(patch == patch[:, :1, :1])
        bright = patch[:, 0, 0] > 0.5
        assert np.array_equal(bright, (np.arange(bright.size) // bar) % 2 == 0)
        assert set(np.unique(patch)) == {np.float32(made.truth["dark"]), np.float32(made.truth["bright"])}


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_thin_lines_are_as_thick_and_as_even_or_odd_as_said(mode: str, aspect: str) -> None:
    made = chart(mode, aspect)
    found = [(t["thickness_lines"], t["first_line_parity"]) for t in made.truth["lines"]]
    assert found == [(1, 0), (1, 1), (2, 0), (2, 1)]
    for thin in made.truth["lines"]:
        middle = (thin["left"] + thin["right"]) // 2
        lit = (
            np.flatnonzero(made.frame[thin["top"] - 6 : thin["bottom"] + 4, middle, 0] > 0.5)
            + thin["top"]
            - 6
        )
        assert lit.tolist() == list(range(thin["top"], thin["bottom"]))
        assert lit.size == thin["thickness_lines"] and lit[0] % 2 == thin["first_line_parity"]


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_the_caution_is_in_the_picture_and_in_the_truth(mode: str, aspect: str) -> None:
    """Each line of it is found by its own shape, in its colour, within the 90 % safe area."""
    made = chart(mode, aspect)
    for text in (made.title, made.truth["caution"]):
        assert "25 to 30 Hz on an interlaced tube" in text and "Photosensitive" in text
    amber = np.all(np.abs(made.frame - np.float32(AMBER)) < 1e-5, axis=2)
    lines, samples = np.flatnonzero(amber.any(axis=1)), np.flatnonzero(amber.any(axis=0))
    area = made.truth["area"]
    wide, high = area["right"] - area["left"], area["bottom"]
    assert lines[0] > 0.05 * high
    assert samples[0] > area["left"] + 0.05 * wide and samples[-1] < area["right"] - 0.05 * wide
    dot = round(high / 240 + 1e-9) if high != 1080 else 5
    for words in ON_CHART:
        mask = text_mask(words)
        rows = amber[lines[0] + ON_CHART.index(words) * 9 * dot :][: 8 * dot]
        columns = np.flatnonzero(rows.any(axis=0))
        across = (columns[-1] + 1 - columns[0]) // mask.shape[1]
        shown = rows[dot // 2 :: dot, columns[0] + across // 2 : columns[-1] + 1 : across]
        assert np.array_equal(shown, mask)


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_ring_and_texts(mode: str, aspect: str) -> None:
    """The ring is one line thick at its top; the same words in strokes of 1, 2 and 3 lines."""
    made = chart(mode, aspect)
    ring = made.truth["ring"]
    top = ring["line"] - ring["radius_lines"]
    column = made.frame[round(top) - 3 : round(top) + 4, int(ring["sample"]), 0]
    assert (column - made.truth["dark"]).sum() / (0.85 - made.truth["dark"]) == pytest.approx(1, abs=0.1)
    for text in made.truth["texts"]:
        ink = made.frame[text["top"] : text["bottom"], text["left"] : text["right"], 0] > 0.5
        mask = text_mask(text["words"])
        assert np.array_equal(ink[:: text["stroke_lines"], :: ink.shape[1] // mask.shape[1]], mask)
        assert text["right"] <= made.truth["area"]["right"] - 0.04 * made.truth["samples"]
    assert [t["stroke_lines"] for t in made.truth["texts"]] == [1, 2, 3]


def test_the_thinnest_text_is_lost_on_240_lines() -> None:
    """What a label must survive (see the geometry chart) these strokes of one source line do not."""
    made = chart("720p", "16:9")
    box = predict(still_clip(made.frame, mode=made.mode), Chain("line-drop lines=240"), metrics=())
    text = made.truth["texts"][0]
    rows = ((np.arange(text["top"], text["bottom"]) + 0.5) / 3).astype(int)
    before = made.frame[text["top"] : text["bottom"], text["left"] : text["right"], 0].ravel()
    after = box.landed[rows, text["left"] : text["right"], 0].ravel()
    assert np.corrcoef(before, after)[0, 1] < 0.6


@pytest.mark.parametrize("mode, aspect", KINDS)
def test_all_of_it_lies_in_the_safe_area_and_is_plain(mode: str, aspect: str) -> None:
    made = chart(mode, aspect)
    named = MODES[ALIASES[mode]]
    assert made.frame.shape == (named.frame_lines, named.samples, 3) and made.mode == named.name
    assert json.loads(json.dumps(made.truth, allow_nan=False)) == made.truth
    area = made.truth["area"]
    paper = made.frame[:, area["left"] : area["right"]]
    drawn = np.any(paper != np.float32(0.10), axis=2)
    lines, samples = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    assert lines[0] > 0.05 * paper.shape[0] and lines[-1] < 0.95 * paper.shape[0]
    assert samples[0] > 0.05 * paper.shape[1] and samples[-1] < 0.955 * paper.shape[1]
