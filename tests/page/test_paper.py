"""Pages on paper: white in dark mode too, nothing cut off or left to scroll, pages full, pairs side by side.

Printed by Chromium (its own layout of pages), read back by Poppler's pdftoppm. A4 is 210 x 297 mm (ISO 216).
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from few import few
from numpy.typing import NDArray
from page.test_pages import identified, predicted, tuned
from PIL import Image

from scalesim.result import Exhibit, Part, Picture, Result, Table
from scalesim.saving import save

Opener = Callable[..., Any]
DPI = 50
MARGIN_MM = 12.0
"""Of the page's 14 to 16 mm, that nothing may reach into."""
TEXT_WIDTH = 680
"""What 180 mm between the margins are in dots of 1/96 inch."""


def sheets(page: Any, place: Path) -> list[NDArray]:
    """Return every sheet of a printed page, (lines, samples) grey 0..255."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("needs pdftoppm of poppler-utils")
    page.pdf(path=place / "page.pdf", format="A4", prefer_css_page_size=False)
    command = ["pdftoppm", "-r", str(DPI), "-gray", "-png", "page.pdf", "sheet"]
    subprocess.run(command, cwd=place, check=True, timeout=60)
    return [np.asarray(Image.open(path).convert("L")) for path in sorted(place.glob("sheet-*.png"))]


def blank_below(sheet: NDArray) -> float:
    """Return the share of a sheet's height below its last ink."""
    inked = np.flatnonzero((sheet < 250).any(axis=1))
    return 1.0 - (inked[-1] + 1) / len(sheet) if len(inked) else 1.0


def check_sheets(found: list[NDArray]) -> None:
    """Fail for ink in the margins (where what is cut off runs), and for half-empty sheets but the last."""
    margin = int(MARGIN_MM / 25.4 * DPI)
    for number, sheet in enumerate(found, start=1):
        edges = (sheet[:, :margin], sheet[:, -margin:], sheet[:margin], sheet[-margin:])
        assert all(edge.min() > 250 for edge in edges), f"sheet {number} has ink in its margins"
    for number, sheet in enumerate(found[:-1], start=1):
        assert blank_below(sheet) < 0.5, (
            f"sheet {number} is blank over {blank_below(sheet):.0%} of its height"
        )


@pytest.mark.parametrize("scheme", few(["dark", "light"], 1))
@pytest.mark.parametrize("made", [tuned, identified, predicted])
def test_sheets_are_white_whole_and_full(
    made: Callable[[], Result], scheme: str, tmp_path: Path, open_page: Opener
) -> None:
    save(made(), tmp_path / "o")
    page = open_page(tmp_path / "o" / "index.html", also=_beside(tmp_path / "o"), color_scheme=scheme)
    found = sheets(page, tmp_path)
    check_sheets(found)
    assert all(np.median(sheet) == 255 for sheet in found)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_comparison_on_paper(folder: Path, scheme: str, tmp_path: Path, open_page: Opener) -> None:
    page = open_page(folder / "index.html", color_scheme=scheme)
    found = sheets(page, tmp_path)
    check_sheets(found)
    assert all(np.median(sheet) == 255 for sheet in found)


def test_the_checks_can_fail() -> None:
    """Guard: a dark sheet, one with ink at its edge, and one that ends before its middle are told."""
    white = np.full((585, 413), 255, np.uint8)
    full = white.copy()
    full[40:540, 40:370] = 0
    check_sheets([full, full])
    cut = full.copy()
    cut[300, -3:] = 0
    half = white.copy()
    half[40:200, 40:370] = 0
    for wrong in ([np.zeros_like(white)], [cut], [half, full]):
        with pytest.raises(AssertionError):
            check_sheets(wrong)


LOOK = """() => {
  const shown = (each) => each.getClientRects().length > 0;
  const all = [...document.querySelectorAll("main *")];
  const boxes = all.filter((each) => shown(each) && !each.closest(".unseen"));
  const wide = boxes.filter((each) => each.getBoundingClientRect().right > innerWidth + 1);
  const scrolled = boxes.filter((each) => /auto|scroll/.test(getComputedStyle(each).overflowX));
  const folded = [...document.querySelectorAll("details")].filter((each) => !each.open);
  const buttons = [...document.querySelectorAll("main button:not(.opens)")].filter(shown);
  const tell = (some) => some.slice(0, 4).map((each) => each.outerHTML.slice(0, 90));
  return { wide: tell(wide), scrolled: tell(scrolled), folded: folded.length, buttons: tell(buttons) };
}"""


@pytest.mark.parametrize("made", [tuned, identified, predicted])
def test_nothing_is_left_to_scroll_or_press(
    made: Callable[[], Result], tmp_path: Path, open_page: Opener
) -> None:
    """Between the margins of A4, as print lays it out: all inside, nothing folded, no bar and no button."""
    save(made(), tmp_path / "o")
    check_print_layout(open_page(tmp_path / "o" / "index.html", also=_beside(tmp_path / "o")))


def test_a_comparison_leaves_nothing_to_scroll_or_press(folder: Path, open_page: Opener) -> None:
    check_print_layout(open_page(folder / "index.html"))


def check_print_layout(page: Any) -> None:
    page.set_viewport_size({"width": TEXT_WIDTH, "height": 960})
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    found = page.evaluate(LOOK)
    assert found == {"wide": [], "scrolled": [], "folded": 0, "buttons": []}
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    assert page.evaluate("document.querySelectorAll('details[open]').length") == 0


def test_before_and_after_stand_side_by_side(tmp_path: Path, open_page: Opener) -> None:
    """The two looks of a place begin at one height, and neither is cut."""
    save(tuned(), tmp_path / "o")
    page = open_page(tmp_path / "o" / "index.html", also=_beside(tmp_path / "o"))
    page.set_viewport_size({"width": TEXT_WIDTH, "height": 960})
    page.emulate_media(media="print")
    boxes = page.evaluate(
        """() => [...document.querySelectorAll(".pictures")].map((row) =>
        [...row.querySelectorAll("img")].map((each) => each.getBoundingClientRect().toJSON()))"""
    )
    for row in boxes:
        for left, right in zip(row[::2], row[1::2], strict=False):
            assert left["top"] == pytest.approx(right["top"], abs=1) and left["right"] <= right["left"]
            assert right["right"] <= TEXT_WIDTH + 1


def _beside(folder: Path) -> tuple[str, ...]:
    """Return the files that a page shows."""
    page = (folder / "index.html").read_text("utf-8")
    return tuple(
        path.as_uri()
        for path in sorted(folder.rglob("*.png"))
        if f'src="{path.relative_to(folder).as_posix()}"' in page
    )


@dataclass(frozen=True, eq=False)
class Shown(Result):
    """An answer of some items and nothing else."""

    items: tuple[Any, ...]

    kind = "report"

    def sentences(self) -> list[str]:
        return []

    def table(self) -> Table:
        return Table("", (), ())

    def parts(self) -> list[Part]:
        return [Part("Pictures", items=self.items)]

    def to_dict(self) -> dict[str, Any]:
        return {}


def test_figures_of_many_pictures_leave_no_half_of_a_sheet_empty(tmp_path: Path, open_page: Opener) -> None:
    """Two pictures, three in a row of their own below them, four that may part between their rows."""
    dots = np.random.RandomState(1).randint(0, 200, (300, 400, 3)).astype(np.uint8)
    exhibits = []
    for number, count in enumerate((2, 3, 4, 4, 5), start=1):
        pictures = tuple(Picture(f"pictures/{number}-{k}", dots, f"box {k}", "noise") for k in range(count))
        exhibits.append(Exhibit("Figure", number, f"figure-{number}", "Noise.", "From here.", pictures))
    save(Shown(tuple(exhibits)), tmp_path / "o")
    page = open_page(tmp_path / "o" / "index.html", also=_beside(tmp_path / "o"))
    found = sheets(page, tmp_path)
    check_sheets(found)
    assert all(blank_below(sheet) < 0.4 for sheet in found[:-1])


def test_pictures_keep_on_paper_the_shape_that_they_are_shown_in(tmp_path: Path, open_page: Opener) -> None:
    """As wide as they are to be shown, not as their dots; a tall one still goes onto a sheet of 297 mm."""
    dots = np.zeros((96, 64, 3), np.uint8)
    tall = np.zeros((900, 60, 3), np.uint8)
    items = (Picture("pictures/wide", dots, "wide", size=(48, 64)), Picture("pictures/tall", tall, "tall"))
    save(Shown(items), tmp_path / "o")
    page = open_page(tmp_path / "o" / "index.html", also=_beside(tmp_path / "o"))
    page.emulate_media(media="print")
    sizes = page.eval_on_selector_all(
        ".pictures img", "all => all.map(i => [i.getBoundingClientRect(), getComputedStyle(i).objectFit])"
    )
    assert [round(box["width"] / box["height"], 2) for box, _ in sizes] == [1.33, 0.07]
    assert all(fit == "fill" for _, fit in sizes) and sizes[1][0]["height"] < 230 / 25.4 * 96
