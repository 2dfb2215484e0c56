"""Pages of one result: answers first, everything escaped, nothing asked for but the pictures beside them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scalesim.charts.kernel import kernel_chart
from scalesim.core.clip import still_clip
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.identify.check import check_identification
from scalesim.jobs.identify.identify import identify
from scalesim.jobs.tune.tune import tune
from scalesim.page.article import Article, Part, render_article
from scalesim.page.save_identification import save_identification
from scalesim.page.save_tuning import save_tuning
from scalesim.result import Table

Opener = Callable[..., Any]


def tuned(folder: Path) -> Path:
    frame = np.full((240, 320, 3), 0.8, np.float32)
    frame[30:210:18, 20:300] = frame[31:210:18, 20:300] = frame[32:210:18, 20:300] = 0.1
    clip = still_clip(frame, mode="custom", name="art.png")
    found = tune("position lines=0, line-average lines=80", [clip], vary={"position.lines": (-1, 1, 0.5)})
    save_tuning(found, [FrameSource("art.png", lambda: clip)], folder)
    return folder / "index.html"


def identified(folder: Path) -> Path:
    frames = [kernel_chart("480p59.94").frame[::2]]
    found = identify(frames, "480p59.94")
    save_identification(found, check_identification(found, frames), folder)
    return folder / "index.html"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("made", [tuned, identified])
def test_pages_are_whole_and_accessible(
    made: Callable[[Path], Path], scheme: str, tmp_path: Path, open_page: Opener
) -> None:
    """Opened in a browser: silent, self-contained, its pictures there, nothing for axe-core to find."""
    module = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="needs axe-playwright-python"
    )
    page_file = made(tmp_path / "o")
    also = tuple(path.as_uri() for path in page_file.parent.glob("*.png"))
    page = open_page(page_file, also=also, color_scheme=scheme)
    shown = page.evaluate(
        "[...document.images].map(image => image.complete && image.naturalWidth === image.width)"
    )
    assert shown and all(shown)
    violations = module.Axe().run(page).response["violations"]
    assert not violations, [violation["id"] for violation in violations]


def test_every_text_is_escaped() -> None:
    odd = '<b>"odd" & name</b>'
    part = Part(odd, (odd,), code=odd, tables=(Table(odd, (odd,), ((odd,),)),))
    page = render_article(Article(odd, (odd,), (part,)))
    assert "<b>" not in page and page.count("&lt;b&gt;") >= 7
