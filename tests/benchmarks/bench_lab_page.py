"""From a dial to new dots on the screen, in a browser. Run: pytest -s tests/benchmarks/bench_lab_page.py

A 720p frame, and one of 3840 samples on 2160 lines, through three stages, glass at its default size, every
turn once the last is painted. What is timed begins with the press of a dial's button and ends on the first
frame of the screen whose canvas holds other dots; looking at them costs a few ms more. Times are of the whole
machine, busy or not: only that the page works is asserted, and the figures are for reading: beside a
prediction's own time in the same run, and the times aimed at on two idle cores.
"""

from __future__ import annotations

import re
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api", reason="needs Playwright for Python: pip install playwright")

import numpy as np
from lab.browsing import Served, chromium, fragment, open_lab, ready
from PIL import Image
from playwright.sync_api import Browser, Page, expect
from timing import best_ms, report

import scalesim as ss
from scalesim.core.codes import to_codes

Row = tuple[str, float, float, str]

__all__ = ["chromium", "open_lab"]

CHAIN = "line-average lines=480, position lines=0, line-drop lines=240"
FLAT = 1.1
TURNS = 40
TURN = """async (turns) => {
  const canvasOf = (name) => document.querySelector(`.viewer-pane[aria-label=${name}] canvas.viewer-canvas`);
  const eyes = ["Raster", "Glass"].map((name) => {
    const canvas = canvasOf(name);
    const context = canvas.getContext("2d");
    return () => {
      const { data } = context.getImageData(0, canvas.height >> 1, canvas.width, 24);
      let sum = 0;
      for (let at = 0; at < data.length; at += 12) sum = (sum * 31 + data[at]) | 0;
      return sum;
    };
  });
  const box = [...document.querySelectorAll(".box")].find((each) => each.ariaLabel.includes("position"));
  const [down, up] = box.querySelectorAll(".dial-step");
  const found = [[], []];
  for (let turn = 0; turn < turns; turn += 1) {
    const before = eyes.map((look) => look());
    const begin = performance.now();
    (turn % 16 < 8 ? up : down).click();
    const late = eyes.map(() => null);
    while (late.includes(null) && performance.now() - begin < 5000) {
      await new Promise(requestAnimationFrame);
      eyes.forEach((look, at) => {
        if (late[at] === null && look() !== before[at]) late[at] = performance.now() - begin;
      });
    }
    late.forEach((each, at) => each !== null && found[at].push(each));
  }
  return found; }"""


MEMORY = """async (turns) => {
  const box = [...document.querySelectorAll(".box")].find((each) => each.ariaLabel.includes("position"));
  const [down, up] = box.querySelectorAll(".dial-step");
  for (let turn = 0; turn < turns; turn += 1) {
    (turn % 16 < 8 ? up : down).click();
    await new Promise((done) => setTimeout(done, 60));
  } }"""


def turns_of(page: Page, name: str, aims: tuple[int, int], whole: float) -> list[Row]:
    """Turn a dial; return the rows of a report."""
    found = page.evaluate(TURN, TURNS)
    rows: list[Row] = []
    for pane, times, aim in zip(("raster", "glass"), found, aims, strict=True):
        assert len(times) > TURNS / 2, f"{name}: {pane} stays as it was"
        what, late = f"{name}, {pane}", sorted(times)[int(0.95 * len(times))]
        rows.append(
            (f"{what}: median of {len(times)} turns, ms", statistics.median(times), whole, f"{aim} ms")
        )
        rows.append((f"{what}: 95 % within, ms", late, whole, f"{2 * aim} ms"))
    return rows


def settled_mb(page: Page, process: int) -> float:
    """Return the least resident memory over six seconds: what is at work for a moment is no growth."""
    found = []
    for _ in range(12):
        page.wait_for_timeout(500)
        found.append(resident_mb(process))
    return min(found)


def resident_mb(process: int) -> float:
    """Return the resident memory of a process, from /proc."""
    status = Path(f"/proc/{process}/status").read_text(encoding="ascii")
    return int(re.search(r"VmRSS:\s+(\d+)", status)[1]) / 1024  # type: ignore[index]  # Linux has it


def test_from_a_dial_to_dots(
    chromium: Callable[[float], Browser], open_lab: Callable[..., Page], tmp_path: Path
) -> None:
    chromium(1).new_context().close()  # the browser's own start, which may take seconds, is not the lab's
    begin = time.perf_counter()
    running = Served(tmp_path)
    try:
        page = open_lab(running)
        page.wait_for_selector(".welcome-frames button")
        first = time.perf_counter() - begin
        page.goto("about:blank")
        page.goto(running.address + fragment(CHAIN, frame="kettle_crew", show="raster,glass"))
        ready(page)
        frame = ss.read(Path(__file__).parents[2] / "inputs" / "frames" / "kettle_crew.png")
        whole = best_ms(lambda: ss.predict(frame, CHAIN, metrics=[]).landed)
        rows = turns_of(page, "720p", (60, 120), whole)
        codes = np.tile(to_codes(frame.frame), (3, 3, 1))
        Image.fromarray(codes).save(tmp_path / "large.png", compress_level=1)
        page.locator("[data-path=source] .file input").set_input_files(tmp_path / "large.png")
        expect(page.locator("#frame option:checked")).to_contain_text("3840", timeout=60_000)
        ready(page)
        page.wait_for_timeout(3000)
        large = ss.read(tmp_path / "large.png")
        rows += turns_of(
            page, "2160 lines", (200, 200), best_ms(lambda: ss.predict(large, CHAIN, metrics=[]).landed, 3)
        )
        page.close()
    finally:
        running.end()
    rows.append(("first usable page, ms after the command", 1e3 * first, whole, "1500 ms"))
    report("lab_page", rows)


def test_memory_over_a_thousand_turns(open_lab: Callable[..., Page], tmp_path: Path) -> None:
    """Resident memory of the server after 600 turns, 1000 more, and 1000 more if those added something: flat.

    What its threads' allocators keep settles at one height or another, late in some runs; what leaks adds the
    same with every thousand.
    """
    running = Served(tmp_path)
    try:
        page = ready(open_lab(running, fragment(CHAIN, frame="kettle_crew", show="raster,glass")))
        page.evaluate(MEMORY, 600)
        ready(page)
        sizes = [settled_mb(page, running.process.pid)]
        while len(sizes) < 2 or (len(sizes) < 3 and sizes[-1] >= FLAT * sizes[-2]):
            page.evaluate(MEMORY, 1000)
            sizes.append(settled_mb(page, running.process.pid))
        page.close()
    finally:
        running.end()
    told = [
        (
            f"server, MB after {600 + 1000 * k} turns (reference: a thousand before)",
            size,
            sizes[k - 1],
            f"{FLAT}",
        )
        for k, size in enumerate(sizes)
        if k
    ]
    report("lab_memory", told)
    assert sizes[-1] < FLAT * sizes[-2]
