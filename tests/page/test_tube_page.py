"""The tube on a comparison's page: linked pictures of the glass, flipped by keys, saved and read back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from page.compared import made
from page.viewer_page import settle

from scalesim.io.saved import read_saved
from scalesim.saving import save

if TYPE_CHECKING:
    from playwright.sync_api import Page

Opener = Callable[..., "Page"]
CHAINS = {"drop": "line-drop lines=48", "mean": "line-average lines=48"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("tube") / "o"
    save(made(CHAINS, displays=["studio-36cm-800"]), place)
    return place


@pytest.mark.slow
def test_saved_and_read_back(folder: Path, tmp_path: Path) -> None:
    """The answer that is read back gives the same page, weighing and glass and all."""
    save(read_saved(folder), tmp_path / "again")
    for name in ("index.html", "comparison.md"):
        assert (tmp_path / "again" / name).read_bytes() == (folder / name).read_bytes()


def test_keys_change_the_chain_on_the_glass(folder: Path, open_page: Opener) -> None:
    """1 and 2 show the first and the second chain on the tube: another picture each, in place."""
    page = open_page(folder / "index.html", viewport={"width": 1280, "height": 900})
    section = page.locator("section[aria-labelledby='frame-1-tube']")
    section.locator("[data-viewer] > button").click()
    section.locator(".viewer canvas").first.wait_for()
    section.locator("[data-viewer]").evaluate("(host) => host.viewer.ready")
    section.get_by_role("button", name="Flip").click()
    stage = section.locator(".viewer-stage").first
    shots = []
    for key in ("1", "2", "1"):
        stage.focus()
        page.keyboard.press(key)
        settle(page)
        shots.append(stage.locator("canvas").first.screenshot())
    assert shots[0] == shots[2] != shots[1]
    assert np.frombuffer(shots[0], np.uint8).size > 1000
