"""Plot colours stay apart for every colour vision, and stand out from their ground.

Colour vision is simulated by G. M. Machado, M. M. Oliveira and L. A. F. Fernandes, "A Physiologically-based
Model for Simulation of Color Vision Deficiency", IEEE Trans. Vis. Comput. Graph. 15(6), 2009, severity 1, as
colour-science has it; differences are CIEDE2000 of the same library. Contrast: WCAG 2.2, 1.4.11 (3:1 for the
parts of a graphic).
"""

from __future__ import annotations

import re
from importlib import resources
from itertools import combinations

import numpy as np
import pytest
from numpy.typing import NDArray

from scalesim.draw.diverging import LESS, MORE, NONE, palette
from scalesim.page.plots.svg import DARK_HUES, HUES, INK, ON_PAPER, PAPER_HUES

APART = 12.0
"""CIEDE2000 that every pair keeps: several times what is seen side by side (about 1 to 2)."""

VISIONS = ("Normal", "Protanomaly", "Deuteranomaly", "Tritanomaly")
GROUNDS = {"light": ("#fbfaf7", "#1f2328", PAPER_HUES), "dark": ("#15171a", "#e8e6e1", DARK_HUES)}


def coded(colour: str) -> list[float]:
    return [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]


def labs(colours: NDArray, vision: str) -> NDArray:
    """Return sRGB colours as an observer sees them, (colours, 3) CIE Lab."""
    science = pytest.importorskip("colour")
    light = science.models.eotf_sRGB(colours)
    if vision != "Normal":
        light = np.clip(light @ science.CVD_MATRICES_MACHADO2010[vision][1.0].T, 0, 1)
    return science.XYZ_to_Lab(light @ science.RGB_COLOURSPACES["sRGB"].matrix_RGB_to_XYZ.T)


def least(colours: NDArray, vision: str) -> float:
    """Return the smallest difference between any two."""
    science = pytest.importorskip("colour")
    seen = labs(colours, vision)
    pairs = combinations(range(len(seen)), 2)
    return min(float(science.delta_E(seen[a], seen[b], method="CIE 2000")) for a, b in pairs)


@pytest.mark.filterwarnings("ignore")  # the library's own, of packages that it does without
@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.parametrize("ground", GROUNDS)
def test_every_pair_stays_apart(ground: str, vision: str) -> None:
    """All hues and the ink, two by two; the ground too, against which all are seen."""
    paper, ink, hues = GROUNDS[ground]
    assert least(np.array([coded(each) for each in (*hues, ink, paper)]), vision) >= APART


@pytest.mark.filterwarnings("ignore")
def test_the_measure_finds_colours_that_are_confused() -> None:
    """Red and green of one lightness, the textbook confusion: far apart for most, near for some."""
    pair = np.array([coded("#b05050"), coded("#6a7a30")])
    assert least(pair, "Normal") > 30
    assert min(least(pair, "Protanomaly"), least(pair, "Deuteranomaly")) < APART


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("vision", VISIONS)
def test_the_scale_of_differences_reads_the_same(vision: str) -> None:
    """Its ends and middle are apart, and both halves grow evenly: no step back in lightness."""
    assert least(np.array([LESS, NONE, MORE]), vision) >= 3 * APART
    lightness = labs(palette() / 255, vision)[:, 0]
    assert (np.diff(lightness[:128]) > -0.05).all() and (np.diff(lightness[127:]) < 0.05).all()


@pytest.mark.parametrize("ground", GROUNDS)
def test_every_hue_stands_out_from_its_ground(ground: str) -> None:
    """WCAG 2.2: contrast ratio (L1 + 0.05) / (L2 + 0.05) of relative luminance, 3 at least."""

    def luminance(colour: str) -> float:
        light = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in coded(colour)]
        return float(np.dot([0.2126, 0.7152, 0.0722], light))

    paper, _, hues = GROUNDS[ground]
    for hue in hues:
        low, high = sorted((luminance(hue), luminance(paper)))
        assert (high + 0.05) / (low + 0.05) >= 3, hue


def test_the_page_and_the_files_have_these_colours() -> None:
    style = (resources.files("scalesim.page") / "static/page.css").read_text("utf-8")
    lines = [line for line in style.splitlines() if "--hue-0:" in line]
    found = [tuple(re.findall(r"--hue-\d: (#\w+)", line)) for line in lines]
    assert found == [PAPER_HUES, DARK_HUES]
    assert tuple(ON_PAPER[hue] for hue in HUES) == PAPER_HUES and ON_PAPER[INK] == GROUNDS["light"][1]
    for paper, ink, _ in GROUNDS.values():
        assert f"--paper: {paper}; --ink: {ink}" in style
