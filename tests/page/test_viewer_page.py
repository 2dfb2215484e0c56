"""The picture viewer in a real browser: replaced pictures, fields in turn, the page around it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from few import few
from page.browser import rest
from page.viewer_page import (
    LEFT_UP,
    OTHER,
    SOURCE,
    STATIC,
    WHOLE,
    Opener,
    colours,
    data_uri,
    drawn,
    picture,
    settle,
    stage,
    view,
    write,
)

from scalesim.page.viewer import MODULES

if TYPE_CHECKING:
    from playwright.sync_api import Page, Route

# Replacing pictures

WATCH = """() => { window.watched = { seen: new Set(), blank: 0 };
    const eye = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
    const look = () => { const { canvas } = viewer.panes[0];
      eye.clearRect(0, 0, 1, 1);
      eye.drawImage(canvas, canvas.width / 2, canvas.height / 2, 1, 1, 0, 0, 1, 1);
      const [red, , , alpha] = eye.getImageData(0, 0, 1, 1).data;
      watched.blank += alpha !== 255; watched.seen.add(red);
      requestAnimationFrame(look); };
    look(); }"""


def test_no_blank_frame_in_thirty_replacements(opened: Opener) -> None:
    page = opened()
    sources = [data_uri(np.full((192, 256, 3), 100 + number, np.uint8)) for number in range(30)]
    page.evaluate(WATCH)
    done = page.evaluate(
        """async (sources) => { const done = [];
        for (const source of sources) {
          done.push(await viewer.setPicture(0, { source }));
          await new Promise(requestAnimationFrame);
        }
        return done; }""",
        sources,
    )
    settle(page)
    assert done == [True] * 30
    assert page.evaluate("watched.blank") == 0
    assert set(range(100, 130)) <= set(page.evaluate("[...watched.seen]"))  # and every picture was on screen


def test_the_watch_notices_a_blank_frame(opened: Opener) -> None:
    page = opened()
    page.evaluate(WATCH)
    page.evaluate("(async () => { const c = viewer.panes[0].canvas; c.width = c.width; })()")
    settle(page)
    assert page.evaluate("watched.blank") > 0


def test_a_later_picture_wins_over_an_earlier_slow_one(opened: Opener) -> None:
    page = opened()
    results = page.evaluate(
        """async () => { const slow = new Image(); slow.src = options.pictures[2].source;
        slow.decode = () => new Promise((done) => setTimeout(done, 150));
        const late = viewer.setPicture(0, { source: slow });
        const white = new ImageData(new Uint8ClampedArray(256 * 192 * 4).fill(255), 256);
        const quick = viewer.setPicture(0, { source: white });
        return Promise.all([late, quick]); }"""
    )
    assert results == [False, True]
    assert colours(drawn(page, 0)) == {(255, 255, 255)}
    assert colours(drawn(page, 2)) >= {(255, 255, 255)}  # the wipe shows the same picture


def test_offered_pictures_are_decoded_where_they_are_shown(opened: Opener) -> None:
    """One that a pane shows is swapped; another waits until it is chosen, and may be forgotten."""
    page = opened(start=LEFT_UP)
    found = page.evaluate(
        """async () => {
        const dots = (code) =>
          Uint8ClampedArray.from({ length: 256 * 192 * 4 }, (_, at) => (at % 4 < 3 ? code : 255));
        const grey = (code) => new ImageData(dots(code), 256);
        window.asked = 0;
        const later = () => { asked += 1; return Promise.resolve(grey(90)); };
        const place = { x: 0, y: 0, width: 256, height: 192 };
        const done = [await viewer.offer({ id: viewer.panes[0].ids[0], source: grey(80) })];
        done.push(await viewer.offer({ id: "later", label: "Later", source: later, ...place }), asked);
        viewer.forget(viewer.panes[0].ids[0]);  // it is shown, and stays
        return done; }"""
    )
    assert found == [True, True, 0]
    assert set(np.unique(drawn(page, 0)[..., 0])) == {80}
    page.locator(".viewer-pane select").first.select_option("later")
    settle(page)
    assert page.evaluate("asked") == 1
    assert set(np.unique(drawn(page, 0)[..., 0])) == {90}
    page.evaluate("viewer.setPanes(['other', 'raster'])")
    assert page.locator(".viewer-pane").count() == 2
    page.evaluate("viewer.forget('later')")
    assert not page.evaluate("viewer.pictures.has('later')")


def test_an_overlay_draws_over_every_pane(opened: Opener) -> None:
    page = opened(start=LEFT_UP)
    page.evaluate(
        """() => { viewer.overlays.add({ draw({ context }) {
        context.fillStyle = "#123456"; context.fillRect(0, 0, 3, 3); } }); viewer.draw(); }"""
    )
    for pane in range(3):
        assert tuple(drawn(page, pane)[1, 1, :3]) == (0x12, 0x34, 0x56)


def test_a_picture_of_another_place_and_by_name(opened: Opener) -> None:
    page = opened(start=LEFT_UP)
    assert page.evaluate("viewer.setPicture(0, 'other')")
    assert set(np.unique(drawn(page, 0)[..., 2])) == {30}
    page.evaluate("viewer.setMode('wipe')")
    assert page.locator(".viewer-pane").count() == 1
    assert set(np.unique(drawn(page, 0)[200, :, 2])) >= {20, 30}
    page.evaluate("viewer.setMode('beside')")
    assert page.locator(".viewer-pane").count() == 3
    with pytest.raises(Exception, match="“raster”: width and height must be above 0"):
        page.evaluate("viewer.setPicture(1, { width: 0 })")
    with pytest.raises(Exception, match="finite numbers only"):
        page.evaluate("viewer.setView({ scale: NaN })")


def test_pictures_from_scripts_and_failures(tmp_path: Path, open_page: Opener) -> None:
    """A picture beside the page, as a script: its values can be read. A missing one is said in the pane."""
    (tmp_path / "pictures").mkdir()
    script = f'registerPicture("far", "{data_uri(OTHER)}");'
    (tmp_path / "pictures" / "far.js").write_text(script, encoding="utf-8")
    far = {"id": "far", "source": {"script": "pictures/far.js", "key": "far"}, **WHOLE}
    gone = {"id": "gone", "source": {"script": "pictures/gone.js", "key": "gone"}, **WHOLE}
    path = write(
        tmp_path, pictures=[far, gone], panes=[{"picture": "far"}, {"picture": "gone"}], start=LEFT_UP
    )
    files = tuple((tmp_path / "pictures" / name).as_uri() for name in ("far.js", "gone.js"))
    page = open_page(path, also=files, messages=1)  # the browser itself reports the missing file
    assert page.evaluate("viewer.ready") == [True, False]
    assert page.get_by_role("alert").inner_text() == "“gone” cannot be shown: pictures/gone.js did not load"
    page.evaluate("viewer.lookBy('magnifier'); viewer.setPlace({ x: 40.5, y: 33 })")
    settle(page)
    assert page.locator(".viewer-values").inner_text().startswith("line 8, sample 40\nR 40 G 8 B 30")


def test_words_are_never_markup(opened: Opener) -> None:
    bad = "<img src=x onerror=alert(1)><b>"
    words = {"label": bad, "alt": bad, "caption": bad}
    pictures = [picture("source", SOURCE, **words), picture("other", OTHER, **words)]
    page = opened(
        pictures=pictures, panes=[{"picture": "source"}, {"picture": "source", "against": "other"}], label=bad
    )
    assert page.locator("#host img, #host b").count() == 0
    assert page.locator(".viewer-head option").first.inner_text() == bad
    assert page.locator("canvas[role=img]").first.get_attribute("aria-label") == bad


# Fields in turn


def field_codes(page: Page) -> int:
    """Return the code in the middle of the pane with fields: 60 or 70 is a field, 20 the picture at rest."""
    shown = drawn(page, 1)
    return int(shown[shown.shape[0] // 2, shown.shape[1] // 2, 2])


def test_fields_rest_until_asked_and_stop_by_themselves(opened: Opener) -> None:
    page = opened()
    page.clock.install(time=0)
    page.clock.pause_at(1000)
    page.clock.run_for(5000)
    assert field_codes(page) == 20
    button = page.locator(".viewer-fields button").nth(1)
    assert "photosensitive epilepsy" in page.locator(".viewer-fields p").nth(1).inner_text()
    caution = page.locator(".viewer-fields p").nth(1).get_attribute("id")
    assert button.get_attribute("aria-describedby") == caution
    button.click()
    page.wait_for_function("viewer.panes[1].field")
    seen, since = [field_codes(page)], 0
    for _ in range(150):  # 15 s in steps of 0.1 s
        page.clock.run_for(100)
        since += 100
        if (code := field_codes(page)) != seen[-1]:
            assert since >= 1000
            seen.append(code)
            since = 0
    assert seen == [60, 70, 60, 70, 60, 70, 60, 70, 60, 20]  # ten changes; the last is back to rest
    assert button.inner_text() == "Show the two fields in turn"


@pytest.mark.parametrize("how", few(["hidden", "Escape", "blur", "again"], 2))
def test_fields_stop_when_attention_goes(opened: Opener, how: str) -> None:
    page = opened()
    page.locator(".viewer-fields button").nth(1).click()
    page.wait_for_function("viewer.panes[1].field")
    assert field_codes(page) == 60
    if how == "Escape":
        page.keyboard.press("Escape")
    elif how == "blur":
        page.keyboard.press("Tab")
    elif how == "hidden":
        page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    else:
        page.keyboard.press("Enter")
    assert field_codes(page) == 20
    rest(page, 1200)
    assert field_codes(page) == 20


def test_fields_wait_for_each_press_where_motion_is_reduced(opened: Opener) -> None:
    page = opened({"reduced_motion": "reduce"})
    button = page.locator(".viewer-fields button").nth(1)
    seen = []
    for _ in range(3):
        button.click()
        settle(page)
        seen.append(field_codes(page))
    assert seen == [60, 70, 20]
    button.click()
    rest(page, 1200)
    assert field_codes(page) == 60


# The page around it


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(opened: Opener, scheme: str) -> None:
    module = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="needs axe-playwright-python"
    )
    page = opened({"color_scheme": scheme})
    for state in (
        "viewer.fit()",
        "viewer.lookBy('magnifier')",
        "viewer.lookBy('slice')",
        "viewer.setMode('flip')",
    ):
        page.evaluate(state)
        settle(page)
        found = module.Axe().run(page).response["violations"]
        assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == []


def test_two_viewers_on_one_page(opened: Opener) -> None:
    page = opened()
    page.evaluate("window.second = createViewer(document.getElementById('other'), options); second.ready")
    settle(page)
    ids = page.evaluate("[...document.querySelectorAll('[id]')].map(({ id }) => id)")
    assert len(ids) == len(set(ids)) > 8
    stage(page, 3).focus()
    page.keyboard.press("x")
    assert page.evaluate("second.view.scale") == 2
    assert view(page)["fitted"]
    page.evaluate("second.destroy()")
    assert page.locator(".viewer").count() == 1
    assert page.evaluate("document.getElementById('other').childElementCount") == 0


@pytest.mark.parametrize("width", [320, 2560])
def test_no_sideways_scrolling(opened: Opener, width: int) -> None:
    page = opened({"viewport": {"width": width, "height": 800}})
    page.evaluate("viewer.lookBy('magnifier')")
    settle(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert all(stage(page, pane).bounding_box()["height"] <= 800 for pane in range(3))


def test_prints_the_start_view(opened: Opener) -> None:
    page = opened(start=LEFT_UP)
    page.evaluate("viewer.setView({ scale: 9 }); window.printed = []")
    page.evaluate("addEventListener('beforeprint', () => printed.push(viewer.view.scale))")
    assert page.pdf()[:4] == b"%PDF"
    assert page.evaluate("printed") == [4]
    assert view(page)["scale"] == 9


SERVED = """<!doctype html><title>served</title><div id="host"></div><script type="module">
import { createViewer } from "./viewer.js"; window.createViewer = createViewer;</script>"""


def test_works_as_served_files(tmp_path: Path, open_page: Opener) -> None:
    """The same files as modules from a server, which the browser's routes play here."""
    address = "http://viewer.invalid/"
    modules = [f"{name}.js" for name in MODULES]
    files = {"": SERVED} | {name: (STATIC / name).read_text("utf-8") for name in modules}
    (tmp_path / "empty.html").write_text("<title>empty</title>", encoding="utf-8")
    page = open_page(tmp_path / "empty.html", also=tuple(address + name for name in files))

    def answer(route: Route) -> None:
        name = route.request.url.removeprefix(address)
        kind = "text/javascript" if name else "text/html"
        route.fulfill(body=files[name], content_type=kind)

    page.route(address + "**", answer)
    page.goto(address)
    page.evaluate(
        """(options) => { window.viewer = createViewer(document.getElementById("host"), options);
        return viewer.ready; }""",
        {"pictures": [picture("source", SOURCE)], "panes": [{"picture": "source"}]},
    )
    assert {blue for _, _, blue in colours(drawn(page, 0))} == {10}
