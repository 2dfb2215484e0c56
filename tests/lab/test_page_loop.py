"""The bench loop in a real browser: presses, the capture that confirms them, and what goes wrong."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

import served
from lab.browsing import SLOW_MS, Served, ready
from page.browser import rest
from PIL import Image
from playwright.sync_api import Page, expect

import scalesim as ss
from scalesim.core.codes import to_codes

Opener = Callable[..., Page]

FRAME = Path(__file__).parents[2] / "inputs" / "frames" / "kettle_crew.png"
BOX = "line-average lines=480, position lines={}, line-drop lines=240"
DIAL = '[[dial]]\nkey = "position.lines"\nlabel = "V-POS"\nfirst = -8\nlast = 8\nstep = 0.4\n'


def capture(folder: Path, lines: float, name: str) -> None:
    """Save what a box set to `lines` makes of the frame, whole at once as a capture program's rename does."""
    seen = ss.predict(ss.read(folder / "frame.png"), BOX.format(lines), metrics=[]).landed
    Image.fromarray(to_codes(seen)).save(folder / "half.png")
    (folder / "half.png").rename(folder / "captures" / name)


@pytest.fixture
def loop(tmp_path: Path) -> Iterator[tuple[Served, Path]]:
    """A lab that watches a folder, with a box whose presses are known."""
    (tmp_path / "captures").mkdir()
    shutil.copy(FRAME, tmp_path / "frame.png")
    chain = ss.Chain(BOX.format(0)).to_toml() + DIAL
    (tmp_path / "box.toml").write_text(chain, encoding="utf-8")
    running = Served(tmp_path, "frame.png", "--chain", "box.toml", "--watch", "captures")
    yield running, tmp_path
    running.end()


def test_presses_are_told_and_the_next_capture_confirms_them(
    loop: tuple[Served, Path], open_lab: Opener
) -> None:
    running, folder = loop
    page = ready(open_lab(running))
    told = page.locator(".loop-told li")
    capture(folder, 1.6, "first.png")
    expect(told.first).to_have_text(
        re.compile(r"\d+ press(es)? (back|forward) of V-POS, from \+1\.60 to "), timeout=SLOW_MS
    )
    words = re.match(r"(\d+) press(?:es)? (back|forward)", told.first.inner_text())
    assert words
    presses = int(words[1]) * (1 if words[2] == "forward" else -1)
    capture(folder, round(1.6 + 0.4 * presses, 1), "second.png")  # the user does as told
    confirmed = re.compile(r"Since first\.png it moved by .*: second\.png confirms the move of ")
    expect(page.locator(".loop-told")).to_contain_text(confirmed, timeout=SLOW_MS)
    capture(folder, 4, "third.png")  # a slip of the hand
    page.locator(".bench-loop summary").click()
    expect(page.locator(".loop-list li").first).to_contain_text("third.png:", timeout=SLOW_MS)
    expect(page.locator(".loop-told")).not_to_contain_text("confirms")
    rest(page, 700)  # the session is kept a moment later
    said = page.locator(".loop-told").inner_text()
    page.reload()
    expect(page.locator(".bench-loop [role=status]")).to_have_text("third.png:", timeout=SLOW_MS)
    assert page.locator(".loop-told").inner_text() == said
    expect(page.locator(".loop-list li")).to_have_count(3)


def test_what_cannot_be_held_against_the_frame_leaves_no_presses_beside_it(
    loop: tuple[Served, Path], open_lab: Opener
) -> None:
    running, folder = loop
    page = ready(open_lab(running))
    status = page.locator(".bench-loop [role=status]")
    capture(folder, 1.6, "first.png")
    expect(page.locator(".loop-told li").first).to_contain_text("V-POS", timeout=SLOW_MS)
    served.picture_file(folder / "captures", "other.png", 240, 1280)
    expect(status).to_have_text(re.compile(r"^other\.png: (?!other).*correlates"), timeout=SLOW_MS)
    expect(page.locator(".loop-told li")).to_have_count(0)
    (folder / "captures").rename(folder / "elsewhere")
    expect(status).to_contain_text("is not there any more", timeout=SLOW_MS)
    (folder / "elsewhere").rename(folder / "captures")
    expect(status).to_contain_text("is there again", timeout=SLOW_MS)


def test_seven_tabs_are_no_more_than_one(loop: tuple[Served, Path], open_lab: Opener) -> None:
    """A browser opens six connections to a server: tabs that keep one each would lock out the seventh."""
    running, folder = loop
    first = ready(open_lab(running))
    pages = [first.context.new_page() for _ in range(6)]
    for page in pages:
        page.goto(running.address)
        expect(page.locator(".bench-loop")).to_be_visible(timeout=30_000)
    first.close()  # the one that listened
    capture(folder, 0.8, "now.png")
    for page in pages:
        expect(page.locator(".bench-loop")).to_contain_text("now.png", timeout=SLOW_MS)
