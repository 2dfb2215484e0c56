"""The comparison's page by its parts: exact pictures, honest words, plots, and what a browser makes of it."""

from __future__ import annotations

import base64
import csv
import io
import json
import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from numpy.typing import NDArray
from page.viewer_page import settle
from PIL import Image

from scalesim.core.clip import still_clip
from scalesim.core.codes import to_codes
from scalesim.errors import ParameterError
from scalesim.jobs.compare.compare import Comparison, compare
from scalesim.jobs.frames import FrameSource
from scalesim.jobs.predict.predict import predict
from scalesim.page.compare import write_comparison
from scalesim.page.compare_difference import difference, palette
from scalesim.page.compare_look import busiest_crop
from scalesim.page.compare_pictures import frame_pictures
from scalesim.page.picture_store import PictureStore
from scalesim.page.plots.labels import _overlap, place_labels
from scalesim.page.stills import PAPER, SIZES, Caption, still

if TYPE_CHECKING:
    from playwright.sync_api import Page

NASTY = """<b onclick="alert(1)">'A' & B</b> 🙂 $x_1$ | </script>"""
CHAINS = {
    "drop": "line-drop lines=48",
    NASTY: "line-average lines=48, quantise",
    "480i-like": "line-average lines=96, quantise, interlace",
    "moved": "line-average lines=48, position lines=3",
}
CROP = (24, 30, 48, 80)


def frame(seed: int = 1) -> NDArray:
    """A frame of 144 lines with bars, boxes and a few random dots, exact 8-bit codes."""
    values = np.full((144, 256, 3), 200, np.float32)
    random = np.random.RandomState(seed)
    for _ in range(24):
        top, left = random.randint(0, 130), random.randint(0, 230)
        values[top : top + random.randint(2, 14), left : left + random.randint(3, 26)] = random.randint(
            0, 256, 3
        )
    return values / np.float32(255)


def made(chains: dict[str, str] = CHAINS, frames: int = 1, **more: Any) -> Comparison:
    sources = [
        FrameSource(
            f"frame {k} <&>",
            lambda k=k: still_clip(frame(k), name=f"frame {k}"),  # type: ignore[misc]
            {"box": "a <box>", "gain": 1.5},
        )
        for k in range(1, frames + 1)
    ]
    return compare(chains, sources, **more)


@pytest.fixture(scope="module")
def comparison() -> Comparison:
    return made()


@pytest.fixture
def written(comparison: Comparison, tmp_path: Path) -> tuple[Path, dict[str, str]]:
    return tmp_path, write_comparison(comparison, tmp_path, crop=CROP)


class Elements(HTMLParser):
    """Collects tags with their attributes, and the text outside script and style."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self._inside = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._inside = tag

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside not in ("script", "style"):
            self.text += data


def page_of(folder: Path) -> Elements:
    return Elements((folder / "index.html").read_text("utf-8"))


def decoded(uri: str) -> NDArray:
    data = base64.b64decode(uri.removeprefix("data:image/png;base64,"))
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


# Files


def test_every_file_is_named_and_there(written: tuple[Path, dict[str, str]]) -> None:
    folder, files = written
    assert {"csv", "json", "page", "markdown"} <= files.keys()
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}
    assert there == set(files.values())  # and no pictures folder: they went into the page


def test_rows_as_csv_and_json(written: tuple[Path, dict[str, str]], comparison: Comparison) -> None:
    """Read by Python's own csv and json modules."""
    folder, _ = written
    with (folder / "rows.csv").open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    document = json.loads((folder / "rows.json").read_text("utf-8"))
    assert [row["chain"] for row in table] == list(CHAINS)
    assert [row["chain"] for row in document["rows"]] == list(CHAINS)
    for flat, row in zip(table, comparison.rows, strict=True):
        for key, value in row.metrics.items():
            assert (flat[key] == "") == (value is None)
            if value is None:
                assert f"{key}: {row.why[key]}" in flat["why"]
            else:
                assert float(flat[key]) == value
    assert table[0]["note.box"] == "a <box>"


def test_the_same_comparison_gives_the_same_bytes(comparison: Comparison, tmp_path: Path) -> None:
    folders = [tmp_path / "first", tmp_path / "second"]
    for folder in folders:
        folder.mkdir()
        write_comparison(comparison, folder)
    first, second = ({p.name: p.read_bytes() for p in f.rglob("*") if p.is_file()} for f in folders)
    assert first == second


def test_wrong_arguments_name_the_limit(comparison: Comparison, tmp_path: Path) -> None:
    bad: list[tuple[dict[str, Any], str]] = [
        ({"crop": (100, 0, 48, 80)}, "crop: top 100 and height 48 reach lines 100 to 148, .* lines 0 to 144"),
        ({"crop": (0, -1, 48, 80)}, "crop: left -1"),
        ({"crop": (0, 0, 4, 80)}, "height is 4; it must be at least 8"),
        ({"tube": "5:4"}, "tube is '5:4'"),
        ({"stills": ["nothing"]}, "no frame is named 'nothing'"),
    ]
    for number, (more, said) in enumerate(bad):
        folder = tmp_path / str(number)
        folder.mkdir()
        with pytest.raises(ParameterError, match=said):
            write_comparison(comparison, folder, **more)


def test_heavy_pictures_go_beside_the_page(comparison: Comparison, tmp_path: Path) -> None:
    write_comparison(comparison, tmp_path, inline_limit=10_000)
    elements = page_of(tmp_path)
    images = [attributes["src"] for tag, attributes in elements.tags if tag == "img"]
    assert len(images) == 5
    assert all((tmp_path / str(name)).is_file() for name in images)
    scripts = sorted(path.stem for path in (tmp_path / "pictures").glob("*.js"))
    # a source; per chain the landed picture and its difference; two fields of the interlaced one
    assert len(scripts) == 1 + 2 * 4 + 2
    assert "data:image/png" not in (tmp_path / "index.html").read_text("utf-8")
    first = (tmp_path / "pictures" / "01-01-landed.js").read_text("utf-8")
    assert first.startswith('registerPicture("01-01-landed", "data:image/png;base64,')


def test_progress_once_for_each_pair(comparison: Comparison, tmp_path: Path) -> None:
    said: list[str] = []
    write_comparison(comparison, tmp_path, advance=said.append)
    assert len(said) == len(CHAINS)


# Words


def test_no_label_becomes_markup(written: tuple[Path, dict[str, str]]) -> None:
    """Read by Python's own HTML parser."""
    folder, _ = written
    elements = page_of(folder)
    assert not [tag for tag, attributes in elements.tags if tag == "b" or "onclick" in attributes]
    assert elements.text.count(NASTY) >= 4  # ranking, close look, table head, definition
    assert "frame 1 <&>" in elements.text
    markdown = (folder / "comparison.md").read_text("utf-8")
    table_line = next(line for line in markdown.splitlines() if line.startswith("| ") and "🙂" in line)
    assert "<" not in table_line.replace("\\<", "")
    assert len(re.findall(r"(?<!\\)\|", table_line)) == 5  # the label's own bar parts no cells


def test_the_page_asks_for_nothing(written: tuple[Path, dict[str, str]]) -> None:
    folder, _ = written
    elements = page_of(folder)
    for tag, attributes in elements.tags:
        for name in ("src", "href", "xlink:href"):
            value = attributes.get(name) or ""
            local = value.startswith(("data:", "#")) or (tag == "a" and (folder / value).is_file())
            assert not value or local, (tag, value)
    style = re.search(r"<style>(.*?)</style>", (folder / "index.html").read_text("utf-8"), re.DOTALL)
    assert style is not None and "url(" not in style[1] and "@import" not in style[1]


def test_parts_in_the_asked_order(written: tuple[Path, dict[str, str]]) -> None:
    folder, _ = written
    ids = [attributes.get("id") for tag, attributes in page_of(folder).tags if tag == "h2"]
    wanted = ["ranking", "frame-1", "plots", "figures", "chains", "settings", "model", "cautions", "appendix"]
    assert ids == wanted


def test_fidelity_waits_for_the_appendix(written: tuple[Path, dict[str, str]]) -> None:
    text = page_of(written[0]).text
    before, after = text.split("Likeness to the reference")
    assert "SSIM" not in before
    assert after.count("SSIM") >= 2


def test_only_what_was_measured_is_shown(tmp_path: Path) -> None:
    found = made({"a": "line-drop lines=48"}, metrics=["edge_spread_lines"], by=["edge_spread_lines"])
    write_comparison(found, tmp_path)
    text = page_of(tmp_path).text
    assert "height of a horizontal edge" in text
    assert "thin horizontal detail" not in text
    assert "Likeness" not in text
    assert len(list((tmp_path / "figures").glob("*.svg"))) == 0  # one value: nothing to plot, no flicker


def test_missing_values_and_pairs_have_reasons(tmp_path: Path) -> None:
    flat = FrameSource("flat", lambda: still_clip(np.full((144, 256, 3), 0.5, np.float32)))
    found = compare({"drop": "line-drop lines=48", "wrong": "deinterlace how=bob"}, [flat])
    write_comparison(found, tmp_path)
    elements = page_of(tmp_path)
    reason = found.rows[0].why["edge_spread_lines"]
    assert reason in elements.text
    assert [a["title"] for tag, a in elements.tags if tag == "td" and a.get("title") == reason]
    assert found.failed["flat / wrong"] in elements.text
    assert found.failed["flat / wrong"] in (tmp_path / "comparison.md").read_text("utf-8").replace("\\", "")


def test_nothing_could_be_done(tmp_path: Path) -> None:
    found = compare({"wrong": "deinterlace how=bob"}, [still_clip(frame())])
    files = write_comparison(found, tmp_path)
    assert "No chain could be ranked" in page_of(tmp_path).text
    assert set(files) == {"csv", "json", "page", "markdown"}


# Pictures


def test_tiles_are_the_landed_lines_themselves(written: tuple[Path, dict[str, str]]) -> None:
    """The close look of a drop is NumPy's own slice of the source; all tiles are equally tall."""
    folder, _ = written
    images = [attributes for tag, attributes in page_of(folder).tags if tag == "img"]
    drop = decoded(str(images[1]["src"]))
    source = to_codes(frame(1))
    lines = source[0::3][24 // 3 : (24 + 48) // 3]  # lines 24 to 71 of the source, every third
    assert drop.shape[0] == 16
    width = int(str(images[1]["width"]))
    face = 1280  # 4:3 of 960
    left = round((30 + 40) * face / 256 - 80 * face / 256 / 2)
    dots = left + (np.arange(width) + 0.5) * (80 * face / 256) / width
    assert np.array_equal(drop, lines[:, (dots * 256 / face).astype(int)])
    assert not np.array_equal(drop, source[1::3][8:24][:, (dots * 256 / face).astype(int)])
    heights = {image["height"] for image in images[1:]}
    assert len(heights) == 1
    for image in images[1:]:
        assert int(str(image["height"])) % decoded(str(image["src"])).shape[0] == 0  # whole dots to a line


def test_the_window_follows_a_moved_picture(written: tuple[Path, dict[str, str]]) -> None:
    """Three whole lines lower on the screen, so the window about the same piece holds the same lines."""
    images = [decoded(str(a["src"])) for tag, a in page_of(written[0]).tags if tag == "img"]
    moved, still_there = images[4].astype(int), images[2].astype(int)
    assert np.abs(moved - still_there).max() <= 1  # one of the two is rounded to 8 bits by its chain


def test_difference_of_an_ideal_is_white_and_of_a_light_one_orange() -> None:
    clip = still_clip(frame())
    ideal = predict(clip, "line-average lines=48 encoding=light", metrics=[])
    assert np.abs(difference(ideal)).max() < 0.01
    lifted = predict(clip, "line-average lines=48 encoding=light, level gain=1.05", metrics=[])
    assert difference(lifted).mean() > 0.5
    colours = palette().astype(int)
    assert colours[0, 2] > colours[0, 0] and colours[-1, 0] > colours[-1, 2]  # blue below, orange above
    assert len(set(map(tuple, colours[:128].tolist()))) > 100
    lightness = colours @ [0.2126, 0.7152, 0.0722]
    assert np.all(np.diff(lightness[:128]) >= 0) and np.all(np.diff(lightness[127:]) <= 0)


def test_the_chosen_window_holds_the_difference() -> None:
    """A known answer: contestants are alike but for one patch."""
    lights = [np.zeros((144, 256), np.float32) for _ in range(3)]
    lights[1][100:140, 200:250] = 0.5
    (top, left, height, width), amount = busiest_crop(lights, 144, 256)
    assert (height, width) == (48, 80)
    assert top <= 100 and top + height >= 140 and left <= 200 and left + width >= 250
    assert amount == pytest.approx(100 * 0.5 * (2 / 3) * 40 * 50 / (48 * 80))  # two of three pairs differ
    lights[2][:] = np.nan
    assert busiest_crop(lights, 144, 256)[1] == 0  # what one does not show is not compared


# Stills


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_stills_keep_to_the_safe_title_area(comparison: Comparison, tmp_path: Path, count: int) -> None:
    """SMPTE ST 2046-1:2009: safe title is the middle 90 % of height and of width."""
    chains = dict(list(CHAINS.items())[:count])
    found = frame_pictures(
        made(chains, metrics=["flicker_percent"], by=["flicker_percent"]),
        0,
        PictureStore(tmp_path),
        crop=CROP,
        tube="4:3",
        advance=lambda _: None,
    )
    assert found is not None
    captions = {label: Caption(label * 9, "said " * 60) for label in chains}
    for width, height in SIZES:
        sheet = still(found[1], captions, "title " * 80, "foot " * 99, (width, height))
        assert sheet.shape == (height, width, 3)
        used = (sheet != np.array(PAPER)).any(axis=2)
        rows, columns = np.flatnonzero(used.any(axis=1)), np.flatnonzero(used.any(axis=0))
        assert rows[0] >= 0.05 * height and rows[-1] < 0.95 * height
        assert columns[0] >= 0.05 * width and columns[-1] < 0.95 * width
        assert columns[-1] - columns[0] > 0.85 * width  # and the area is used


# Plots


def test_labels_do_not_lie_on_each_other() -> None:
    random = np.random.RandomState(4)
    points = [(60.0, float(y)) for y in range(100, 160, 5)]  # twelve nearly in one place
    points += [tuple(map(float, p)) for p in random.randint(50, 400, (6, 2))]
    sizes = [(float(random.randint(60, 180)), 12.0) for _ in points]
    boxes = place_labels(points, sizes, (40, 30, 820, 460))
    shared = [_overlap(a, b) for k, a in enumerate(boxes) for b in boxes[:k]]
    assert max(shared) == 0
    assert max(_overlap((0, 0, 10, 10), (5, 5, 15, 15)), 0) > 0  # the measure can fail


def test_plots_are_text_and_the_pages_own_colours(written: tuple[Path, dict[str, str]]) -> None:
    folder, _ = written
    page = (folder / "index.html").read_text("utf-8")
    assert "var(--hue-1)" in page
    assert not re.search(r"#0([1-7])0\1{1}0\1\b", page)
    ids = [attributes["id"] for _, attributes in page_of(folder).tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    plot = (folder / "figures" / "sharpness-steadiness.svg").read_text("utf-8")
    assert "drop</text>" in plot
    assert "var(--hue" not in plot and "<date>" not in plot
    from xml.etree import ElementTree

    ElementTree.fromstring(plot)


# In a browser

Opener = Callable[..., "Page"]


@pytest.fixture
def two_frames(tmp_path: Path) -> Path:
    write_comparison(made(frames=2), tmp_path)
    return tmp_path / "index.html"


def with_viewers(page: Page) -> None:
    """Open every viewer, and wait for its pictures."""
    for host in page.locator("[data-viewer]").all():
        if host.locator(".viewer").count() == 0:
            host.locator("button").click()
        host.evaluate("(host) => host.viewer.ready")
    settle(page)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing(two_frames: Path, open_page: Opener, scheme: str) -> None:
    module = pytest.importorskip(
        "axe_playwright_python.sync_playwright", reason="needs axe-playwright-python"
    )
    page = open_page(two_frames, color_scheme=scheme, viewport={"width": 1280, "height": 720})
    with_viewers(page)
    found = module.Axe().run(page).response["violations"]
    assert [(each["id"], [node["html"][:200] for node in each["nodes"]]) for each in found] == []


@pytest.mark.parametrize("width", [320, 1280, 2560])
def test_no_sideways_scrolling(two_frames: Path, open_page: Opener, width: int) -> None:
    page = open_page(two_frames, viewport={"width": width, "height": 720})
    with_viewers(page)
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_viewers_wait_until_they_are_asked_for(two_frames: Path, open_page: Opener) -> None:
    page = open_page(two_frames, viewport={"width": 1280, "height": 300})
    settle(page)
    assert page.locator(".viewer").count() == 1
    with_viewers(page)
    assert page.locator(".viewer").count() == 2
    assert page.locator(".viewer-pane").count() == 8
    assert page.get_by_text("cannot be shown").count() == 0


def test_pictures_beside_the_page_load_when_needed(
    comparison: Comparison, tmp_path: Path, open_page: Opener
) -> None:
    write_comparison(comparison, tmp_path, inline_limit=0)
    images = sorted(path.as_uri() for path in (tmp_path / "pictures").glob("*-look.png"))
    shown = ["01-source", "01-01-landed", "01-02-landed", "01-01-difference"]
    scripts = [(tmp_path / "pictures" / f"{name}.js").as_uri() for name in shown]
    page = open_page(
        tmp_path / "index.html", also=(*images, *scripts), viewport={"width": 1280, "height": 720}
    )
    with_viewers(page)
    page.evaluate("scrollTo(0, 0)")
    page.wait_for_function("[...document.images].every((image) => image.complete && image.naturalWidth)")
    assert page.get_by_text("cannot be shown").count() == 0


def test_a_chain_can_be_copied_by_keyboard(two_frames: Path, open_page: Opener) -> None:
    page = open_page(two_frames)
    page.get_by_role("button", name="Copy the chain drop").focus()
    page.keyboard.press("Enter")
    page.wait_for_function("document.getElementById('copied').textContent")
    assert page.locator("#copied").inner_text().startswith(("Copied", "Selected"))


def test_prints(two_frames: Path, open_page: Opener) -> None:
    page = open_page(two_frames)
    assert page.pdf()[:4] == b"%PDF"
