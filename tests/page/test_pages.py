"""Pages of one result: answers first, everything escaped, nothing asked for but the pictures beside them."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page.compared import page_of, typed

from scalesim.charts.kernel import kernel_chart
from scalesim.core.clip import still_clip
from scalesim.io.picture_store import PictureStore
from scalesim.jobs.chart.chart import chart
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.identify.identify import identify
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.tune.tune import tune
from scalesim.page.html import render_page
from scalesim.page.kept import kept
from scalesim.page.markdown import render_markdown
from scalesim.plot import Axis, Panel, Plot, Series
from scalesim.result import Cell, Code, Links, Part, Picture, Result, Table
from scalesim.saving import save

Opener = Callable[..., Any]


@cache
def tuned() -> Result:
    frame = np.full((240, 320, 3), 0.8, np.float32)
    frame[30:210:18, 20:300] = frame[31:210:18, 20:300] = frame[32:210:18, 20:300] = 0.1
    source = FrameSource("art.png", lambda: still_clip(frame, mode="custom", name="art.png"))
    return tune("position lines=0, line-average lines=80", [source], vary={"position.lines": (-1, 1, 0.5)})


@cache
def identified() -> Result:
    return identify([kernel_chart("480p59.94").frame[::2]], "480p59.94")


@cache
def predicted() -> Result:
    frame = np.random.RandomState(2).rand(96, 128, 3).astype(np.float32)
    return predict(still_clip(frame, mode="custom", name="art <b>"), "line-average lines=48, interlace")


@pytest.mark.parametrize("made", [tuned, identified, predicted])
def test_pages_are_whole_and_accessible(
    made: Callable[[], Result], tmp_path: Path, open_page: Opener
) -> None:
    """Opened in a browser: silent, self-contained, its pictures there, nothing for axe-core to find."""
    module = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="needs axe-playwright-python"
    )
    save(made(), tmp_path / "o")
    html = (tmp_path / "o" / "index.html").read_text("utf-8")
    beside = (tmp_path / "o").glob("*.png")
    also = tuple(path.as_uri() for path in beside if f'src="{path.name}"' in html)
    page = open_page(tmp_path / "o" / "index.html", also=also)
    shown = page.evaluate(
        """async () => { const found = [];
        for (const image of document.images) {
          image.loading = "eager"; await image.decode();
          found.push(image.naturalWidth === image.width);
        }
        return found; }"""
    )
    assert shown and all(shown)
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        violations = module.Axe().run(page).response["violations"]
        assert not violations, (scheme, [violation["id"] for violation in violations])
    for width in (320, 1280):
        page.set_viewport_size({"width": width, "height": 720})
        assert page.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize("made", [tuned, identified, predicted])
def test_the_answer_comes_first(made: Callable[[], Result], tmp_path: Path) -> None:
    """Sentences, then parts with every table, caption and alternative text; then cautions."""
    found = made()
    save(found, tmp_path / "o")
    page = page_of(tmp_path / "o")
    places = [page.text.index(typed(sentence)) for sentence in found.sentences()]
    assert places == sorted(places) and places[-1] < page.text.index(
        next(iter(found.parts())).title, places[-1]
    )
    cover = found.cover()
    opens = 0 if cover is None else len(cover.views) + (cover.ground is not None)
    images = [a for tag, a in page.tags if tag == "img"][opens:]
    pictures = [item for part in found.parts() for item in part.items if isinstance(item, Picture)]
    assert [a["alt"] for a in images] == [each.alt or each.label for each in pictures]
    assert all(typed(each.caption) in page.text for each in pictures)
    for part in found.parts():
        for item in part.items:
            if isinstance(item, Table):
                assert typed(item.title) in page.text
                assert all(typed(str(cell)) in page.text for row in item.rows for cell in row)
            elif isinstance(item, Plot):
                assert typed(item.caption) in page.text
    assert all(typed(text) in page.text for text in found.foot) and "lethal voltages" in page.text
    text = typed((tmp_path / "o" / found.markdown_name).read_text("utf-8").replace("\\", ""))
    assert all(typed(" ".join(words.split())) in text for words in (*found.sentences(), *found.foot))


@pytest.mark.parametrize("made", [tuned, identified, predicted, lambda: chart("flicker", "480i59.94")])
def test_a_caution_is_read_once(made: Callable[[], Result], tmp_path: Path) -> None:
    """Of the tube's voltage, of input levels, and of what flickers."""
    save(made(), tmp_path / "o")
    text = page_of(tmp_path / "o").text
    assert text.count("lethal voltages") == 1 and text.count("input levels") == 1
    assert text.count("CAUTION") + text.count("hotosensitive") <= 2 and text.count("discomfort") <= 1


ODD = '<b>"odd" & name</b>'


class Odd(Result):
    """Every kind of thing a page shows, with markup for a name everywhere."""

    kind = "odd"
    title = ODD
    opening = (ODD,)
    foot = (ODD,)

    def sentences(self) -> list[str]:
        return [ODD]

    def table(self) -> Table:
        return Table(ODD, (Cell(ODD, ODD), ODD), ((Cell(ODD, ODD, True, ODD), ODD),), head=1)

    def figures(self) -> tuple[Plot, ...]:
        panel = Panel(Axis(ODD), Axis(ODD), (Series((1.0,), (1.0,), ODD, texts=(ODD,)),))
        return (Plot("odd", ODD, ODD, (panel,), legend=1, heading=True),)

    def parts(self) -> tuple[Part, ...]:
        picture = Picture("odd", np.zeros((2, 2, 3), np.uint8), ODD, ODD, ODD, ODD, code=ODD)
        items = (self.table(), *self.figures(), picture, Code(ODD, ODD, ODD), Links(ODD, (("odd.png", ODD),)))
        return (Part(ODD, (ODD,), items, quiet=ODD),)


def test_every_text_is_escaped(tmp_path: Path) -> None:
    odd, store = Odd(), PictureStore(tmp_path)
    parts = [kept(part, store) for part in odd.parts()]
    page = render_page(odd, parts, store, files={"a": ODD}, more=((ODD, ODD),))
    assert "<b>" not in page and page.count("&lt;b&gt;") >= 24
    text = render_markdown(odd, parts, {"odd": "odd.svg"})
    lines = [line for line in text.splitlines() if not line.startswith("    ")]  # code needs no escape
    assert "<" not in "".join(lines).replace("\\<", "")
    assert text.count("\\<b\\>") >= 15
    shown = odd._repr_html_()
    assert "<b>" not in shown and shown.count("&lt;b&gt;") == 6
