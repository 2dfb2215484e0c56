"""Flipping through pictures in place: never blank, by keys, buttons and taps, and nothing moves."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from page.viewer_page import FIELDS, WHOLE, Opener, data_uri, drawn, settle, stage

if TYPE_CHECKING:
    from playwright.sync_api import Page

TONES = {"source": 40, "one": 90, "two": 150, "three": 220}
PICTURES = [
    {
        "id": name,
        "label": name.title(),
        "source": data_uri(np.full((192, 256, 3), tone, np.uint8)),
        "caption": f"About {name}. " * (1 + 6 * (name == "two")),
        **WHOLE,
    }
    for name, tone in TONES.items()
]
FLIP = {
    "pictures": [*PICTURES[:3], {**PICTURES[3], "fields": FIELDS}],
    "panes": [],
    "pair": ["one", "two"],
    "source": "source",
    "mode": "flip",
}

WATCH = """() => { window.watched = [];
    const eye = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
    const look = () => { const { canvas } = viewer.panes[0];
      eye.clearRect(0, 0, 1, 1);
      eye.drawImage(canvas, canvas.width / 2, canvas.height / 2, 1, 1, 0, 0, 1, 1);
      const [red, , , alpha] = eye.getImageData(0, 0, 1, 1).data;
      watched.push(alpha === 255 ? red : -1);
      requestAnimationFrame(look); };
    look(); }"""


def tone(page: Page, pane: int = 0) -> int:
    """Return the tone in the middle of a pane."""
    shown = drawn(page, pane)
    return int(shown[shown.shape[0] // 2, shown.shape[1] // 4, 0])


@pytest.mark.slow
def test_no_blank_frame_in_a_hundred_flips(opened: Opener) -> None:
    """Every frame of the screen is looked at: it holds one of the pictures, and each turn arrives."""
    page = opened(**FLIP)
    stage(page).focus()
    page.evaluate(WATCH)
    wanted = ["1", "2", "3", "Space"]
    for turn in range(100):
        key = wanted[turn % 4]
        if key == "Space":
            page.keyboard.down(" ")
            settle(page)
            assert tone(page) == TONES["source"]
            page.keyboard.up(" ")
        else:
            page.keyboard.press(key)
        settle(page)
    seen = page.evaluate("watched")
    assert -1 not in seen and set(seen) == set(TONES.values())
    changes = sum(a != b for a, b in pairwise(seen))
    assert changes >= 99


def test_the_watch_notices_a_blank_frame(opened: Opener) -> None:
    page = opened(**FLIP)
    page.evaluate(WATCH)
    page.evaluate("(() => { const c = viewer.panes[0].canvas; c.width = c.width; })()")
    settle(page)
    assert -1 in page.evaluate("watched")


def test_keys_and_buttons(opened: Opener) -> None:
    """Numbers show chains, Space held the source, Enter the one before; buttons say which is on show."""
    page = opened(**FLIP)
    assert tone(page) == TONES["one"]
    stage(page).focus()
    page.keyboard.press("3")
    settle(page)
    assert tone(page) == TONES["three"]
    page.keyboard.press("Enter")
    settle(page)
    assert tone(page) == TONES["one"]
    scrolled = page.evaluate("scrollY")
    scrolled = page.evaluate("scrollY")
    page.keyboard.down(" ")
    settle(page)
    assert tone(page) == TONES["source"]
    pressed = page.locator(".viewer-strip [aria-pressed=true]")
    assert pressed.inner_text().endswith("Source")
    assert page.evaluate("scrollY") == scrolled  # the page did not take the key
    page.keyboard.up(" ")
    settle(page)
    assert tone(page) == TONES["one"]
    page.get_by_role("button", name="2 Two").click()
    settle(page)
    assert tone(page) == TONES["two"]
    assert pressed.inner_text().replace("\n", " ") == "2 Two"
    page.keyboard.press("1")  # the pointer's press gave the picture the keys
    settle(page)
    assert tone(page) == TONES["one"]
    page.keyboard.press("9")
    settle(page)
    assert tone(page) == TONES["one"]


def test_the_source_goes_with_the_focus(opened: Opener) -> None:
    page = opened(**FLIP)
    stage(page).focus()
    page.keyboard.down(" ")
    page.evaluate("document.activeElement.blur()")
    settle(page)
    assert tone(page) == TONES["one"]


def test_the_arrangements_keep_the_pair(opened: Opener) -> None:
    page = opened(**FLIP)
    stage(page).focus()
    page.keyboard.press("3")
    settle(page)
    page.get_by_role("button", name="Side by side").click()
    page.wait_for_function("viewer.panes.length === 2 && viewer.panes[1].ids.length")
    settle(page)
    assert [tone(page, pane) for pane in (0, 1)] == [TONES["three"], TONES["one"]]
    page.get_by_role("button", name="Wipe").click()
    page.wait_for_function("viewer.panes.length === 1 && viewer.panes[0].ids.length === 2")
    settle(page)
    middle = drawn(page, 0)[200]
    assert {int(middle[300, 0]), int(middle[-300, 0])} == {TONES["three"], TONES["one"]}


def test_narrow_screens_begin_with_flipping_by_finger(opened: Opener) -> None:
    """Buttons of 44 pixels and more (WCAG 2.2, 2.5.5); a tap on the picture goes back and forth."""
    phone = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
    page = opened(phone, **{k: v for k, v in FLIP.items() if k != "mode"})
    assert page.evaluate("viewer.mode") == "flip"
    boxes = [button.bounding_box() for button in page.locator(".viewer-strip button").all()]
    assert all(box["height"] >= 44 and box["width"] >= 44 for box in boxes)
    for expected in ("two", "one", "two"):
        stage(page).tap()
        settle(page)
        assert tone(page) == TONES[expected]
    page.evaluate("viewer.panes[0].show('three')")
    settle(page)
    strip = page.locator(".viewer-strip").bounding_box()
    chosen = page.locator(".viewer-strip [aria-pressed=true]").bounding_box()
    assert strip["x"] <= chosen["x"] and chosen["x"] + chosen["width"] <= strip["x"] + strip["width"]
    page.evaluate("viewer.panes[0].show('one')")
    settle(page)
    page.get_by_role("button", name="Three").tap()
    settle(page)
    assert tone(page) == TONES["three"]
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


BOXES = """() => [...document.querySelectorAll(
    ".viewer-tools, .viewer-judged, .viewer-stage, .viewer-stack, .viewer-help")].map((each) => {
      const { x, y, width, height } = each.getBoundingClientRect();
      return [x, y, width, height].map((v) => Math.round(v)); })"""


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("mode", ["flip", "beside"])
def test_nothing_shifts(opened: Opener, width: int, mode: str) -> None:
    """Captions of one and of four lines, fields or none, magnifier and slice: every part stays in place."""
    options: dict[str, Any] = {**FLIP, "mode": mode}
    page = opened({"viewport": {"width": width, "height": 800}}, **options)
    settle(page)
    stage(page).evaluate("(stage) => stage.focus({ preventScroll: true })")
    before = page.evaluate(BOXES)
    for key in ("2", "3", "m", "s", "s", "1", "x", "+", "-"):
        page.keyboard.press(key)
        settle(page)
        assert page.evaluate(BOXES) == before, key
    page.keyboard.down(" ")
    settle(page)
    assert page.evaluate(BOXES) == before
