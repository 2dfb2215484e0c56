"""The comparison's page: honest words in their order, and what a browser makes of it."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from few import few
from page.compared import BROKEN, CHAINS, NASTY, made, page_of, typed
from page.viewer_page import settle

from scalesim.core.clip import still_clip
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.compare.words import CAUTIONS, modelled
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.words import reason_note
from scalesim.page.viewer import inlined_viewer
from scalesim.saving import save

if TYPE_CHECKING:
    from playwright.sync_api import Page

Opener = Callable[..., "Page"]


# Words


def test_no_label_becomes_markup(folder: Path) -> None:
    """Read by Python's own HTML parser."""
    elements = page_of(folder)
    assert not [tag for tag, attributes in elements.tags if tag in ("b", "i") or "onclick" in attributes]
    assert elements.text.count(NASTY) >= 6  # ranking, two close looks, two table heads, definition
    assert elements.text.count("frame 1 <&>") >= 4  # heading, viewer, figures, settings
    assert BROKEN in elements.text and "grey & old" not in elements.text  # it was not read
    assert "http" not in (folder / "index.html").read_text("utf-8").replace("http://www.w3.org/", "")


def test_the_page_asks_for_nothing(folder: Path) -> None:
    elements = page_of(folder)
    for tag, attributes in elements.tags:
        for name in ("src", "href", "xlink:href"):
            value = attributes.get(name) or ""
            local = value.startswith(("data:", "#")) or (tag == "a" and (folder / value).exists())
            assert not value or local, (tag, value)
    style = re.search(r"<style>(.*?)</style>", (folder / "index.html").read_text("utf-8"), re.DOTALL)
    assert style is not None and "url(" not in style[1] and "@import" not in style[1]


def test_parts_in_the_asked_order(folder: Path) -> None:
    page = page_of(folder)
    ids = [attributes.get("id") for tag, attributes in page.tags if tag == "h2"]
    wanted = ["summary", "plots", "ranking", "frame-1", "frame-2", "figures", "chains", "settings", "model"]
    wanted.append("cautions")
    assert ids == [*wanted, "appendix", "failures", "files"]
    links = [attributes["href"] for tag, attributes in page.tags if tag == "a"]
    assert links[:2] == ["figures/still-1080.png", "figures/still-2160.png"]  # of the figure that opens it
    assert links[2 : len(wanted) + 4] == [f"#{name}" for name in [*wanted, "appendix", "failures"]]
    for name in (
        "rows.csv",
        "rows.json",
        "comparison.md",
        "figures/still-1080.png",
        "figures/still-2160.png",
    ):
        assert name in links


def test_every_promised_word_is_there(folder: Path, comparison: Comparison) -> None:
    text = page_of(folder).text
    for words in (*comparison.opening, *comparison.sentences(), *modelled(()), *CAUTIONS, *CHAINS.values()):
        assert typed(words) in text, words
    for words in (
        "All panes show the same place",
        "without beam or glass",
        "Two fields are shown together, at rest",
        "Bold is the best on its screen",
        "A mean rank of 1 is first everywhere",
        "Each in the form that the command line takes",
        "The same input and version give the same page",
        "a <box>",
        "−25 % of white, darker",
    ):
        assert typed(words) in text, words


def test_fidelity_waits_for_the_appendix(folder: Path) -> None:
    text = page_of(folder).text
    assert text.count("Likeness to the reference") == 2  # in the list of parts, and its heading
    before, after = text.rsplit("Likeness to the reference", 1)
    assert "SSIM" not in before
    assert after.count("SSIM") >= 2


def test_everything_scrolled_or_seen_has_a_name(folder: Path) -> None:
    """WAI-ARIA 1.2: a region needs a name, a picture made of lines and colours a role and a name."""
    page = page_of(folder)
    regions = [a for _, a in page.tags if a.get("role") == "region"]
    assert len(regions) > 10
    assert all(a.get("aria-label") and a.get("tabindex") == "0" for a in regions)
    drawn = [a for tag, a in page.tags if tag == "svg" and a.get("aria-hidden") != "true"]  # marks
    ids = {a.get("id") for _, a in page.tags}
    assert drawn and all(a.get("role") == "img" and a.get("aria-labelledby") in ids for a in drawn)
    scales = [a for _, a in page.tags if a.get("class") == "scale"]
    assert scales and all("25 percent of white darker" in str(a.get("aria-label")) for a in scales)
    sections = [a for tag, a in page.tags if tag == "section"]
    assert all(a.get("aria-label") or a.get("aria-labelledby") in ids for a in sections)
    assert [a["lang"] for tag, a in page.tags if tag == "html"] == ["en"]


def test_missing_values_have_footnotes_and_titles(folder: Path, comparison: Comparison) -> None:
    page = page_of(folder)
    reasons = {reason_note(reason) for row in comparison.rows for reason in row.why.values()}
    assert reasons
    titles = {a["title"] for tag, a in page.tags if tag == "td" and a.get("title")}
    assert reasons <= titles
    assert all(reason in page.text for reason in reasons)
    assert [a for tag, a in page.tags if tag == "sup"]


def test_only_what_was_measured_is_shown(tmp_path: Path) -> None:
    found = made({"a": "line-drop lines=48"}, metrics=["edge_spread_lines"], by=["edge_spread_lines"])
    save(found, tmp_path / "o")
    text = page_of(tmp_path / "o").text
    assert "height of a horizontal edge" in text
    assert "thin horizontal detail" not in text
    assert "Likeness" not in text
    assert (
        len(list((tmp_path / "o" / "figures").glob("*.svg"))) == 0
    )  # one value: nothing to plot, no flicker


def test_missing_values_and_pairs_have_reasons(tmp_path: Path) -> None:
    flat = FrameSource("flat", lambda: still_clip(np.full((144, 256, 3), 0.5, np.float32)))
    chains = {"drop": "line-drop lines=48", "wrong": "deinterlace how=bob"}
    found = compare(chains, [flat], metrics=["edge_spread_lines"], by=["edge_spread_lines"])
    save(found, tmp_path / "o")
    elements = page_of(tmp_path / "o")
    reason = reason_note(found.rows[0].why["edge_spread_lines"])
    assert reason in elements.text
    assert [a["title"] for tag, a in elements.tags if tag == "td" and a.get("title") == reason]
    assert found.failed["flat / wrong"] in elements.text
    markdown = (tmp_path / "o" / "comparison.md").read_text("utf-8").replace("\\", "")
    assert found.failed["flat / wrong"] in typed(markdown)


def test_the_viewer_is_inlined_whole() -> None:
    """No import or export is left, and the maker is there."""
    script = inlined_viewer()
    assert "function createViewer" in script
    assert not any(line.startswith(("import ", "export ")) for line in script.splitlines())


# In a browser


def with_viewers(page: Page) -> None:
    """Open every viewer, and wait for its pictures."""
    for host in page.locator("[data-viewer]").all():
        if host.locator(".viewer").count() == 0:
            host.locator("button").click()
        host.evaluate("(host) => host.viewer.ready")
    settle(page)


@pytest.mark.parametrize("scheme", few(["light", "dark"], 1))
def test_in_a_browser(folder: Path, open_page: Opener, scheme: str) -> None:
    """Opens from disk without a request or a message, and soon, with nothing for axe-core to find.

    Soon: the page's own process works for less than 2 s, 0.3 s on a machine of 2026. Viewers wait until they
    are asked for, and at no width does the page scroll sideways.
    """
    module = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="needs axe-playwright-python"
    )
    page = open_page(folder / "index.html", color_scheme=scheme, viewport={"width": 1280, "height": 300})
    settle(page)
    asked = page.context.new_cdp_session(page)
    asked.send("Performance.enable")
    counted = {each["name"]: each["value"] for each in asked.send("Performance.getMetrics")["metrics"]}
    assert 0 < counted["ProcessTime"] < 2
    assert page.locator(".viewer").count() == 1
    with_viewers(page)
    assert page.locator(".viewer").count() == 2
    assert page.locator(".viewer-pane").count() == 4
    assert page.get_by_text("cannot be shown").count() == 0
    for width in (320, 1280, 2560):
        page.set_viewport_size({"width": width, "height": 720})
        settle(page)
        found = module.Axe().run(page).response["violations"]
        assert [(each["id"], [node["html"][:200] for node in each["nodes"]]) for each in found] == [], width
        assert page.evaluate("document.documentElement.scrollWidth") <= width, "the page scrolls sideways"


def test_keyboard_path_exact_pictures_and_print(folder: Path, open_page: Opener) -> None:
    """By keys alone: open the second frame's pictures, copy a chain. Whole dots to each line and sample."""
    page = open_page(folder / "index.html", viewport={"width": 1280, "height": 720})
    page.wait_for_selector(".viewer canvas")
    assert page.locator(".viewer").count() == 1
    page.locator("[data-viewer] > button").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelectorAll('.viewer').length === 2")
    page.get_by_role("button", name="Copy the chain drop").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.getElementById('copied').textContent")
    assert page.locator("#copied").inner_text().startswith(("Copied", "Selected"))
    page.wait_for_function("/Copied|Ctrl/.test(document.querySelector('[data-copy]').textContent)")
    assert page.evaluate("getSelection().toString()") == CHAINS["drop"]
    sizes = page.evaluate(
        """async () => { const found = [];
        for (const image of document.querySelectorAll(".pictures img")) {
          image.loading = "eager"; await image.decode();
          found.push([image.width, image.naturalWidth, image.height, image.naturalHeight]);
        }
        return found; }"""
    )
    assert len(sizes) == 10
    assert all(width % samples == 0 and height % lines == 0 for width, samples, height, lines in sizes)
    assert page.pdf()[:4] == b"%PDF"


def test_pictures_beside_the_page_load(beside: Path, open_page: Opener) -> None:
    images = sorted((beside / str(a["src"])).as_uri() for tag, a in page_of(beside).tags if tag == "img")
    shown = [f"{n}-{own}" for n in ("01", "02") for own in ("source", "01-landed", "02-landed")]
    scripts = [(beside / "pictures" / f"{name}.js").as_uri() for name in shown]
    page = open_page(beside / "index.html", also=(*images, *scripts), viewport={"width": 1280, "height": 720})
    with_viewers(page)
    page.wait_for_function("[...document.images].every((image) => image.complete && image.naturalWidth)")
    assert page.get_by_text("cannot be shown").count() == 0


def test_pictures_are_there_without_scrolling_for_print(beside: Path, open_page: Opener) -> None:
    """All of them are loaded with the page, and nothing black stands behind one on paper."""
    images = [(beside / str(a["src"])).as_uri() for tag, a in page_of(beside).tags if tag == "img"]
    shown = [f"01-{own}.js" for own in ("source", "01-landed", "02-landed")]
    scripts = [(beside / "pictures" / name).as_uri() for name in shown]
    page = open_page(beside / "index.html", also=(*images, *scripts))
    loaded = "[...document.querySelectorAll('.pictures img')].map((i) => i.complete && i.naturalWidth > 0)"
    found = page.evaluate(loaded)
    assert len(found) > 8 and all(found)
    page.emulate_media(media="print")
    behind = "getComputedStyle(document.querySelector('.pictures img')).backgroundColor"
    assert page.evaluate(behind) == "rgba(0, 0, 0, 0)"


def test_plots_on_a_phone_are_whole_and_readable(folder: Path, open_page: Opener) -> None:
    """390 px wide: every letter of a plot is 11 px at least, and lies inside its plot."""
    page = open_page(folder / "index.html", viewport={"width": 390, "height": 844})
    found = page.evaluate(
        """() => [...document.querySelectorAll(".plots svg")].flatMap((svg) => {
        if (!svg.clientWidth) return [];
        const box = svg.getBoundingClientRect(), times = box.width / svg.viewBox.baseVal.width;
        return [...svg.querySelectorAll("text")].map((text) => {
          const own = text.getBoundingClientRect();
          return [text.textContent, parseFloat(getComputedStyle(text).fontSize) * times,
            Math.min(own.left - box.left, box.right - own.right, own.top - box.top, box.bottom - own.bottom)];
        }); })"""
    )
    assert len(found) > 20
    for text, size, room in found:
        assert size >= 11 and room >= -1, (text, size, room)
