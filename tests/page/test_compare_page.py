"""The comparison's files: one page that stands alone, stills, rows and Markdown."""

from __future__ import annotations

import csv
import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PIL import Image

from scalesim.core.clip import Clip, still_clip
from scalesim.errors import ParameterError
from scalesim.jobs.compare.compare import Comparison, compare
from scalesim.jobs.frames import FrameSource
from scalesim.page.compare import inlined_viewer, write_comparison
from scalesim.page.compare_look import busiest_crop, places_on
from scalesim.page.picture_store import PictureStore, png

if TYPE_CHECKING:
    from playwright.sync_api import Page

Opener = Callable[..., "Page"]

CHAINS = {
    "drop": "line-drop lines=120 phase=1",
    "soft <b>&amp;": "line-average lines=120",
    "fields": "interlace",
}
BY = ("edge_spread_lines", "flicker_percent")


def clip(seed: int = 0, lines: int = 240, samples: int = 320) -> Clip:
    """Blocks of colour with a few thin lines."""
    codes = np.random.RandomState(seed).randint(40, 216, (lines // 12 + 1, samples // 16 + 1, 3))
    frame = np.kron(codes, np.ones((12, 16, 1)))[:lines, :samples] / 255
    frame[lines // 2 : lines // 2 + 2] = 0
    return still_clip(frame.astype(np.float32), mode="custom", name=f"frame {seed}.png")


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    """Two frames through three chains, and one frame that cannot be read."""

    def broken() -> Clip:
        raise ParameterError("no such mode <i>")

    frames = [clip(0), clip(1), FrameSource("broken.png", broken, {"box": "grey & old"})]
    return compare(CHAINS, frames, by=BY)


@pytest.fixture(scope="module")
def folder(comparison: Comparison, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The written comparison."""
    out = tmp_path_factory.mktemp("comparison")
    files = write_comparison(comparison, out)
    assert all((out / name).is_file() for name in files.values())
    assert {"csv", "json", "page", "markdown", "still-1080", "still-2160"} <= set(files)
    return out


def test_rows(folder: Path, comparison: Comparison) -> None:
    """CSV and JSON hold every row; what cannot be had is empty, or null, with its reason."""
    with (folder / "rows.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["chain"] for row in rows] == [row.chain for row in comparison.rows]
    document = json.loads((folder / "rows.json").read_text("utf-8"))
    assert [row["chain"] for row in document["rows"]] == [row.chain for row in comparison.rows]
    missing = [(row, key) for row in document["rows"] for key in row["why"]]
    assert missing
    for row, key in missing:
        assert row[key] is None
    for flat, row in zip(rows, document["rows"], strict=True):
        assert all(flat[key] == "" and key in flat["why"] for key in row["why"])


def test_stills_are_safe(folder: Path) -> None:
    """Two sizes, and nothing but the ground outside the middle 90 % (SMPTE ST 2046-1:2009, safe title)."""
    for height, width in ((1080, 1920), (2160, 3840)):
        still = np.asarray(Image.open(folder / "figures" / f"still-{height}.png"))
        assert still.shape == (height, width, 3)
        outside = np.ones((height, width), bool)
        outside[height // 20 : height - height // 20, width // 20 : width - width // 20] = False
        assert (still[outside] == still[0, 0]).all()
        assert (still[~outside] != still[0, 0]).any()


def test_everything_is_escaped(folder: Path) -> None:
    """Names are text, in the page and in Markdown; a reason too."""
    page = (folder / "index.html").read_text("utf-8")
    assert "soft &lt;b&gt;&amp;amp;" in page
    assert "<b>&amp;" not in page
    assert "no such mode &lt;i&gt;" in page
    assert "http" not in page.replace("http://www.w3.org/", "")
    markdown = (folder / "comparison.md").read_text("utf-8")
    assert r"soft \<b\>\&amp;" in markdown
    assert "figures/still-1080.png" in markdown


def test_the_same_again(folder: Path, comparison: Comparison, tmp_path: Path) -> None:
    """Written twice, byte for byte the same: no dates, no random ids."""
    write_comparison(comparison, tmp_path)
    for name in ("index.html", "comparison.md", "rows.csv", "rows.json", "figures/still-1080.png"):
        assert (tmp_path / name).read_bytes() == (folder / name).read_bytes(), name


def test_crop(comparison: Comparison, tmp_path: Path) -> None:
    """A crop is taken as given; one that leaves the frame is refused with the limit."""
    write_comparison(comparison, tmp_path, crop=(100, 40, 60, 80))
    page = (tmp_path / "index.html").read_text("utf-8")
    assert "lines 100 to 160, samples 40 to 120" in page
    other = tmp_path / "other"
    other.mkdir()
    with pytest.raises(ParameterError, match="crop"):
        write_comparison(comparison, other, crop=(200, 0, 60, 80))


def test_the_busiest_window_is_found() -> None:
    """Where one light square differs, there the window goes; elsewhere it would show nothing."""
    down, along = places_on(720, 1280)
    a = np.zeros((len(down), len(along)))
    b = ((down >= 480) & (down < 560)).astype(float)[:, None] * ((along >= 1000) & (along < 1120))
    (top, left, height, width), _ = busiest_crop([a, b], 720, 1280)
    assert top <= 480
    assert top + height >= 560
    assert left <= 1000
    assert left + width >= 1120


def test_heavy_pictures_go_beside_the_page(tmp_path: Path) -> None:
    """Beyond the limit they are files with scripts for the viewer; below it they are inside and gone."""
    for limit, inline in ((10, False), (10**9, True)):
        place = tmp_path / str(limit)
        place.mkdir()
        store = PictureStore(place, limit)
        name = store.add("a", png(np.zeros((8, 8, 3), np.uint8)))
        image, source = store.image(name), store.source(name)
        store.close()
        assert store.inline is inline
        assert image.startswith("data:image/png") is inline
        assert isinstance(source, str) is inline
        assert (place / "pictures" / "a.png").exists() is not inline
        assert (place / "pictures" / "a.js").exists() is not inline


def test_no_frame_at_all(tmp_path: Path) -> None:
    """Nothing could be read: the page says so and nothing fails."""

    def broken() -> Clip:
        raise ParameterError("gone")

    write_comparison(compare(CHAINS, [FrameSource("x.png", broken)], by=BY), tmp_path)
    assert "gone" in (tmp_path / "index.html").read_text("utf-8")


def test_the_viewer_is_inlined_whole() -> None:
    """No import or export is left, and the maker is there."""
    script = inlined_viewer()
    assert "function createViewer" in script
    assert not any(line.startswith(("import ", "export ")) for line in script.splitlines())


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [320, 1280, 2560])
def test_in_a_browser(folder: Path, open_page: Opener, scheme: str, width: int) -> None:
    """Opens from disk without a request or a message, in under 2 s, with nothing for axe-core to find."""
    module = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="needs axe-playwright-python"
    )
    begin = time.perf_counter()
    page = open_page(folder / "index.html", color_scheme=scheme, viewport={"width": width, "height": 720})
    assert time.perf_counter() - begin < 2
    page.wait_for_selector(".viewer canvas")
    found = module.Axe().run(page).response["violations"]
    assert [(each["id"], [node["html"][:120] for node in each["nodes"]]) for each in found] == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "the page scrolls sideways"


def test_keyboard_path(folder: Path, open_page: Opener) -> None:
    """By keys alone: open the second frame's pictures, zoom with 3, copy a chain."""
    page = open_page(folder / "index.html", viewport={"width": 1280, "height": 720})
    page.wait_for_selector(".viewer canvas")
    assert page.locator(".viewer").count() == 1
    page.locator("[data-viewer] > button").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.querySelectorAll('.viewer').length === 2")
    page.locator("[data-copy]").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_function("/Copied|Ctrl/.test(document.querySelector('[data-copy]').textContent)")
    assert page.evaluate("getSelection().toString()") == CHAINS["drop"]


def test_pictures_are_exact(folder: Path, open_page: Opener) -> None:
    """A close look is shown at a whole number of dots to each of its lines and samples."""
    page = open_page(folder / "index.html", viewport={"width": 1280, "height": 900})
    for image in page.locator(".tiles img").all():
        image.scroll_into_view_if_needed()
        page.evaluate("image => image.decode()", image.element_handle())
        shown = "image => [image.width, image.naturalWidth, image.height, image.naturalHeight]"
        width, samples, height, lines = page.evaluate(shown, image.element_handle())
        assert width % samples == 0
        assert height % lines == 0
