"""The lab by keyboard alone: from the empty page to a chain that is changed and a picture that is moved."""

from __future__ import annotations

from collections.abc import Callable

import pytest

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

from lab.browsing import SLOW_MS, Served, ready
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.slow

FOCUS = """() => { const each = document.activeElement;
  const { outlineStyle, outlineWidth } = getComputedStyle(each);
  return [each.getAttribute("aria-label") ?? each.innerText?.trim() ?? "", each.tagName, each.id,
    outlineStyle !== "none" && parseFloat(outlineWidth) >= 1]; }"""


def tab_to(page: Page, name: str, key: str = "Tab") -> None:
    """Press Tab until something of this name, tag or id has the focus; every stop must be seen."""
    seen = []
    for _ in range(150):
        page.keyboard.press(key)
        said, tag, id, outlined = page.evaluate(FOCUS)
        seen.append(said[:30] or id)
        assert outlined or tag in ("BODY", "HTML"), f"no focus is seen on {said or tag}"
        if name in (id, tag) or said.startswith(name):
            return
    raise AssertionError(f"Tab does not reach {name}: {seen}")


def test_all_of_it_by_keyboard(lab: Served, open_lab: Callable[..., Page]) -> None:
    page = open_lab(lab, "#tab=explore", viewport={"width": 1280, "height": 720})
    ready(page)
    tab_to(page, "Explore")
    for _ in page.get_by_role("tab").all():
        page.keyboard.press("ArrowRight")  # round, and back to the first
    expect(page.get_by_role("tab", name="Explore")).to_be_focused()
    before = page.locator("#chain-text").input_value()
    tab_to(page, "add-kind")
    page.keyboard.type("quantise")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("#chain-text")).to_have_value(f"{before}, quantise")
    tab_to(page, "Move quantise", "Shift+Tab")
    page.keyboard.press("ArrowUp")
    moved = before.rpartition(", ")
    expect(page.locator("#chain-text")).to_have_value(f"{moved[0]}, quantise, {moved[2]}")
    tab_to(page, "Remove quantise")
    page.keyboard.press("Enter")
    expect(page.locator("#chain-text")).to_have_value(before)
    tab_to(page, "Zoom in")
    look = "document.querySelector('canvas.viewer-canvas').toDataURL()"
    seen = page.evaluate(look)
    page.keyboard.press("Enter")
    page.wait_for_function(f"(seen) => {look} !== seen", arg=seen)
    tab_to(page, "Pin this chain")
    page.keyboard.press("Space")
    expect(page.get_by_label("Name of the variant")).to_be_visible(timeout=SLOW_MS)
