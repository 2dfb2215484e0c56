"""A lab that is really served, and its page in a real browser, which must stay silent and ask nobody else."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import numpy as np
import pytest
import served
from page.browser import PATIENCE_MS, chromium

from scalesim.core.codes import to_codes

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Locator, Page

__all__ = ["chromium", "lab", "lab_folder", "open_lab"]

CHAIN = "line-average lines=80, position lines=1, line-drop lines=40"
READBACK = "willReadFrequently"
"""What Chromium says of a test that looks at a canvas."""
SLOW_MS = PATIENCE_MS


class Served:
    """A running ``scalesim lab``; `address` ends with a slash."""

    def __init__(self, folder: Path, *arguments: str) -> None:
        command = [sys.executable, "-m", "scalesim", "lab", "--no-browser", *arguments]
        root = Path(__file__).parents[2]
        environment = {**os.environ, "PYTHONPATH": str(root)}
        self.process = subprocess.Popen(
            command, cwd=folder, env=environment, stdout=subprocess.PIPE, text=True, encoding="utf-8"
        )
        assert self.process.stdout is not None
        told = self.process.stdout.readline()
        self.address = next(word for word in told.split() if word.startswith("http"))
        self.port = self.address.rstrip("/").rpartition(":")[2]

    def end(self) -> None:
        """End it as Ctrl-C does."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            self.process.wait(90)  # it lets a job that is at work come to its end
        assert self.process.stdout is not None
        self.process.stdout.close()


@pytest.fixture(scope="session")
def lab_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the lab runs: a frame of noise blocks, 120 lines of 160 samples."""
    folder = tmp_path_factory.mktemp("lab")
    served.picture_file(folder, "noise.png", 120, 160)
    return folder


@pytest.fixture(scope="session")
def lab(lab_folder: Path) -> Iterator[Served]:
    """One lab for all pages of the session."""
    running = Served(lab_folder, "noise.png", "--chain", CHAIN)
    yield running
    running.end()


@pytest.fixture
def open_lab(chromium: Callable[[float], Browser]) -> Iterator[Callable[..., Page]]:
    """A function that opens a lab's page; afterwards each page must have been silent and asked its lab alone.

    `after` is the address's fragment, `messages` what the browser itself may say (of a server that is gone).
    """
    opened: list[tuple[list[str], list[str], str, bool]] = []
    contexts = []

    def open_page(
        running: Served,
        after: str = "",
        *,
        messages: bool = False,
        display: float | None = None,
        **context: Any,
    ) -> Page:
        if display is not None:
            context = {"no_viewport": True, **context}
        contexts.append(chromium(display or 1).new_context(**context))
        contexts[-1].set_default_timeout(PATIENCE_MS)
        page = contexts[-1].new_page()
        said: list[str] = []
        asked: list[str] = []
        page.on("console", lambda message: READBACK in message.text or said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        opened.append((said, asked, running.address, messages))
        page.goto(running.address + after)
        return page

    yield open_page
    for each in contexts:
        each.close()
    for said, asked, address, messages in opened:
        assert messages or said == [], said
        outside = [url for url in asked if not url.startswith((address, "data:", f"blob:{address}"))]
        assert outside == []


def fragment(chain: str = CHAIN, **more: str) -> str:
    """Return an address's fragment."""
    return "#" + "&".join(f"{key}={quote(value)}" for key, value in {"chain": chain, **more}.items())


def ready(page: Page) -> Page:
    """Wait until pictures and all numbers are there."""
    from playwright.sync_api import expect

    page.wait_for_selector(".viewer-canvas", timeout=SLOW_MS)
    expect(page.locator(".gauges .value").nth(5)).not_to_have_text("–", timeout=SLOW_MS)
    return page


def box(page: Page, name: str) -> Locator:
    """Return a box of the path, such as "Box 2: position"."""
    return page.get_by_role("listitem", name=name)


def dial(page: Page, name: str, key: str = "lines") -> Locator:
    """Return the number of a box's dial."""
    return box(page, name).locator(".key", has_text=key).first.locator(".dial-number")


def pane(page: Page, name: str) -> Locator:
    """Return the canvas of a pane by what it shows."""
    return page.locator(f".viewer-pane[aria-label='{name}'] canvas.viewer-canvas")


def colours(page: Page, name: str) -> set[tuple[int, ...]]:
    """Return the colours that a pane shows, its grey ground aside."""
    found = pane(page, name).evaluate(
        """(canvas) => {
        const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
        const found = new Set();
        for (let at = 0; at < data.length; at += 4)
            if (data[at + 3]) found.add(data[at] * 65536 + data[at + 1] * 256 + data[at + 2]);
        return [...found]; }"""
    )
    return {(each >> 16, each >> 8 & 255, each & 255) for each in found}


def colours_of(values: np.ndarray) -> set[tuple[int, ...]]:
    """Return the colours of a picture of code values."""
    return set(map(tuple, to_codes(values).reshape(-1, 3).tolist()))
