"""The figure that opens a page, in a real browser: on the first screen, in exact dots, whole on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from page.compared import page_of
from PIL import Image

from scalesim.page.stills import CARD

if TYPE_CHECKING:
    from playwright.sync_api import Page

Opener = Callable[..., "Page"]
PLACES = """[...document.querySelectorAll('.plate .cut')].map((cut) => {
  const box = cut.getBoundingClientRect(), img = cut.querySelector('img').getBoundingClientRect();
  return {top: box.top, bottom: box.bottom, left: box.left, right: box.right,
          width: img.width, height: img.height,
          x: img.left * devicePixelRatio, y: img.top * devicePixelRatio};
})"""


def test_it_stands_under_the_title_before_all_else(folder: Path) -> None:
    """Title, byline, figure; three views with letters; a caption that is numbered and says what is marked."""
    text = (folder / "index.html").read_text("utf-8")
    body = text[text.index("<main>") :]
    assert re.match(
        r'<main>\s*<h1>.*?</h1>\s*<p class="byline">.*?</p>\s*<figure class="plate', body, re.DOTALL
    )
    page = page_of(folder)
    views = [a for tag, a in page.tags if tag == "img" and str(a["alt"])[:3] in ("a: ", "b: ", "c: ")]
    assert len(views) == 3
    assert "Figure 1." in page.text and "Marked: " in page.text
    numbers = [int(n) for n in re.findall(r"Figure (\d+)\.", page.text)]
    assert numbers == list(range(1, len(numbers) + 1))


def test_the_text_in_markdown_has_the_same_figures(folder: Path) -> None:
    """The figure as its still, then the plots, numbered as on the page."""
    text = (folder / "comparison.md").read_text("utf-8")
    figures = re.findall(r"!\[Figure (\d+)\..*?\]\((.*?)\)", text)
    assert figures[0] == ("1", "figures/still-1080.png")
    on_page = re.findall(r"Figure (\d+)\.", page_of(folder).text)
    assert [number for number, _ in figures] == on_page


def test_a_link_to_the_page_shows_it(folder: Path) -> None:
    """Open Graph properties (ogp.me), with a place beside the page and no address from outside."""
    said = {
        a["property"]: a["content"] for tag, a in page_of(folder).tags if tag == "meta" and "property" in a
    }
    assert said["og:image"] == "figures/card.png"
    with Image.open(folder / "figures" / "card.png") as card:
        assert card.size == CARD == (int(said["og:image:width"] or 0), int(said["og:image:height"] or 0))


@pytest.mark.parametrize(("width", "height"), [(1280, 720), (390, 844)])
def test_all_views_are_on_the_first_screen(folder: Path, open_page: Opener, width: int, height: int) -> None:
    """Their pictures in exact dots, nothing wider than the screen; letters of 11 dots at least."""
    page = open_page(folder / "index.html", viewport={"width": width, "height": height})
    found = page.evaluate(PLACES)
    assert len(found) == 3
    assert all(each["top"] > 0 and each["bottom"] <= height and each["right"] <= width for each in found)
    natural = page.evaluate(
        "[...document.querySelectorAll('.plate .cut img')].map((i) => [i.naturalWidth, i.naturalHeight])"
    )
    assert [[each["width"], each["height"]] for each in found] == natural
    assert page.evaluate("document.querySelector('.plate').scrollWidth <= innerWidth")
    sizes = page.evaluate(
        "[...document.querySelectorAll('.plate p, .plate figcaption *')]"
        ".map((e) => parseFloat(getComputedStyle(e).fontSize))"
    )
    assert min(sizes) >= 11


@pytest.mark.parametrize("display", [1, 1.25, 1.5, 2])
def test_whole_dots_on_any_display(folder: Path, open_page: Opener, display: float) -> None:
    """A dot of the figure is a whole number of the display's, and begins on one."""
    page = open_page(folder / "index.html", display=display)
    ratio = page.evaluate("devicePixelRatio")
    assert ratio == pytest.approx(display)
    for each in page.evaluate(PLACES):
        natural = page.evaluate("document.querySelector('.plate .cut img').naturalWidth")
        times = each["width"] * ratio / natural
        assert times == pytest.approx(round(times), abs=1e-3) and times >= 1
        assert each["x"] == pytest.approx(round(each["x"]), abs=0.02)
        assert each["y"] == pytest.approx(round(each["y"]), abs=0.02)


def test_on_paper_all_is_whole(folder: Path, open_page: Opener) -> None:
    """Three views beside each other, none cut, on white."""
    page = open_page(folder / "index.html", viewport={"width": 720, "height": 1000})
    page.emulate_media(media="print")
    found = page.evaluate(PLACES)
    assert len({round(each["top"]) for each in found}) == 1
    assert all(each["width"] <= each["right"] - each["left"] + 1 for each in found)
    assert max(each["right"] for each in found) <= 721
