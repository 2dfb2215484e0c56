"""A write-up in a real browser: silent, exact dots, places that links lead to, nothing cut off on paper.

Printed by Chromium and read back by Poppler's pdftoppm and pdftotext.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page.compared import frame, made
from page.test_paper import check_sheets, sheets

from scalesim.core.clip import still_clip
from scalesim.io.picture_store import ONE_FILE
from scalesim.jobs.predict.predict import predict
from scalesim.saving import save
from scalesim.writing import written

pytestmark = pytest.mark.slow

ARTICLE = """+++
title = "On paper & screen"
+++

See [](#look), [](#cells) and [below](#more).

![](cmp)

![The frame, four ways](cmp#look=frame-1 "look")

## More

![Medians](cmp#table=medians-over-1-frame "cells")

![](cmp#plot=dots-line-doubling)

![Move it](cmp#viewer)

![Enlarged](one#picture=raster&zoom=3)

![](cmp#said)
"""


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("report")
    save(made({"drop": "line-drop lines=48", "fields": "line-average lines=96, interlace"}), place / "cmp")
    save(predict(still_clip(frame(), name="f"), "line-drop lines=48"), place / "one")
    save(written(ARTICLE, "a.md", place), place / "r", inline_limit=ONE_FILE)
    return place / "r"


def test_links_lead_to_what_they_name(report: Path, open_page: Callable[..., Any]) -> None:
    """Each link within the page has its target, and says its number."""
    page = open_page(report / "index.html")
    links = page.eval_on_selector_all(
        ".prose a", "all => all.map(a => [a.textContent, a.getAttribute('href')])"
    )
    assert links == [["Figure 2", "#figure-2"], ["Table 1", "#table-1"], ["below", "#more"]]
    assert all(page.query_selector(place) for _, place in links)
    said = page.eval_on_selector_all(".exhibit > figcaption strong", "all => all.map(a => a.textContent)")
    assert said == ["Figure 1.", "Figure 2.", "Table 1.", "Figure 3.", "Figure 4.", "Figure 5."]


def test_pictures_are_as_large_as_their_dots(report: Path, open_page: Callable[..., Any]) -> None:
    """At a display scale of 1 every placed picture has one dot for a dot of its file, unblended."""
    page = open_page(report / "index.html")
    sizes = page.eval_on_selector_all(
        ".exhibit .frame img",
        "all => all.map(i => [i.width, i.naturalWidth, i.height, i.naturalHeight, "
        "getComputedStyle(i).imageRendering])",
    )
    assert len(sizes) >= 4
    for wide, own_wide, tall, own_tall, rendering in sizes:
        assert (wide, tall, rendering) == (own_wide, own_tall, "pixelated")


def test_on_paper(report: Path, tmp_path: Path, open_page: Callable[..., Any]) -> None:
    """White, whole, and every caption there."""
    page = open_page(report / "index.html", color_scheme="dark")
    found = sheets(page, tmp_path)
    check_sheets(found)
    assert all(np.median(sheet) == 255 for sheet in found)
    if shutil.which("pdftotext"):
        said = subprocess.run(["pdftotext", "page.pdf", "-"], cwd=tmp_path, capture_output=True, check=True)
        text = said.stdout.decode("utf-8")
        assert all(f"Figure {number}." in text for number in range(1, 6)) and "Table 1." in text
