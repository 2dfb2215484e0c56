"""The address keeps arrangement, pair, place and size, and a link brings them back."""

from __future__ import annotations

from pathlib import Path
from urllib.parse import parse_qs

from page.browser import rest
from page.viewer_page import PICTURES, Opener, settle, stage, view

NAMED = {"panes": [], "pair": ["source", "raster"], "source": "source", "name": "here", "start": "fit"}


def fragment(page) -> dict[str, str]:  # type: ignore[no-untyped-def]  # a Page
    rest(page, 300)
    return {key: value[0] for key, value in parse_qs(page.url.partition("#")[2]).items()}


def test_the_address_follows(opened: Opener) -> None:
    page = opened(**NAMED)
    assert "#" not in page.url  # not before something was done
    stage(page).focus()
    page.evaluate("viewer.setView({ centreX: 100.25, centreY: 77.5, scale: 5 })")
    expected = {"see": "here", "as": "beside", "show": "source,raster", "at": "100.25,77.5", "zoom": "5"}
    assert fragment(page) == expected
    page.keyboard.press("2")
    assert fragment(page)["show"] == "other,raster"
    page.get_by_role("button", name="Flip").click()
    page.keyboard.press("Tab")
    assert fragment(page)["as"] == "flip"
    page.get_by_role("button", name="Whole picture").click()
    found = fragment(page)
    assert found["zoom"] == "whole" and "at" not in found


def test_it_comes_back(opened: Opener) -> None:
    """Through `restore` of what the address held, in a viewer that is elsewhere."""
    page = opened(**NAMED)
    page.evaluate(
        "viewer.restore({ mode: 'wipe', pair: ['other', 'raster'], view: "
        "{ centreX: 60, centreY: 50, scale: 6 } })"
    )
    page.wait_for_function("viewer.mode === 'wipe'")
    settle(page)
    assert page.evaluate("viewer.panes[0].ids") == ["other", "raster"]
    assert view(page) == {"centreX": 60, "centreY": 50, "scale": 6, "fitted": False}
    page.evaluate("viewer.restore({ mode: 'nonsense', pair: ['gone'], view: { scale: NaN }, whole: false })")
    settle(page)
    assert page.evaluate("viewer.mode") == "wipe"  # what is not there is left as it was


def test_a_page_opens_what_its_link_asks_for(folder: Path, open_page: Opener) -> None:
    """The second frame's viewer, opened and set; the first is as usual. The page is its own file only."""
    page = open_page(folder / "index.html", viewport={"width": 1280, "height": 720})
    ask = "#see=frame-2-viewer&as=wipe&show=02-02,02-01&at=300,200.5&zoom=4"
    rest(page, 400)
    assert "#" not in page.url
    page.evaluate("(ask) => { location.hash = ask; }", ask)
    page.wait_for_function("document.querySelectorAll('.viewer').length === 2")
    host = page.locator("[data-viewer=frame-2-viewer]")
    page.wait_for_function("document.querySelector('[data-viewer=frame-2-viewer]').viewer.mode === 'wipe'")
    settle(page)
    assert host.evaluate("(host) => host.viewer.panes[0].ids") == ["02-02", "02-01"]
    found = host.evaluate("(host) => host.viewer.view")
    assert (found["centreX"], found["centreY"], found["scale"]) == (300, 200.5, 4)
    assert abs(host.bounding_box()["y"]) < 60  # it is in sight
    host.get_by_role("button", name="Copy link").click()
    assert ask in page.url


def test_pictures_without_a_name_leave_the_address(opened: Opener) -> None:
    page = opened(pictures=PICTURES)
    page.evaluate("viewer.setView({ scale: 9 })")
    rest(page, 300)
    assert "#" not in page.url
    assert page.get_by_role("button", name="Copy link").count() == 0
