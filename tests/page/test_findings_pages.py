"""Pages of tuning and identifying in a browser: nothing is there twice, and nothing scrolls sideways."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from few import few

from scalesim.charts.kernel import kernel_chart
from scalesim.core.clip import still_clip
from scalesim.jobs.identify.identify import identify
from scalesim.jobs.tune.tune import tune
from scalesim.result import Result
from scalesim.saving import save

Opener = Callable[..., Any]

_SCROLLS = """() => [...document.querySelectorAll("*")].filter((each) =>
  each.scrollWidth > each.clientWidth + 1 && ["auto", "scroll"].includes(getComputedStyle(each).overflowX)
).map((each) => each.getAttribute("aria-label") || each.tagName)"""
_TEXTS = """() => [...document.querySelectorAll("td, th, figcaption, .name, .lead p, h1, h2, svg text")]
  .filter((each) => each.checkVisibility() && !each.closest("details:not([open])"))
  .map((each) => each.textContent.trim()).filter((text) => text.length > 24)"""
_IMAGES = "() => [...document.images].map((each) => each.src)"


@cache
def stays() -> Result:
    """Return a tuning whose best setting is the present one: most outlines on spans of three, some across."""
    frame = np.full((240, 320, 3), 0.8, np.float32)
    for line in (0, 1, 2):
        frame[30 + line : 210 : 18, 20:200] = 0.1
        frame[40 + line : 210 : 18, 220:300] = 0.1
    source = still_clip(frame, mode="custom", name="art.png")
    chain = "position lines=0, line-average lines=80"
    return tune(chain, [source], vary={"position.lines": (-1, 1, 0.5)})


@cache
def wide() -> Result:
    """Return a box identified from a capture as wide as a 720p line, 1280 samples."""
    return identify([kernel_chart("720p60").frame[1::3]], "720p60")


def _asked(folder: Path) -> tuple[str, ...]:
    """Return the picture files beside the page that it shows."""
    html = (folder / "index.html").read_text("utf-8")
    return tuple(path.as_uri() for path in folder.glob("*.png") if f'src="{path.name}"' in html)


@pytest.mark.parametrize("made", few([wide, stays], 1))
def test_nothing_overflows_nor_scrolls_sideways(
    made: Callable[[], Result], tmp_path: Path, open_page: Opener
) -> None:
    """At 1280 dots all of it is seen; at 390 the page itself fits, and only plots and tables may scroll."""
    save(made(), tmp_path / "o")
    also = _asked(tmp_path / "o")
    page = open_page(tmp_path / "o" / "index.html", also=also, viewport={"width": 1280, "height": 720})
    assert page.evaluate("document.documentElement.scrollWidth") <= 1280
    assert page.evaluate(_SCROLLS) == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("made", [stays, wide])
def test_nothing_is_shown_twice(made: Callable[[], Result], tmp_path: Path, open_page: Opener) -> None:
    """No picture and no longer text of a table, caption, sentence, heading or plot stands there twice."""
    save(made(), tmp_path / "o")
    also = _asked(tmp_path / "o")
    page = open_page(tmp_path / "o" / "index.html", also=also)
    for found in (page.evaluate(_IMAGES), page.evaluate(_TEXTS)):
        assert found and len(found) == len(set(found)), sorted(
            each for each in found if found.count(each) > 1
        )
