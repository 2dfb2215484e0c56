"""A page with a viewer on it, of small pictures whose codes say where they are; and ways to look at it."""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Callable
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from scalesim.page.viewer import inlined_viewer

if TYPE_CHECKING:
    from playwright.sync_api import Page


Opener = Callable[..., "Page"]

STATIC = resources.files("scalesim.page") / "static"
PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Viewer</title><style>:root { color-scheme: light dark; } body { margin: 16px; background: #fbfaf7; }
@media (prefers-color-scheme: dark) { body { background: #15171a; } }
%s</style></head><body><main><h1>Viewer</h1><div id="host"></div><div id="other"></div>%s</main>
<script type="module">%s
window.createViewer = createViewer;
window.options = %s;
window.viewer = createViewer(document.getElementById("host"), options);
</script></body></html>"""


def data_uri(codes: NDArray) -> str:
    """Return (lines, samples, 3) uint8 as a PNG data URI."""
    file = io.BytesIO()
    Image.fromarray(codes).save(file, "png")
    return "data:image/png;base64," + base64.b64encode(file.getvalue()).decode()


def places(lines: int, samples: int, blue: int) -> NDArray:
    """A picture whose codes say where they are: R is the sample, G the line."""
    codes = np.full((lines, samples, 3), blue, dtype=np.uint8)
    codes[..., 0], codes[..., 1] = np.arange(samples), np.arange(lines)[:, None]
    return codes


def palette(lines: int, samples: int) -> NDArray:
    """A picture of five colours in disorder: no mean of two of them is one of the others."""
    colours = np.array(
        [[0, 0, 0], [255, 255, 255], [250, 20, 20], [30, 200, 90], [20, 40, 220]], dtype=np.uint8
    )
    return colours[np.random.RandomState(3).randint(0, 5, (lines, samples))]


SOURCE = places(192, 256, 10)
RASTER = places(48, 256, 20)  # fewer lines on the same place
OTHER = places(48, 256, 30)
WHOLE = {"width": 256, "height": 192}


def picture(name: str, codes: NDArray, **more: Any) -> dict[str, Any]:
    return {
        "id": name,
        "label": name.title(),
        "source": data_uri(codes),
        "caption": f"About {name}.",
        **WHOLE,
        **more,
    }


FIELDS = [
    {"source": data_uri(np.full((24, 256, 3), code, np.uint8)), "label": f"{code}"} for code in (60, 70)
]
PICTURES = [
    picture("source", SOURCE),
    picture("raster", RASTER, fields=FIELDS),
    picture("other", OTHER),
]
PANES = [{"picture": "source"}, {"picture": "raster"}, {"picture": "source", "against": "other"}]
LEFT_UP = {"centreX": 64, "centreY": 48, "scale": 4}


def write(folder: Path, more: str = "", **options: Any) -> Path:
    """Write a page with a viewer on it."""
    settings = {"pictures": PICTURES, "panes": PANES, "label": "Test", **options}
    text = json.dumps(settings).replace("</", "<\\/")
    page = folder / "page.html"
    css = (STATIC / "viewer.css").read_text("utf-8")
    page.write_text(PAGE % (css, more, inlined_viewer(), text), encoding="utf-8")
    return page


@pytest.fixture
def opened(tmp_path: Path, open_page: Opener) -> Opener:
    """A function that writes a page with options, opens it and waits for its pictures."""

    def opener(context: dict[str, Any] | None = None, **options: Any) -> Page:
        page = open_page(
            write(tmp_path, **options), **{"viewport": {"width": 980, "height": 700}, **(context or {})}
        )
        page.evaluate("viewer.ready")
        settle(page)
        return page

    return opener


def settle(page: Page) -> None:
    """Wait for two screen frames."""
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def view(page: Page) -> dict[str, float]:
    return page.evaluate("viewer.view")


def drawn(page: Page, pane: int) -> NDArray:
    """Return the backing store of a pane, (lines, samples, 4)."""
    uri = page.evaluate("(pane) => { viewer.draw(); return viewer.panes[pane].canvas.toDataURL(); }", pane)
    return np.asarray(Image.open(io.BytesIO(base64.b64decode(uri.split(",")[1]))).convert("RGBA"))


def photographed(page: Page, pane: int) -> NDArray:
    """Return what the screen shows of a pane's canvas, in screen dots, less one at the rim."""
    settle(page)
    box = page.locator(".viewer-canvas").nth(pane).bounding_box()
    assert box is not None
    clip = {"x": box["x"] + 1, "y": box["y"] + 1, "width": box["width"] - 2, "height": box["height"] - 2}
    shot = page.screenshot(clip=clip)
    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB"))


def colours(codes: NDArray) -> set[tuple[int, ...]]:
    """Return the colours of a picture or screen; of a canvas, only where it is painted."""
    if codes.shape[-1] == 4:
        codes = codes[codes[..., 3] > 0]
    packed = np.unique(codes[..., :3].astype(np.int32) @ [65536, 256, 1])
    return {(code >> 16, code >> 8 & 255, code & 255) for code in packed.tolist()}


def stage(page: Page, pane: int = 0) -> Any:
    return page.locator(".viewer-stage").nth(pane)
