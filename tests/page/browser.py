"""A real browser for the tests of pages, which must stay silent and ask for nothing but their own file."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

NAMES = ("chromium", "chromium-browser", "google-chrome")
ARGUMENTS = ["--no-sandbox", "--force-color-profile=srgb", "--window-size=980,700"]

PATIENCE_MS = 90_000
"""How long the browser is waited for: the machine may be busy with other tests, and late is not wrong."""

_running: list[Callable[[float], Browser]] = []
"""The fixture's value while it lives: each conftest that imports it has a copy, a process one Playwright."""


@pytest.fixture(scope="session")
def chromium() -> Iterator[Callable[[float], Browser]]:
    """A function from a display scale to a Chromium on such a display, each started once.

    The whole browser runs at that scale, as on a real display: a page's `device_scale_factor` only emulates
    it, and differs in the sizes a page is told. Skips where there is no Chromium or no Playwright.
    """
    if _running:
        yield _running[0]
        return
    api = pytest.importorskip(
        "playwright.sync_api", reason="needs Playwright for Python: pip install playwright"
    )
    path = next(filter(None, map(shutil.which, NAMES)), None)
    if path is None:
        pytest.skip(f"needs a Chromium on the path: looked for {', '.join(NAMES)}")
    api.expect.set_options(timeout=PATIENCE_MS)
    with api.sync_playwright() as playwright:
        started: dict[float, Browser] = {}

        def browser(display: float) -> Browser:
            if display not in started:
                arguments = [*ARGUMENTS, f"--force-device-scale-factor={display}"]
                started[display] = playwright.chromium.launch(
                    executable_path=path, args=arguments, timeout=PATIENCE_MS
                )
            return started[display]

        _running.append(browser)
        yield browser
        _running.clear()
        for each in started.values():
            each.close()


def rest(page: Page, milliseconds: int) -> None:
    """Wait by the page's own timers, which end in order: what it put off for less has then been done.

    However busy the machine is; a wait on this side could end before the page had its turn.
    """
    page.evaluate("(wait) => new Promise((done) => setTimeout(done, wait))", milliseconds)


@pytest.fixture
def open_page(chromium: Callable[[float], Browser]) -> Iterator[Callable[..., Page]]:
    """A function that opens a page file; afterwards each page must have been silent and self-contained.

    `display` is a real display scale (the window's size is then the browser's own), `also` names files that
    the page may ask for, `messages` counts what the browser itself may say.
    """
    opened: list[tuple[list[str], list[str], list[str], int]] = []
    contexts = []

    def open_file(
        path: Path,
        also: tuple[str, ...] = (),
        messages: int = 0,
        display: float | None = None,
        **context: Any,
    ) -> Page:
        if display is not None:
            context = {"no_viewport": True} | {k: v for k, v in context.items() if k != "viewport"}
        contexts.append(chromium(display or 1).new_context(**context))
        contexts[-1].set_default_timeout(PATIENCE_MS)
        page = contexts[-1].new_page()
        said: list[str] = []
        asked: list[str] = []
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        opened.append((said, asked, [path.as_uri(), *also], messages))
        page.goto(path.as_uri())
        return page

    yield open_file
    for each in contexts:
        each.close()
    for said, asked, allowed, messages in opened:
        assert len(said) == messages, said
        assert sorted(url for url in asked if not url.startswith("data:")) == sorted(allowed)
