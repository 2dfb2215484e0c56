"""The lab in Firefox: from a dial to the picture that `predict` gives, with the keyboard and the mouse."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from lab.browsing import CHAIN, Served, lab, lab_folder
from lab.firefox import Firefox, program

import scalesim as ss
from scalesim.core.codes import to_codes

__all__ = ["lab", "lab_folder"]
pytestmark = [pytest.mark.slow, pytest.mark.skipif(program() is None, reason="needs Firefox")]

ARROW_UP = "\ue013"  # the key codes of WebDriver
COLOURS = """
const canvas = document.querySelector(`.viewer-pane[aria-label=${given[0]}] canvas.viewer-canvas`);
const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
const found = new Set();
for (let at = 0; at < data.length; at += 4)
  if (data[at + 3]) found.add(data[at] * 65536 + data[at + 1] * 256 + data[at + 2]);
return [...found];"""
DIAL = "[aria-label^='Box 2: position'] .dial-number"


@pytest.fixture
def firefox(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Firefox]:
    browser = Firefox(tmp_path_factory.mktemp("profile"))
    yield browser
    browser.end()


def numbers_of(values: np.ndarray) -> set[int]:
    codes = to_codes(values).reshape(-1, 3).astype(int)
    return set((codes @ (65536, 256, 1)).tolist())


def test_a_dial_and_its_pictures(lab: Served, lab_folder: Path, firefox: Firefox) -> None:
    firefox.open(lab.address)
    firefox.run("window.faults = []; addEventListener('error', (e) => faults.push(e.message)); return 1;")
    firefox.wait("document.querySelector('.viewer-canvas') !== null", "a picture")
    firefox.press(DIAL, ARROW_UP * 3)
    firefox.wait(f"document.querySelector({DIAL!r}).value === '1.375'", "the dial's step")
    chain = CHAIN.replace("lines=1,", "lines=1.375,")
    expected = numbers_of(ss.predict(ss.read(lab_folder / "noise.png"), chain, metrics=[]).landed)
    seen: set[int] = set()
    for _ in range(600):  # the picture of the step before stays until the new one is there
        seen = set(firefox.run(COLOURS, "Raster"))
        if len(seen) > 50 and seen <= expected:
            break
        time.sleep(0.1)
    assert len(seen) > 50 and seen <= expected
    assert set(firefox.run(COLOURS, "Source")) <= numbers_of(ss.read(lab_folder / "noise.png").frame)
    firefox.click("[data-do=undo]")
    firefox.wait(f"document.querySelector({DIAL!r}).value === '1.25'", "what was before")
    for tab in firefox.run("return [...document.querySelectorAll('[role=tab]')].map((each) => each.id);"):
        firefox.click(f"#{tab}")
        shown = f"!document.getElementById('{tab.replace('tab-', 'panel-')}').hidden"
        firefox.wait(shown, tab)
    assert firefox.run("return faults;") == []
    asked = firefox.run("return performance.getEntriesByType('resource').map(({ name }) => name);")
    outside = [each for each in asked if not each.startswith((lab.address, "data:", "blob:"))]
    assert len(asked) > 20 and outside == []
