"""Before there is a picture, and after a reload: what is offered, and what is kept, in a real browser."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

import served
from lab.browsing import CHAIN, SLOW_MS, Served, box, fragment, pane, ready
from page.browser import rest
from playwright.sync_api import Page, expect

Opener = Callable[..., Page]


def test_nothing_is_offered_that_needs_a_frame(tmp_path: Path, open_lab: Opener) -> None:
    running = Served(tmp_path, "--chain", CHAIN)
    try:
        page = open_lab(running)
        expect(page.locator(".welcome-frames button").first).to_be_visible(timeout=SLOW_MS)
        expect(page.get_by_role("button", name="Pin this chain")).to_be_hidden()
        expect(page.get_by_role("button", name="Try them all")).to_be_hidden()
        canvas = page.locator(".welcome-frames canvas").first
        for width in (390, 1280, 1920):  # a card's piece of its frame fills it, and no dot is scaled
            page.set_viewport_size({"width": width, "height": 800})
            assert canvas.evaluate(
                """(own) => own.clientWidth >= own.closest("button").clientWidth
                && own.clientWidth <= own.width"""
            ), width
        page.close()
    finally:
        running.end()


def test_a_frame_that_is_asked_for_again_stays_in_the_address(tmp_path: Path, open_lab: Opener) -> None:
    """An upload is gone with its server: until it is given again, or another, each reload asks for it."""
    digest = "0123456789abcdef01234567"
    running = Served(tmp_path)
    try:
        page = open_lab(running, fragment(frame=digest))
        asked = page.get_by_text("The frame of this address came as a file")
        expect(asked).to_be_visible(timeout=SLOW_MS)
        rest(page, 700)  # the address is written a moment later
        page.reload()
        expect(asked).to_be_visible(timeout=SLOW_MS)
        assert digest in page.url
        served.picture_file(tmp_path, "mine.png", 120, 160)
        page.locator("[data-path=source] .file input").set_input_files(tmp_path / "mine.png")
        expect(pane(page, "Raster")).to_be_visible(timeout=SLOW_MS)
        page.wait_for_url(lambda address: digest not in address)
        page.close()
    finally:
        running.end()


def test_the_first_frame_on_an_empty_bench_is_no_fault(tmp_path: Path, open_lab: Opener) -> None:
    """There is no last chain whose pictures could be left: nothing is said to be wrong."""
    served.picture_file(tmp_path, "mine.png", 480, 640)
    running = Served(tmp_path)
    try:
        page = open_lab(running)
        expect(page.locator(".welcome-frames button").first).to_be_visible(timeout=SLOW_MS)
        page.locator("[data-path=source] .file input").set_input_files(tmp_path / "mine.png")
        expect(pane(page, "Raster")).to_be_visible(timeout=SLOW_MS)
        expect(page.locator(".refused")).to_have_text("")
        page.close()
    finally:
        running.end()


def test_a_refused_file_is_named_once(lab: Served, open_lab: Opener, tmp_path: Path) -> None:
    page = ready(open_lab(lab, messages=True))  # the browser reports the refusal
    (tmp_path / "cut.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    page.locator("[data-path=source] .file input").set_input_files(tmp_path / "cut.png")
    told = page.locator("[data-told]")
    expect(told).to_contain_text("cut.png: ", timeout=SLOW_MS)
    assert told.inner_text().count("cut.png") == 1


def test_a_path_without_boxes_says_what_is_still_shown(lab: Served, open_lab: Opener) -> None:
    page = ready(open_lab(lab))
    while page.locator(".box").count():
        page.locator(".box-remove").first.click()
    expect(page.locator(".refused")).to_contain_text("still those of the last chain")
    page.locator("#add-kind").select_option("line-repeat")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(box(page, "Box 1: line-repeat")).to_be_visible()
    expect(page.locator(".refused")).to_be_hidden(timeout=SLOW_MS)


def test_a_difference_that_is_not_resolved_is_a_tie(lab: Served, open_lab: Opener) -> None:
    """A hundredth of a line moves false detail by less than its resolution: no arrow claims more."""
    page = ready(open_lab(lab, fragment("line-average lines=240 phase=0.4", frame="kettle_crew")))
    expect(page.locator(".numbers.late")).to_have_count(0, timeout=SLOW_MS)
    page.get_by_role("button", name="Pin this chain").click()
    page.locator("#chain-text").fill("line-average lines=240 phase=0.41")
    arrow = page.locator(".gauges > div", has_text="false vertical detail").locator(".arrow")
    expect(arrow).to_contain_text("a tie", timeout=SLOW_MS)
    expect(page.locator(".gauges .arrow.good, .gauges .arrow.bad")).to_have_count(0)
    page.get_by_role("button", name="Pin this chain").click()  # named by what differs
    expect(page.get_by_label("Name of the variant").nth(1)).to_have_value(
        "line-average, line-average phase=0.41"
    )
    page.get_by_text("In sentences").click()
    expect(page.locator("[data-sentences] li").nth(1)).to_contain_text("vertical detail", timeout=SLOW_MS)


def test_a_quantity_that_no_tube_has_is_told_where_it_stands(lab: Served, open_lab: Opener) -> None:
    page = ready(open_lab(lab, messages=True))  # the browser reports the refusal
    page.get_by_text("Its quantities").click()
    field = page.get_by_label("diagonal mm", exact=True)
    field.fill("99999")
    field.press("Enter")
    own = page.locator("[data-path=display] .key", has=field).locator(".key-error")
    expect(own).to_contain_text("at most 3000", timeout=SLOW_MS)
    page.get_by_role("button", name="As it was").click()
    expect(own).to_be_hidden(timeout=SLOW_MS)


def test_the_first_pictures_are_asked_for_once(lab: Served, open_lab: Opener) -> None:
    """The glass that a pane looks at is on its way with the raster: it is not computed a second time."""
    page = open_lab(lab)
    expect(page.locator(".viewer-canvas").first).to_be_visible(timeout=SLOW_MS)
    asked: list[str] = []
    page.on("request", lambda each: each.url.endswith("/api/explore") and asked.append(each.post_data or ""))
    page.goto("about:blank")
    page.goto(lab.address + fragment(show="raster,glass"))
    ready(page)
    expect(pane(page, "Glass")).to_be_visible()
    assert [each for each in asked if '"glass"' in each] == asked[:1]


@pytest.mark.parametrize("name", ["fields", "glass"])
def test_a_form_speaks_of_its_own_controls(name: str, lab: Served, open_lab: Opener) -> None:
    """What is written for the command line names no argument in capitals and no exit code on the page."""
    page = open_lab(lab)
    page.locator(f"#tab-{name}").click(timeout=SLOW_MS)
    panel = page.locator(f"#panel-{name}")
    expect(panel.get_by_role("button", name="Run")).to_be_visible(timeout=SLOW_MS)
    expect(panel).not_to_contain_text("Ends with 1")
    expect(panel).not_to_contain_text("CAPTURE")
    expect(panel.get_by_role("heading").first).to_contain_text("“Capture”" if name == "fields" else "photo")


def test_a_number_says_of_what_it_is_percent(lab: Served, open_lab: Opener) -> None:
    """Units are those of the metrics' own keys; a label and its unit are no one phrase."""
    page = open_lab(lab)
    names = page.locator(".gauges dt")
    expect(names.filter(has_text="flicker")).to_have_text("flicker, mean (of white)", timeout=SLOW_MS)
    expect(names.filter(has_text="cut off")).to_have_text("picture cut off (of picture area)")
