"""The picture viewer in a real browser: dots, links, keys, wipe, magnifier."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from few import few
from numpy.typing import NDArray
from page.viewer_page import (
    LEFT_UP,
    OTHER,
    PANES,
    RASTER,
    SOURCE,
    Opener,
    colours,
    data_uri,
    drawn,
    palette,
    photographed,
    settle,
    stage,
    view,
)

from scalesim.draw import diverging

if TYPE_CHECKING:
    from playwright.sync_api import Page

# Dots

DISPLAYS = [
    {"display": 1},
    {"display": 1.25},
    {"display": 1.5},
    {"display": 2},
    {"device_scale_factor": 1.25},
]
"""Real displays, and one emulated: they differ in the sizes a page is told."""

SMOOTH = """() => { const canvas = CanvasRenderingContext2D.prototype;
    const { set } = Object.getOwnPropertyDescriptor(canvas, "imageSmoothingEnabled");
    Object.defineProperty(canvas, "imageSmoothingEnabled", { set() { set.call(this, true); } });
    viewer.setView({ scale: 2.37 }); }"""


@pytest.mark.parametrize("context", few(DISPLAYS, 2), ids=str)
def test_no_colour_on_screen_that_is_not_in_the_picture(opened: Opener, context: dict[str, float]) -> None:
    """At whole and broken scales, also where the picture ends inside the pane."""
    codes = palette(60, 90)
    place = {"id": "one", "source": data_uri(codes), "width": 90, "height": 80}
    page = opened(context, pictures=[place], panes=[{"picture": "one"}] * 2)
    assert page.evaluate("devicePixelRatio") == next(iter(context.values()))
    ground = page.evaluate("getComputedStyle(document.querySelector('.viewer-stage')).backgroundColor")
    assert ground == "rgb(200, 200, 200)"
    for scale in ("viewer.view.scale", "1", "0.7", "2.37", "5", "7.31"):
        page.evaluate(f"viewer.setView({{ scale: {scale}, centreX: 31.4, centreY: 20.3 }})")
        for pane in (0, 1):
            shown = colours(photographed(page, pane))
            assert len(shown) == 6, scale  # the five and the ground
            assert shown <= colours(codes) | {(200, 200, 200)}, scale


def test_the_colour_test_notices_smoothing(opened: Opener) -> None:
    page = opened(pictures=[{"id": "one", "source": data_uri(palette(60, 90))}], panes=[{"picture": "one"}])
    page.evaluate(SMOOTH)
    assert len(colours(photographed(page, 0))) > 50


@pytest.mark.parametrize("context", few(DISPLAYS, 2), ids=str)
def test_whole_scales_are_exact(opened: Opener, context: dict[str, float]) -> None:
    """Against NumPy's `repeat`: each sample is `scale` dots, each of 48 lines four times as many."""
    page = opened(context, panes=PANES[:2])
    cases = [(scale, *case) for scale in (1, 3, 4) for case in ((0, SOURCE, scale), (1, RASTER, 4 * scale))]
    for scale, pane, codes, tall in cases:
        page.evaluate(f"viewer.setView({{ centreX: 128, centreY: 96, scale: {scale} }})")
        whole = codes.repeat(tall, axis=0).repeat(scale, axis=1)
        shown = drawn(page, pane)
        height, width = shown.shape[:2]
        top, left = round(height / 2 + 1e-9) - 96 * scale, round(width / 2 + 1e-9) - 128 * scale
        down, across = slice(max(top, 0), top + len(whole)), slice(max(left, 0), left + whole.shape[1])
        inside = shown[down, across, :3]
        assert (inside == whole[max(-top, 0) :, max(-left, 0) :][: len(inside), : inside.shape[1]]).all()
        assert (shown[..., 3] == 255).sum() == inside.shape[0] * inside.shape[1]
        assert holds(np.where(shown[..., 3:], shown[..., :3], 200), photographed(page, pane))


def holds(canvas: NDArray, screen: NDArray) -> bool:
    """Whether a part of a canvas is on the screen dot for dot, at one of a few offsets."""
    part = canvas[8:-8, 8:-8]
    height, width = part.shape[:2]
    corners = [(line, sample) for line in range(3, 9) for sample in range(3, 9)]
    cuts = (screen[line : line + height, sample : sample + width] for line, sample in corners)
    return any(cut.shape == part.shape and (cut == part).all() for cut in cuts)


def test_status_says_what_the_scale_does(opened: Opener) -> None:
    page = opened()
    status = page.locator(".viewer-status")
    for scale, words in ((2, "every line"), (1.5, "differ by a dot"), (0.5, "left out here")):
        page.evaluate(f"viewer.setView({{ scale: {scale} }})")
        settle(page)
        assert words in status.inner_text()


# Links


def middle(page: Page, pane: int) -> tuple[float, float]:
    """Return the place, as shares of the picture, that a pane draws in its middle, read from its codes."""
    shown = drawn(page, pane)
    red, green, blue = (int(v) for v in shown[shown.shape[0] // 2, shown.shape[1] // 4, :3])
    return red / 256, green / {10: 192, 20: 48, 30: 48}[blue]


def test_wheel_in_one_pane_moves_all(opened: Opener) -> None:
    page = opened(start={"centreX": 128, "centreY": 96, "scale": 3})
    box = stage(page).bounding_box()
    page.evaluate("() => { window.seen = []; window.end = viewer.onChange((view) => seen.push(view)); }")
    stage(page).click()
    at = (box["x"] + 100, box["y"] + 60)
    page.mouse.move(*at)
    under = page.evaluate("(at) => viewer.panes[0].placeAt(at)", {"x": 100.5, "y": 60.5})
    page.mouse.wheel(0, -100)
    page.wait_for_function("seen.length === 1")
    assert view(page)["scale"] == 4
    after = page.evaluate("(at) => viewer.panes[0].placeAt(at)", {"x": 100.5, "y": 60.5})
    assert after == pytest.approx(under, abs=0.5)  # what is under the pointer stays
    for pane in (1, 2):
        assert middle(page, pane) == pytest.approx(middle(page, 0), abs=1 / 48)
    page.evaluate("end(); viewer.fit()")
    assert page.evaluate("seen.length") == 1


def test_the_page_keeps_the_wheel_until_a_picture_has_the_focus(opened: Opener) -> None:
    page = opened(more='<div style="height: 3000px"></div>', start=LEFT_UP)
    stage(page).hover()
    page.mouse.wheel(0, 100)
    page.wait_for_function("scrollY > 0")
    assert view(page)["scale"] == 4
    page.evaluate("scrollTo(0, 0)")
    settle(page)
    page.keyboard.down("Control")
    page.mouse.wheel(0, 100)
    page.keyboard.up("Control")
    page.wait_for_function("viewer.view.scale === 3")
    stage(page).click()
    page.mouse.wheel(0, 100)
    page.wait_for_function("viewer.view.scale === 2")
    assert page.evaluate("scrollY") == 0
    page.keyboard.press("Escape")
    page.mouse.wheel(0, 100)
    page.wait_for_function("scrollY > 0")


def test_drag_and_double_click(opened: Opener) -> None:
    page = opened(start={"centreX": 128, "centreY": 96, "scale": 4})
    box = stage(page).bounding_box()
    page.mouse.move(box["x"] + 200, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + 240, box["y"] + 180, steps=4)
    page.mouse.up()
    assert view(page) == {"centreX": 118, "centreY": 101, "scale": 4, "fitted": False}
    assert middle(page, 1) == pytest.approx(middle(page, 0), abs=1 / 48)
    stage(page).dblclick(position={"x": 200, "y": 200})
    assert view(page)["scale"] == 5
    stage(page).dblclick(position={"x": 200, "y": 200}, modifiers=["Shift"])
    assert view(page)["scale"] == 4


def test_two_fingers_zoom_about_their_middle(opened: Opener) -> None:
    page = opened({"has_touch": True}, start={"centreX": 128, "centreY": 96, "scale": 4})
    stage(page).tap()
    box = stage(page).bounding_box()
    touch = page.context.new_cdp_session(page)

    def fingers(kind: str, *across: float) -> None:
        points = [{"x": box["x"] + x, "y": box["y"] + 100, "id": number} for number, x in enumerate(across)]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    fingers("touchStart", 180)
    fingers("touchStart", 180, 220)
    under = page.evaluate("viewer.panes[0].placeAt({ x: 200, y: 100 })")
    fingers("touchMove", 160, 240)
    fingers("touchEnd")
    assert view(page)["scale"] == pytest.approx(8)
    assert page.evaluate("viewer.panes[0].placeAt({ x: 200, y: 100 })") == pytest.approx(under, abs=0.3)


# Keys


def test_keys_of_a_picture(opened: Opener) -> None:
    page = opened()
    fitted = view(page)
    stage(page).focus()
    page.evaluate("viewer.setView({ scale: 1 })")
    for key, scale in (("+", 2), ("+", 3), ("-", 2), ("x", 2), *[("+", scale) for scale in (3, 4, 5, 6, 8)]):
        page.keyboard.press(key)
        assert view(page)["scale"] == scale
    page.keyboard.press("ArrowRight")
    page.keyboard.press("ArrowDown")
    width, height = page.evaluate("[viewer.panes[0].canvas.width, viewer.panes[0].canvas.height]")
    assert view(page)["centreX"] == pytest.approx(128 + width / 64)
    assert view(page)["centreY"] == pytest.approx(96 + height / 64)
    page.keyboard.press("0")
    assert view(page) == fitted
    help_line = page.locator(".viewer-help").inner_text()
    for key in ("arrows", "+", "−", "0 whole picture", "1 to 9", "M magnifier", "Escape", "Ctrl + wheel"):
        assert key in help_line


def test_every_control_is_reached_and_worked_by_keyboard(opened: Opener) -> None:
    page = opened()
    focus = "document.activeElement"
    name = f"({focus}.getAttribute('aria-label') ?? {focus}.labels?.[0]?.innerText ?? '')"
    path = []
    for _ in range(18):
        page.keyboard.press("Tab")
        path.append(page.evaluate(f"{name}.split(/[:,\\n]/)[0] || document.activeElement.textContent"))
    tools = ["Side by side", "Wipe", "Flip", "Zoom out", "Zoom in", "Whole picture", "Exact"]
    first, second = ["Picture", "Move and zoom"], ["Picture", "Move and zoom", "Show the two fields in turn"]
    third = ["Left", "Right", "Move and zoom", "Divider"]
    assert path == [*tools, "Magnifier", "Slice", *first, *second, *third]
    outline = "getComputedStyle(document.activeElement).outlineStyle"
    for selector in (
        ".viewer-tools button",
        ".viewer-stage",
        ".viewer-pane:nth-child(2) .viewer-fields button",
        "select",
        "input",
    ):
        page.locator(f"{selector}:visible").first.focus()
        page.keyboard.press("Shift")
        assert page.evaluate(outline) == "solid", selector
    for label, test in (
        ("Zoom in", "viewer.view.scale > 1"),
        ("Whole picture", "viewer.view.fitted"),
        ("Magnifier", "viewer.look === 'magnifier'"),
    ):
        page.get_by_role("button", name=label, exact=True).focus()
        page.keyboard.press("Enter")
        assert page.evaluate(test), label


# Wipe


def test_wipe_by_slider_pointer_and_names(opened: Opener) -> None:
    """Left of the divider one picture, right of it the other: told apart by their blue codes."""
    page = opened(start=LEFT_UP)

    def blues(share: float) -> tuple[int, int]:
        shown = drawn(page, 2)
        height, width = shown.shape[:2]
        clear = shown[20 : height // 2 - 30, [int(share * width) - 8, int(share * width) + 8], 2]
        assert len(np.unique(clear[:, 0])) == len(np.unique(clear[:, 1])) == 1
        return int(clear[0, 0]), int(clear[0, 1])

    assert blues(0.5) == (10, 30)
    page.get_by_role("slider").focus()
    for _ in range(20):
        page.keyboard.press("ArrowLeft")
    assert blues(0.4) == (10, 30)
    box = stage(page, 2).bounding_box()
    y = box["y"] + box["height"] / 4
    page.mouse.move(box["x"] + 0.4 * box["width"] + 5, y)
    page.mouse.down()
    page.mouse.move(box["x"] + 0.75 * box["width"], y, steps=3)
    page.mouse.up()
    assert blues(0.75) == (10, 30)
    assert page.get_by_role("slider").evaluate("(range) => range.valueAsNumber") == pytest.approx(75, abs=0.5)
    assert view(page)["centreX"] == 64  # the picture did not move
    page.get_by_role("combobox", name="Left", exact=True).select_option("raster")
    page.wait_for_function("viewer.panes[2].ids[0] === 'raster'")
    assert blues(0.75) == (20, 30)


# Magnifier


def test_magnifier_gives_the_codes_under_the_pointer(opened: Opener) -> None:
    page = opened(start=LEFT_UP)
    page.get_by_role("button", name="Magnifier").click()
    width, height = page.evaluate("[viewer.panes[1].canvas.width, viewer.panes[1].canvas.height]")
    dot = (101, 77)
    stage(page, 1).hover(position={"x": dot[0], "y": dot[1]})
    settle(page)
    sample = (dot[0] - round(width / 2 - 64 * 4 + 1e-9)) // 4
    line = (dot[1] - round(height / 2 - 48 * 4 + 1e-9)) // 4
    said = page.locator(".viewer-values").all_inner_texts()
    expected = (
        ("", line, SOURCE),
        ("", line // 4, RASTER),
        ("Source\n", line, SOURCE),
        ("Other\n", line // 4, OTHER),
    )
    assert len(said) == len(expected)
    for text, (label, place, codes) in zip(said, expected, strict=True):
        red, green, blue = codes[place, sample]
        assert text.startswith(f"{label}line {place}, sample {sample}\nR {red} G {green} B {blue}\nlight ")
    page.get_by_role("button", name="Magnifier").click()
    settle(page)
    assert not page.locator(".viewer-magnifier").first.is_visible()


def test_magnifier_by_keyboard(opened: Opener) -> None:
    page = opened(start=LEFT_UP)
    stage(page, 1).focus()
    page.keyboard.press("m")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Shift+ArrowRight")
    settle(page)
    said = page.locator(".viewer-values").all_inner_texts()
    assert said[1].startswith(
        "line 13, sample 65\nR 65 G 13 B 20"
    )  # one line and one sample of *this* raster
    assert said[0].startswith("line 54, sample 65\nR 65 G 54 B 10")  # its middle, on the source's lines
    assert page.locator(".viewer-unseen[role=status]").inner_text().startswith("Raster, line 13, sample 65")
    for _ in range(40):
        page.keyboard.press("Shift+ArrowDown")
    settle(page)
    assert (
        page.locator(".viewer-values").nth(1).inner_text().startswith("line 47, sample 65\n")
    )  # the last line
    assert view(page)["centreY"] > 150  # and the view followed


def test_light_is_that_of_the_standards(opened: Opener) -> None:
    """BT.709-6 item 3.2: 0.2126, 0.7152, 0.0722. BT.1886 with black at 0: (128/255)**2.4 = 19.13 %."""
    patches = [[255, 255, 255], [255, 0, 0], [0, 255, 0], [0, 0, 255], [128, 128, 128], [0, 0, 0]]
    row = np.array([patches], dtype=np.uint8)
    page = opened(pictures=[{"id": "row", "source": data_uri(row)}], panes=[{"picture": "row"}])
    page.evaluate("viewer.lookBy('magnifier')")
    for sample, light in enumerate(("100.00", "21.26", "71.52", "7.22", "19.13", "0.00")):
        page.evaluate(f"viewer.setPlace({{ x: {sample + 0.5}, y: 0.5 }})")
        settle(page)
        assert page.locator(".viewer-values").inner_text().endswith(f"\nlight {light}\u00a0%")
    page.evaluate("viewer.setPlace({ x: 7, y: 0.5 })")
    settle(page)
    assert page.locator(".viewer-values").inner_text() == "outside the picture"


def test_magnifier_reads_a_difference_in_percent(opened: Opener) -> None:
    """The scale's own colours: blue is less, orange more, in 254 steps from -25 to +25 % of white."""
    numbers = np.array([[0, 40, 126, 127, 128, 200, 254]], dtype=np.uint8)
    codes = diverging.palette()[numbers]
    stops = [diverging.palette()[at].tolist() for at in (0, 127, 254)]
    scale = {"stops": stops, "limit": 25}
    layer = {"id": "map", "source": data_uri(codes), "light": False, "scale": scale}
    page = opened(pictures=[layer], panes=[{"picture": "map"}])
    page.evaluate("viewer.lookBy('magnifier')")
    for sample, number in enumerate(numbers[0].tolist()):
        page.evaluate(f"viewer.setPlace({{ x: {sample + 0.5}, y: 0.5 }})")
        settle(page)
        said = page.locator(".viewer-values").inner_text().partition("\n")[2]
        assert said.endswith("\u00a0% of white" + (" and beyond" if number in (0, 254) else ""))
        read = float(said.partition("\u00a0")[0].replace("−", "-"))
        assert read == pytest.approx(25 * (number - 127) / 127, abs=0.15), number
