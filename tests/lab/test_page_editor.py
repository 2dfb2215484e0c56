"""The chain's editor in a real browser: boxes by hand, and errors where they are."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

from lab.browsing import CHAIN, Served, box, ready
from playwright.sync_api import Page, expect

import scalesim as ss

Opener = Callable[..., Page]


def test_a_box_is_dragged_past_what_is_out_of_sight(lab: Served, open_lab: Opener) -> None:
    """Open boxes are taller than the window: it scrolls at its edge, and a box's near end is enough."""
    page = ready(open_lab(lab, viewport={"width": 1280, "height": 600}))
    handle = box(page, "Box 1: line-average").locator(".box-handle")
    handle.scroll_into_view_if_needed()
    handle.hover()
    page.mouse.down()
    page.mouse.move(30, 590, steps=4)
    expect(box(page, "Box 3: line-drop")).to_have_class(re.compile("drop-after"))
    page.mouse.up()
    expect(page.locator("#chain-text")).to_have_value(
        "position lines=1, line-drop lines=40, line-average lines=80"
    )


def test_an_error_stands_where_it_is(lab: Served, open_lab: Opener) -> None:
    """What only the raster makes wrong is marked in the text too, and at no key that it does not name."""
    page = ready(open_lab(lab))
    page.locator("#chain-text").fill("interlace, interlace")
    expect(page.locator("#chain-error")).to_contain_text("needs a progressive picture")
    expect(page.locator(".marked mark")).to_have_text("interlace")
    second = box(page, "Box 2: interlace")
    expect(second.locator(".box-error")).to_contain_text("needs a progressive picture")
    expect(second.locator(".key-error:visible")).to_have_count(0)
    page.locator("#chain-text").fill("interlace")
    expect(page.locator("#chain-error")).to_be_hidden()


def test_the_boxs_own_steps_outlive_an_edit_of_the_text(
    lab: Served, open_lab: Opener, tmp_path: Path
) -> None:
    page = ready(open_lab(lab))
    dial_of = '[[dial]]\nkey = "position.lines"\nlabel = "V-POS"\nfirst = -8\nlast = 8\nstep = 0.4\n'
    (tmp_path / "box.toml").write_text(ss.Chain(CHAIN).to_toml() + dial_of, encoding="utf-8")
    page.locator(".text-form input[type=file]").set_input_files(tmp_path / "box.toml")
    words = page.locator(".dial-words", has_text="V-POS")
    expect(words).to_be_visible()
    page.locator("#chain-text").fill(
        "flicker-filter, line-average lines=80, position lines=2, line-drop lines=40"
    )
    expect(page.get_by_role("listitem", name="Box 1: flicker-filter")).to_be_visible()
    expect(words).to_contain_text("V-POS")
