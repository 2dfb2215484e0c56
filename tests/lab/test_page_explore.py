"""The page of the lab in a real browser: from a dial to the picture that `predict` gives."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from few import few

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

import served
from lab.browsing import CHAIN, SLOW_MS, Served, box, colours, colours_of, dial, fragment, pane, ready
from page.browser import rest
from playwright.sync_api import Page, expect

import scalesim as ss

Opener = Callable[..., Page]

GAUGES = {
    "detail_kept": 100,
    "false_detail": 100,
    "line_doubling": 100,
    "lost_lines": 100,
    "flicker_percent": 1,
    "cropped_percent": 1,
}
"""The numbers that are always seen, and from a value to percent."""
PICTURE_HASH = """(canvas) => {
  const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
  let sum = 0;
  for (let at = 0; at < data.length; at += 4)
    sum = (sum * 31 + data[at] + data[at + 1] * 7 + data[at + 3]) | 0;
  return sum; }"""


def shows(page: Page, name: str, expected: set[tuple[int, ...]]) -> None:
    """Wait until a pane shows colours of a picture alone."""
    for _ in range(600):
        seen = colours(page, name)
        if seen and seen <= expected:
            return
        rest(page, 100)
    assert seen and seen <= expected


def changes(page: Page, name: str, before: int) -> None:
    """Wait until a pane shows another picture."""
    for _ in range(600):
        if pane(page, name).evaluate(PICTURE_HASH) != before:
            return
        rest(page, 100)
    raise AssertionError(f"{name} stays as it was")


def text(page: Page) -> str:
    return page.locator("#chain-text").input_value()


def predicted(folder: Path, chain: str) -> set[tuple[int, ...]]:
    return colours_of(ss.predict(ss.read(folder / "noise.png"), chain, metrics=[]).landed)


def test_opens_with_what_the_command_line_named(lab: Served, lab_folder: Path, open_lab: Opener) -> None:
    page = ready(open_lab(lab))
    assert text(page) == CHAIN
    expect(page.locator("#frame option:checked")).to_have_text("noise.png (160 × 120)")
    expect(page.locator(".cable").first).to_contain_text("120 lines, 160 samples")
    shows(page, "Raster", predicted(lab_folder, CHAIN))
    # the numbers on the page are the prediction's
    metrics = ss.predict(ss.read(lab_folder / "noise.png"), CHAIN).metrics
    for at, (key, times) in enumerate(GAUGES.items()):
        value = metrics[key]
        told = "–" if value is None else f"{times * value:.1f} %"
        expect(page.locator(".gauges .value").nth(at)).to_have_text(told)
    assert sum(metrics[key] is not None for key in GAUGES) >= 3


def test_a_dial_by_keyboard_and_mouse(lab: Served, lab_folder: Path, open_lab: Opener) -> None:
    page = ready(open_lab(lab))
    number = dial(page, "Box 2: position")
    number.focus()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("PageUp")
    expect(number).to_have_value("2.375")  # 11 steps of 1/8
    turned = CHAIN.replace("lines=1,", "lines=2.375,")
    assert predicted(lab_folder, turned) != predicted(lab_folder, CHAIN)
    shows(page, "Raster", predicted(lab_folder, turned))
    slider = box(page, "Box 2: position").locator("input[type=range]").first
    place = slider.bounding_box()
    assert place is not None
    page.mouse.click(place["x"] + place["width"] - 2, place["y"] + place["height"] / 2)
    expect(number).to_have_value("8")
    shows(page, "Raster", predicted(lab_folder, CHAIN.replace("lines=1,", "lines=8,")))
    box(page, "Box 2: position").get_by_role("button", name="lines: one step down").click()
    expect(number).to_have_value("7.875")
    number.fill("1/3")
    shows(page, "Raster", predicted(lab_folder, CHAIN.replace("lines=1,", "lines=1/3,")))


def test_undo_and_redo(lab: Served, open_lab: Opener) -> None:
    page = ready(open_lab(lab))
    number = dial(page, "Box 2: position")
    number.focus()
    page.keyboard.press("PageUp")
    page.get_by_label("line-average is in the path").click()
    expect(page.locator("#chain-text")).to_have_value("position lines=2.25, line-drop lines=40")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#chain-text")).to_have_value(CHAIN.replace("lines=1,", "lines=2.25,"))
    page.keyboard.press("Control+z")
    expect(number).to_have_value("1")
    page.keyboard.press("Control+Shift+z")
    expect(number).to_have_value("2.25")


def test_boxes_are_moved_added_and_removed(lab: Served, open_lab: Opener) -> None:
    # tall enough for all boxes: near an edge the list would roll on for as long as the drag takes
    page = ready(open_lab(lab, viewport={"width": 1280, "height": 1500}))
    box(page, "Box 2: position").locator(".box-handle").focus()
    page.keyboard.press("ArrowUp")
    expect(page.locator("#chain-text")).to_have_value(
        "position lines=1, line-average lines=80, line-drop lines=40"
    )
    # by mouse, back to where it was
    handle = box(page, "Box 1: position").locator(".box-handle")
    other = box(page, "Box 2: line-average").bounding_box()
    assert other is not None
    handle.hover()
    page.mouse.down()
    page.mouse.move(other["x"] + 20, other["y"] + other["height"] - 4, steps=4)
    page.mouse.up()
    expect(page.locator("#chain-text")).to_have_value(CHAIN)
    page.get_by_label("Kind of box to add").select_option("quantise")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.locator("#chain-text")).to_have_value(CHAIN + ", quantise")
    page.get_by_role("button", name="Remove quantise").click()
    expect(page.locator("#chain-text")).to_have_value(CHAIN)


def test_what_is_wrong_in_the_text_is_shown_at_its_place(lab: Served, open_lab: Opener) -> None:
    page = ready(open_lab(lab))
    area = page.locator("#chain-text")
    area.fill(CHAIN.replace("position lines", "position lynes"))
    expect(page.locator("#chain-error")).to_contain_text("did you mean 'lines'")
    expect(page.locator(".marked mark")).to_have_text("position lynes=1")
    area.fill(CHAIN.replace("lines=1,", "lines=2,"))
    expect(page.locator("#chain-error")).to_be_hidden()
    expect(dial(page, "Box 2: position")).to_have_value("2")


def test_panes_are_linked_wiped_and_flipped(lab: Served, open_lab: Opener) -> None:
    page = ready(open_lab(lab, viewport={"width": 1400, "height": 900}))
    names = ["Source", "Raster", "Glass"]
    before = {name: pane(page, name).evaluate(PICTURE_HASH) for name in names}
    pane(page, "Raster").click()
    page.keyboard.press("+")
    for name in names:
        changes(page, name, before[name])
    page.get_by_role("button", name="Wipe", exact=True).click()
    expect(page.get_by_role("slider", name="Divider")).to_be_visible()
    expect(page.locator(".viewer-canvas")).to_have_count(1)
    page.get_by_role("button", name="4 panes").click()
    expect(page.locator(".viewer-canvas")).to_have_count(4)
    expect(page.locator(".viewer-pane[aria-label=Difference]")).to_be_visible()


def test_reload_loses_nothing(lab: Served, open_lab: Opener) -> None:
    page = ready(open_lab(lab))
    dial(page, "Box 2: position").fill("1.5")
    page.get_by_label("line-drop is in the path").click()
    page.get_by_role("button", name="Pin this chain").click()
    page.get_by_label("Name of the variant").fill("a name")
    page.get_by_role("button", name="2 panes").click()
    rest(page, 700)
    page.reload()
    ready(page)
    assert text(page) == "line-average lines=80, position lines=1.5"
    expect(box(page, "Box 3: line-drop, switched off")).to_be_visible()
    expect(page.get_by_label("Name of the variant")).to_have_value("a name")
    expect(page.locator(".viewer-canvas")).to_have_count(2)


@pytest.mark.parametrize("display", few([1.25, 1, 2], 1))
def test_every_colour_on_screen_is_the_pictures(
    lab: Served, lab_folder: Path, open_lab: Opener, display: float
) -> None:
    page = ready(open_lab(lab, fragment(show="source,raster"), display=display))
    shows(page, "Raster", predicted(lab_folder, CHAIN))
    shows(page, "Source", colours_of(ss.read(lab_folder / "noise.png").frame))


@pytest.mark.slow
def test_no_blank_frame_in_100_moves(lab: Served, open_lab: Opener) -> None:
    """What a pane shows is looked at on every frame of the screen while a dial turns."""
    page = ready(open_lab(lab))
    blank, looks, shown = page.evaluate(
        """async () => {
        const canvas = document.querySelector(".viewer-pane[aria-label=Raster] canvas.viewer-canvas");
        const context = canvas.getContext("2d", { willReadFrequently: true });
        const middle = () => context.getImageData(canvas.width >> 2, canvas.height >> 2, 96, 96).data;
        const boxes = [...document.querySelectorAll(".box")];
        const box = boxes.find((each) => each.ariaLabel.includes("position"));
        const [down, up] = box.querySelectorAll(".dial-step");
        let [blank, looks, going] = [0, 0, true];
        const shown = new Set();
        const look = () => {
            const dots = middle();
            looks += 1;
            if (dots.some((value, at) => at % 4 === 3 && value === 0)) blank += 1;
            shown.add(dots.reduce((sum, value) => (sum * 31 + value) | 0, 0));
            if (going) requestAnimationFrame(look);
        };
        look();
        for (let move = 0; move < 100; move += 1) {
            (move % 20 < 10 ? up : down).click();
            await new Promise((done) => setTimeout(done, 30));
        }
        going = false;
        return [blank, looks, shown.size]; }"""
    )
    assert blank == 0 and looks >= 50 and shown > 5


def test_no_boxes_is_said(lab: Served, open_lab: Opener) -> None:
    page = ready(open_lab(lab, fragment("line-drop lines=40", frame="")))
    page.get_by_role("button", name="Remove line-drop").click()
    expect(page.locator(".path-empty")).to_be_visible(timeout=SLOW_MS)


def test_the_slice_tells_the_weights(lab: Served, open_lab: Opener) -> None:
    """Averaging 120 lines down to 80 takes 2/3 of one line and 1/3 of the next, by hand."""
    page = ready(open_lab(lab, fragment("line-average lines=80", show="source,raster")))
    page.get_by_role("button", name="Slice").click()
    raster = page.locator(".viewer-pane[aria-label=Raster]")
    expect(raster.locator(".viewer-slice-words")).to_contain_text("from 2 source lines", timeout=SLOW_MS)
    assert sorted(raster.locator(".viewer-slice-weight").all_text_contents()) == [
        "33\N{NO-BREAK SPACE}%",
        "67\N{NO-BREAK SPACE}%",
    ]
    dial(page, "Box 1: line-average").fill("40")
    expect(raster.locator(".viewer-slice-words")).to_contain_text("from 3 source lines", timeout=SLOW_MS)


@pytest.mark.slow
def test_a_frame_is_read_in_another_mode(lab: Served, open_lab: Opener, tmp_path: Path) -> None:
    page = ready(open_lab(lab))
    page.locator("[data-path=source] .file input").set_input_files(
        served.picture_file(tmp_path, "woven.png", 480, 720)
    )
    expect(page.locator("#frame option:checked")).to_contain_text("woven.png")
    page.get_by_label("Read as").select_option("480i60")
    expect(page.locator("[data-facts]")).to_contain_text("480i60: 480 lines", timeout=SLOW_MS)
    rest(page, 700)
    page.reload()
    ready(page)
    expect(page.get_by_label("Read as")).to_have_value("480i60")


@pytest.mark.slow
def test_a_display_of_a_file(lab: Served, open_lab: Opener, tmp_path: Path) -> None:
    """It changes the glass, its quantities turn, and a reload keeps it."""
    own = 'name = "my own set"\ndiagonal_mm = 500\naspect = "4:3"\ntv_lines = 300\nbeam_width = 0.9\n'
    (tmp_path / "own.toml").write_text(own, encoding="utf-8")
    (tmp_path / "bad.toml").write_text("tv_lines = 3", encoding="utf-8")
    page = ready(open_lab(lab, messages=True))
    page.get_by_text("Its quantities").click()
    before = pane(page, "Glass").evaluate(PICTURE_HASH)
    file = page.locator("[data-path=display] input[type=file]")
    file.set_input_files(tmp_path / "bad.toml")
    expect(page.locator("[data-path=display] [data-error]")).to_contain_text("bad.toml: display:")
    file.set_input_files(tmp_path / "own.toml")
    changes(page, "Glass", before)
    expect(page.locator("#display option:checked")).to_have_text("my own set")
    rest(page, 700)
    page.reload()
    ready(page)
    expect(page.locator("#display option:checked")).to_have_text("my own set")
