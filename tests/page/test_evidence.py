"""A figure opens what it rests on: boxes on the very outlines, in every chain, worst first.

The frame is drawn here, so what is lost and what is split is known by hand: a thin line at source line 300
(a drop of lines 1, 4, 7 … loses it; 300 = 3·100), a bar of three lines from 398 on, which an average by three
shares over scan lines 132 (lines 396 to 398) and 133 (399 to 401), and a bar that both keep whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from numpy.typing import NDArray
from page.browser import rest
from page.viewer_page import Opener, settle

from scalesim.core.clip import still_clip
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.frames import FrameSource
from scalesim.saving import save

if TYPE_CHECKING:
    from playwright.sync_api import Page

LIT = (255, 214, 10)  # #ffd60a, the colour of the boxes' inner line
SCALE = 4
CHAINS = {
    "drop": "line-drop lines=240 phase=1",
    "average": "line-average lines=240",
    "fields": "line-average lines=480, interlace",
}


def frame() -> NDArray:
    values = np.full((720, 1280, 3), 0.1, np.float32)
    values[300, 320:960] = 0.9
    values[398:401, 320:640] = 0.9
    values[600:603, 320:960] = 0.9
    return values


@pytest.fixture(scope="module")
def made() -> Comparison:
    source = FrameSource("bars", lambda: still_clip(frame(), mode="720p60", name="bars"))
    return compare(CHAINS, [source], crop=(290, 300, 240, 400))


@pytest.fixture(scope="module")
def place(made: Comparison, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("evidence") / "out"
    save(made, folder)
    return folder / "index.html"


@pytest.fixture
def page(place: Path, open_page: Opener) -> Iterator[Page]:
    shown = open_page(place, viewport={"width": 1280, "height": 720})
    shown.evaluate("document.querySelector('[data-viewer]').viewer.ready")
    shown.evaluate("window.viewer = document.querySelector('[data-viewer]').viewer")
    return shown


def press(page: Page, opens: str) -> None:
    """Press a figure that is in sight, and look at its case from near, without the slice over it."""
    page.locator(f"[data-opens='{opens}']:visible").first.click()
    page.wait_for_function("viewer.marks.active && viewer.marks.at >= 0")
    page.evaluate(f"viewer.lookBy(null); viewer.setView({{ ...viewer.place, scale: {SCALE} }})")
    page.evaluate("viewer.setView({ centreX: viewer.place.x, centreY: viewer.place.y })")
    settle(page)


def lit_rows(page: Page, pane: int) -> list[tuple[float, float]]:
    """Return the (top, bottom) in units of the face of the boxes seen down the middle of a pane.

    The middle dot of a box's upper and lower edge is its inner line, drawn just outside.
    """
    from page.viewer_page import drawn

    shown = drawn(page, pane)
    column = shown[:, shown.shape[1] // 2, :3].astype(int)
    rows = np.flatnonzero((np.abs(column - LIT) <= 2).all(axis=1))
    edges = [group for group in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if len(group)]
    top = page.evaluate(f"viewer.panes[{pane}].frame.top")
    pairs = zip(edges[0::2], edges[1::2], strict=True)
    return [((a[-1] + 1 - top) / SCALE, (b[0] - top) / SCALE) for a, b in pairs]


def test_the_lost_line_is_boxed_where_it_was(page: Page) -> None:
    """Lost on scan line 100 of 240, 4 units of 960 tall: from 400 on. In the other chain likewise."""
    press(page, "frame-1 lost_lines 01-01")
    said = page.locator(".viewer-judged-said").inner_text()
    assert said == "1 of 1, the worst first: 100\u00a0% of it is gone"
    for pane in (0, 1):
        assert lit_rows(page, pane) == [(400, 404)]


def test_the_split_outline_is_boxed_on_both_lines(page: Page) -> None:
    """Scan lines 132 and 133: from 528 to 536. With its profile in the slice: a third, and two thirds."""
    press(page, "frame-1 line_doubling 01-02")
    label = page.evaluate("viewer.pictures.get('01-02').label")
    pane = page.evaluate("viewer.panes.findIndex(({ ids }) => ids[0] === '01-02')")
    assert label == "average" and (528, 536) in lit_rows(page, pane)
    page.evaluate("viewer.lookBy('slice')")
    settle(page)
    words = page.locator(".viewer-slice-words").nth(pane).inner_text()
    assert words.startswith(("Scan line 132", "Scan line 133")) and "3 source lines" in words
    shares = page.locator(".viewer-pane").nth(pane).locator(".viewer-slice-taken")
    assert shares.evaluate_all("(links) => links.map((link) => Number(link.dataset.weight))") == (
        pytest.approx([1 / 3] * 3, abs=1e-4)
    )


def test_the_boxes_of_the_source_are_its_own_lines(page: Page) -> None:
    """Line 300 of 720 on 960 units, at a scale at which four thirds are whole."""
    press(page, "frame-1 lost_lines 01-01")
    page.evaluate("viewer.panes[0].show('source').then(() => viewer.setView({ scale: 3 }))")
    page.wait_for_function("viewer.panes[0].ids[0] === 'source'")
    settle(page)
    from page.viewer_page import drawn

    shown = drawn(page, 0)
    column = shown[:, shown.shape[1] // 2, :3].astype(int)
    top = page.evaluate("viewer.panes[0].frame.top")
    rows = np.flatnonzero((np.abs(column - LIT) <= 2).all(axis=1)) - top
    assert (rows[rows < 1200].max(), rows[rows > 1200].min()) == (1199, 1204)  # just outside of it
    assert (np.abs(column[1200 + top : 1204 + top] - 230) <= 1).all()  # 0.9 of 255: the line itself


def test_flicker_shows_its_map(page: Page) -> None:
    press(page, "frame-1 flicker_percent 01-03")
    assert page.evaluate("viewer.panes[0].ids") == ["01-03-flicker"]
    assert "% of white on average there" in page.locator(".viewer-judged-said").inner_text().replace(
        "\u00a0", " "
    )
    page.evaluate("viewer.lookBy('magnifier')")
    settle(page)
    assert "% of white" in page.locator(".viewer-values").first.inner_text().replace("\u00a0", " ")
    page.evaluate("viewer.marks.light('lost_lines', '01-01')")
    page.wait_for_function("viewer.panes[0].ids[0] !== '01-03-flicker'")  # and the picture comes back


def test_steps_go_round_and_the_address_keeps_them(page: Page) -> None:
    press(page, "frame-1 detail_kept 01-01")
    cases = page.evaluate("viewer.marks.cases.map((each) => each[4])")
    assert len(cases) > 2
    onward = page.get_by_role("button", name="The next one")
    for at in (*range(1, len(cases)), 0):
        onward.click()
        assert page.evaluate("viewer.marks.at") == at
    page.get_by_role("button", name="The worse one before").click()
    assert page.evaluate("viewer.marks.at") == len(cases) - 1
    rest(page, 300)
    assert page.url.endswith(f"&lit=detail_kept%2C01-01%2C{len(cases) - 1}") or page.url.endswith(
        f"&lit=detail_kept,01-01,{len(cases) - 1}"
    )
    page.get_by_label("Light up").select_option("")
    settle(page)
    assert page.evaluate("viewer.marks.active") is None
    assert onward.is_disabled()


def test_figures_are_reached_and_opened_by_keyboard(page: Page) -> None:
    figure = page.locator("[data-opens='frame-1 lost_lines 01-01']:visible").first
    figure.focus()
    page.keyboard.press("Enter")
    page.wait_for_function("viewer.marks.active?.key === 'lost_lines'")
    page.wait_for_function("document.activeElement === viewer.panes[0].stage")
    page.evaluate("viewer.draw()")


def test_what_is_faultless_opens_nothing(made: Comparison, place: Path) -> None:
    """The average loses no line: its 0 is no button."""
    text = place.read_text("utf-8")
    assert "frame-1 lost_lines 01-01" in text and "frame-1 lost_lines 01-02" not in text
    row = next(row for row in made.rows if row.chain == "average")
    assert row.metrics["lost_lines"] == 0


def test_a_link_keeps_what_is_lit_and_leaves_the_pair(page: Page, place: Path) -> None:
    """The address of one page, given to another: pair, place, slice and the lit case are as they were."""
    press(page, "frame-1 lost_lines 01-01")
    page.evaluate("viewer.panes[0].show('01-03').then(() => viewer.panes[1].show('01-02'))")
    page.evaluate("viewer.lookBy('slice'); viewer.setPlace({ x: 600.5, y: 402 })")
    rest(page, 400)
    fragment = page.url.partition("#")[2]
    page.evaluate("viewer.marks.light(null); viewer.lookBy(null); viewer.fit()")
    rest(page, 400)
    page.evaluate(f"location.hash = {fragment!r}")
    page.wait_for_function("viewer.marks.active?.key === 'lost_lines' && viewer.look === 'slice'")
    found = page.evaluate("[viewer.pair.join(), viewer.marks.at, viewer.place.x, viewer.place.y]")
    assert found == ["01-03,01-02", 0, 600.5, 402]


def test_the_opening_figure_opens_it_too(page: Page) -> None:
    """What stands under a picture of the figure that opens the page is a button as in a table."""
    figure = page.locator(".plate [data-opens='frame-1 lost_lines 01-01']")
    assert figure.count() == 1 and figure.inner_text().startswith("this frame: lost thin detail")
    figure.click()
    page.wait_for_function("viewer.marks.active?.key === 'lost_lines' && viewer.marks.of === '01-01'")
    page.go_back()
    page.wait_for_function("scrollY < 200")  # "back" returns to the figure
