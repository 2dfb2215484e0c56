"""Pages on a phone, 390 dots wide: tables show values on arrival, plots are legible, nothing runs over."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from page.test_pages import identified, predicted, tuned
from page.test_paper import _beside

from scalesim.result import Result
from scalesim.saving import save

Opener = Callable[..., Any]
WIDE, LEAST_TEXT = 390, 11.0

TABLES = """() => [...document.querySelectorAll(".scroll table")].filter((t) => t.getClientRects().length)
  .map((table) => {
  const box = table.parentElement, row = table.querySelector("tbody tr");
  const at = (cell) => cell.getBoundingClientRect();
  const key = row.querySelector(".key") ?? row.children[0];
  const values = [...row.children].filter((cell) => cell !== key);
  const whole = values.filter((cell) => at(cell).right <= innerWidth + 1).length;
  const before = at(key).left;
  box.scrollLeft = 10000;
  const kept = box.scrollLeft === 0 || !row.querySelector(".key") || at(key).left <= before;
  const onto = box.scrollLeft === 0 || at(key).right > box.getBoundingClientRect().left;
  box.scrollLeft = 0;
  return { title: table.caption.textContent, values: whole, kept: kept && onto };
})"""

TEXTS = """() => [...document.querySelectorAll(".plots svg text")].filter((t) => t.getClientRects().length)
  .map((each) => { const m = each.getScreenCTM();
    return [each.textContent, parseFloat(getComputedStyle(each).fontSize) * Math.hypot(m.a, m.b)]; })"""


def check_phone(page: Any) -> None:
    """Fail for a table that shows no value or loses its first column, small text, and a page too wide."""
    page.set_viewport_size({"width": WIDE, "height": 844})
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= WIDE
    for table in page.evaluate(TABLES):
        assert table["values"] >= 1 and table["kept"], table
    small = [(text, size) for text, size in page.evaluate(TEXTS) if size < LEAST_TEXT - 0.01]
    assert not small, small[:5]


@pytest.mark.parametrize("made", [tuned, identified, predicted])
def test_tables_and_plots_on_a_phone(made: Callable[[], Result], tmp_path: Path, open_page: Opener) -> None:
    save(made(), tmp_path / "o")
    check_phone(open_page(tmp_path / "o" / "index.html", also=_beside(tmp_path / "o")))


def test_a_comparison_on_a_phone(folder: Path, open_page: Opener) -> None:
    check_phone(open_page(folder / "index.html"))


def test_a_column_of_words_keeps_its_width(folder: Path, open_page: Opener) -> None:
    """Beside five columns of figures a place's reason stood one word to a line; it is scrolled to instead."""
    page = open_page(folder / "index.html", viewport={"width": WIDE, "height": 844})
    boxes = page.locator("td.words:visible").evaluate_all(
        "(all) => all.map((e) => [e.offsetWidth, e.offsetHeight])"
    )
    assert boxes and all(width >= 200 and height < 250 for width, height in boxes), boxes


def test_the_checks_can_fail(tmp_path: Path, open_page: Opener) -> None:
    """Guard: without the fixed column a scrolled table loses it, and a plot squeezed to half is too small."""
    save(predicted(), tmp_path / "o")
    page = open_page(tmp_path / "o" / "index.html", also=_beside(tmp_path / "o"))
    page.add_style_tag(content=".key { position: static !important; } table { min-width: 900px; }")
    with pytest.raises(AssertionError):
        check_phone(page)
