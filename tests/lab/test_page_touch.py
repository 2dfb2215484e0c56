"""The lab under a finger: Chromium with a touch screen of a tablet's and a telephone's size."""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

from lab.browsing import CHAIN, SLOW_MS, Served, box, dial, fragment, ready
from page.browser import rest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.slow

SIZES = [pytest.param((820, 1180), id="tablet"), pytest.param((390, 844), id="telephone")]
LEAST = 24
"""CSS pixels of what a finger is to hit: WCAG 2.2, success criterion 2.5.8 (target size, minimum)."""
SMALL = """(least) => [...document.querySelectorAll("button, select, input:not([hidden]), summary")]
  .filter((each) => each.checkVisibility() && !each.disabled)
  .map((each) => [each.outerHTML.slice(0, 90), (each.closest("label") ?? each).getBoundingClientRect()])
  .filter(([, { width, height }]) => Math.min(width, height) < least - 0.5).map(([html]) => html)"""


@pytest.fixture(params=SIZES)
def touched(request: pytest.FixtureRequest, lab: Served, open_lab: Callable[..., Page]) -> Page:
    width, height = request.param
    size = {"width": width, "height": height}
    return ready(open_lab(lab, fragment(), has_touch=True, is_mobile=True, viewport=size))


def test_a_dial_is_turned_and_boxes_are_moved(touched: Page) -> None:
    page = touched
    box(page, "Box 2: position").get_by_role("button", name="lines: one step up").tap()
    expect(dial(page, "Box 2: position")).to_have_value("1.125")
    page.get_by_label("line-average is in the path").tap()
    expect(page.locator("#chain-text")).to_have_value("position lines=1.125, line-drop lines=40")
    page.get_by_role("button", name="Undo").tap()
    handle = box(page, "Box 2: position").locator(".box-handle")
    handle.scroll_into_view_if_needed()
    place, other = handle.bounding_box(), box(page, "Box 1: line-average").bounding_box()
    assert place is not None and other is not None
    drag(page, (place["x"] + 8, place["y"] + 8), (other["x"] + 20, other["y"] + 6))
    moved = "position lines=1.125, line-average lines=80, line-drop lines=40"
    expect(page.locator("#chain-text")).to_have_value(moved)


def drag(page: Page, start: tuple[float, float], end: tuple[float, float]) -> None:
    """Draw a finger from a place to another, as the browser's own events tell it."""
    client = page.context.new_cdp_session(page)

    def send(kind: str, *points: tuple[float, float]) -> None:
        given = [{"x": x, "y": y} for x, y in points]
        client.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": given})

    send("touchStart", start)
    for step in range(1, 9):
        share = step / 8
        at = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
        send("touchMove", at)
    send("touchEnd")


def test_the_page_fits_and_what_is_tapped_is_large_enough(touched: Page) -> None:
    page = touched
    assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]
    assert page.evaluate(SMALL, LEAST) == []
    for tab in page.get_by_role("tab").all()[1:]:
        tab.tap()
        rest(page, 100)
        assert page.evaluate(SMALL, LEAST) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= page.viewport_size["width"]


def test_a_picture_is_moved_once_it_was_tapped(touched: Page) -> None:
    page = touched
    canvas = page.locator(".viewer-canvas").first
    canvas.scroll_into_view_if_needed()
    page.get_by_role("button", name="Zoom in").first.tap()
    place = canvas.bounding_box()
    assert place is not None
    middle = (place["x"] + place["width"] / 2, place["y"] + place["height"] / 2)
    page.touchscreen.tap(*middle)
    look = "(canvas) => canvas.toDataURL()"
    before = canvas.evaluate(look)
    drag(page, middle, (middle[0] - 60, middle[1] - 30))
    page.wait_for_function(
        "([canvas, before]) => canvas.toDataURL() !== before", arg=[canvas.element_handle(), before]
    )
    assert CHAIN.startswith("line-average") and page.locator("#chain-text").input_value() == CHAIN
    expect(page.locator(".refused")).to_be_hidden(timeout=SLOW_MS)
