"""Around the pictures, in a real browser: tuning, variants, jobs, arrivals, a server that goes away."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

import served
from lab.browsing import CHAIN, SLOW_MS, Served, dial, fragment, pane, ready
from page.browser import rest
from playwright.sync_api import Page, expect

Opener = Callable[..., Page]


def violations(page: Page) -> list[tuple[str, list[str]]]:
    """Return what axe-core finds on a page, and where."""
    module = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="needs axe-playwright-python"
    )
    found = module.Axe().run(page).response["violations"]
    return [(each["id"], [node["html"][:200] for node in each["nodes"]]) for each in found]


@pytest.mark.slow
def test_the_empty_state_teaches(lab: Served, open_lab: Opener, tmp_path: Path) -> None:
    running = Served(tmp_path)
    try:
        page = open_lab(running, messages=True)  # the browser reports the refused file
        expect(page.get_by_role("heading", name="Put a picture on the bench")).to_be_visible(timeout=SLOW_MS)
        expect(page.locator(".welcome-frames button")).to_have_count(7)
        expect(page.locator(".welcome-chains button")).to_have_count(3)
        expect(page.locator(".welcome-panes dd")).to_have_count(4)
        assert violations(page) == []
        (tmp_path / "no.png").write_text("no picture", encoding="utf-8")
        page.locator("input[type=file][multiple]").first.set_input_files(tmp_path / "no.png")
        expect(page.locator("[data-told]")).to_contain_text("no.png")
        page.locator(".welcome-chains button").nth(1).click()
        expect(page.locator(".viewer-canvas").first).to_be_visible(timeout=SLOW_MS)
        expect(page.locator("#chain-text")).to_have_value(re.compile("line-average"))
        page.close()
    finally:
        running.end()


def test_a_curve_is_run_and_clicked_and_keyed(lab: Served, open_lab: Opener) -> None:
    page = ready(open_lab(lab))
    page.get_by_label("to", exact=True).fill("2")
    page.get_by_label("from", exact=True).fill("-2")
    page.get_by_label("in steps of").fill("1/2")
    page.get_by_role("button", name="Try them all").click()
    plot = page.get_by_role("slider", name=re.compile("position.lines, along the curve"))
    expect(plot).to_be_visible(timeout=SLOW_MS)
    expect(page.locator(".curve-best")).to_have_count(1)
    place = plot.bounding_box()
    assert place is not None
    page.mouse.click(place["x"] + place["width"] - 19, place["y"] + 60)
    expect(dial(page, "Box 2: position")).to_have_value("2")
    plot.focus()
    page.keyboard.press("ArrowLeft")
    expect(plot).to_have_attribute("aria-valuenow", "1.5")
    expect(plot).to_be_focused()
    # the curve was measured with the fraction in the scaler's phase: so it is set
    expect(dial(page, "Box 2: position")).to_have_value("2")
    dial(page, "Box 2: position").fill("1.5")
    dial(page, "Box 2: position").press("Tab")
    expect(plot).to_have_attribute("aria-valuetext", "beside the curve")
    plot.focus()
    page.keyboard.press("Home")
    expect(plot).to_have_attribute("aria-valuenow", "-2")


def test_variants_are_pinned_compared_and_saved(lab: Served, open_lab: Opener, tmp_path: Path) -> None:
    page = ready(open_lab(lab))
    page.get_by_role("button", name="Pin this chain").click()
    page.get_by_label("Name of the variant").fill("first")
    page.keyboard.press("Tab")
    dial(page, "Box 1: line-average").fill("120")
    expect(page.locator(".gauges .arrow.good, .gauges .arrow.bad").first).to_be_visible(timeout=SLOW_MS)
    expect(page.locator("[data-against]").first).to_have_text("pinned: first")
    page.get_by_role("button", name="Pin this chain").click()
    expect(page.locator(".pins li")).to_have_count(2)
    with page.expect_download() as download:
        page.get_by_role("button", name="Save lab").click()
    download.value.save_as(tmp_path / "lab.toml")
    page.get_by_role("button", name="Remove: first").click()
    expect(page.locator(".pins li")).to_have_count(1)
    page.locator("[data-lab-file]").set_input_files(tmp_path / "lab.toml")
    expect(page.locator(".pins li")).to_have_count(2)
    expect(page.get_by_label("Name of the variant").first).to_have_value("first")
    page.get_by_role("button", name="On the bench: first").click()
    expect(page.locator("#chain-text")).to_have_value(f"first: {CHAIN}")


def test_an_export_is_the_command_lines(
    lab: Served, lab_folder: Path, open_lab: Opener, tmp_path: Path
) -> None:
    page = ready(open_lab(lab))
    page.get_by_role("button", name="Export this chain").click()
    expect(page.locator(".variants .result")).to_be_visible(timeout=SLOW_MS)
    page.locator(".variants .result summary").first.click()
    place = page.locator(".variants .result .files a", has_text=re.compile("^raster$")).get_attribute("href")
    assert place is not None
    exported = page.request.get(lab.address.rstrip("/") + place).body()
    command = [sys.executable, "-m", "scalesim", "predict", "noise.png", "--chain", CHAIN]
    root = str(Path(__file__).parents[2])
    out = tmp_path / "out"
    subprocess.run(
        [*command, "--out", str(out)],
        cwd=lab_folder,
        env={**__import__("os").environ, "PYTHONPATH": root},
        check=True,
        capture_output=True,
    )
    assert exported == (out / "raster.png").read_bytes()


def test_a_form_of_any_job(lab: Served, open_lab: Opener) -> None:
    """The tab of a job is made of its description: inputs, keys, and its answer."""
    page = ready(open_lab(lab))
    page.get_by_role("tab", name="Fields").click()
    panel = page.get_by_role("tabpanel", name="Fields")
    expect(panel.get_by_role("heading")).to_contain_text("true interlace")
    panel.get_by_role("button", name="Run").click()
    expect(panel.locator("[role=status]").last).to_contain_text("captures is missing")
    page.get_by_role("tab", name="Position").click()
    page.keyboard.press("ArrowLeft")
    expect(page.get_by_role("tab", name="Press")).to_be_focused()


def test_a_job_with_a_file_shows_its_answer(lab: Served, open_lab: Opener, tmp_path: Path) -> None:
    """Of a job that nobody wrote a line for here: its file, its figures and its tables in the tab."""
    page = ready(open_lab(lab))
    rows = "\n".join(f"{at / 2},{5 + 0.01 * at}" for at in range(240))
    (tmp_path / "log.csv").write_text(f"time_s,lag_ms\n{rows}\n", encoding="utf-8")
    page.get_by_role("tab", name="Lag").click()
    panel = page.get_by_role("tabpanel", name="Lag")
    panel.get_by_label("Logs").set_input_files(tmp_path / "log.csv")
    panel.get_by_role("button", name="Run").click()  # it waits until the file has arrived
    expect(panel.locator(".result h3")).to_contain_text("20 µs/s", timeout=SLOW_MS)
    image = panel.locator(".result img").first
    image.scroll_into_view_if_needed()
    expect(image).to_have_js_property("complete", True)
    assert image.evaluate("(image) => image.naturalWidth") > 400
    expect(panel.locator(".result table").first).to_contain_text("log.csv")
    assert violations(page) == []


def test_an_arrival_is_shown(open_lab: Opener, lab_folder: Path, tmp_path: Path) -> None:
    watched = tmp_path / "captures"
    watched.mkdir()
    shutil.copy(lab_folder / "noise.png", tmp_path / "noise.png")
    running = Served(tmp_path, "noise.png", "--chain", CHAIN, "--watch", "captures")
    try:
        page = ready(open_lab(running, viewport={"width": 1280, "height": 720}))
        expect(page.get_by_text("Waiting for a picture in captures")).to_be_visible()
        served.picture_file(watched, "now.png", 120, 160)
        expect(pane(page, "Capture")).to_be_visible(timeout=SLOW_MS)
        expect(page.locator(".bench-loop [role=status]")).to_contain_text("now.png", timeout=SLOW_MS)
        page.close()
    finally:
        running.end()


@pytest.mark.slow
def test_a_server_that_went_away_and_came_back(open_lab: Opener, lab_folder: Path, tmp_path: Path) -> None:
    """The page says so, keeps all it has and goes on by itself; a file it was given it gives again."""
    shutil.copy(lab_folder / "noise.png", tmp_path / "noise.png")
    running = Served(tmp_path, "--chain", CHAIN)
    page = open_lab(running, messages=True)
    expect(page.locator(".welcome-frames button").first).to_be_visible(timeout=SLOW_MS)
    page.locator("input[type=file][multiple]").first.set_input_files(tmp_path / "noise.png")
    ready(page)
    running.end()
    number = dial(page, "Box 2: position")
    number.fill("2")
    expect(page.get_by_text("The lab's server does not answer")).to_be_visible(timeout=SLOW_MS)
    expect(pane(page, "Raster")).to_be_visible()
    again = Served(tmp_path, "--chain", CHAIN, "--port", running.port)
    try:
        expect(page.get_by_text("The lab's server does not answer")).to_be_hidden(timeout=SLOW_MS)
        expect(number).to_have_value("2")
        expect(page.locator(".numbers.late")).to_have_count(0, timeout=SLOW_MS)
        number.fill("3")
        expect(page.locator(".numbers.late")).to_have_count(0, timeout=SLOW_MS)
        expect(page.locator(".refused")).to_be_hidden()
    finally:
        again.end()


@pytest.mark.slow
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_nothing_for_axe_core_to_find(lab: Served, open_lab: Opener, scheme: str) -> None:
    """On the bench with a variant and a curve, and on the other tabs; the page never scrolls sideways."""
    page = ready(open_lab(lab, fragment(), color_scheme=scheme, viewport={"width": 1280, "height": 720}))
    page.get_by_role("button", name="Pin this chain").click()
    page.get_by_label("in steps of").fill("2")
    page.get_by_role("button", name="Try them all").click()
    expect(page.locator(".curve-plot")).to_be_visible(timeout=SLOW_MS)
    for summary in page.locator("summary:visible").all():
        summary.click()
    page.locator("details:not([open]) > summary:visible").first.click()
    for width in (390, 1280) if scheme == "light" else (390, 1280, 2560):
        page.set_viewport_size({"width": width, "height": 800})
        rest(page, 300)
        assert violations(page) == [], width
        assert page.evaluate("document.documentElement.scrollWidth") <= width, "the page scrolls sideways"
    for tab in page.get_by_role("tab").all()[1:]:
        tab.click()
        assert violations(page) == []
