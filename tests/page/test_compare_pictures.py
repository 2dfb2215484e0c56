"""What a comparison's pictures show: the landed lines themselves, honest differences, windows, stills."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from page.compared import CHAINS, CROP, decoded, frame, page_of
from PIL import Image

from scalesim.core.clip import still_clip
from scalesim.core.codes import to_codes
from scalesim.draw.diverging import palette
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.compare.difference import difference, steps_of
from scalesim.jobs.compare.look import busiest_crop, places_on
from scalesim.jobs.compare.pictures import Captions, frame_part
from scalesim.jobs.predict.predict import predict
from scalesim.page.stills import PAPER, SIZES, still_picture
from scalesim.result import Still, Tile


def test_tiles_are_the_landed_lines_themselves(folder: Path) -> None:
    """The close look of a drop is NumPy's own slice of the source; all tiles are equally tall."""
    images = [attributes for tag, attributes in page_of(folder).tags if tag == "img"][:5]
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
    assert np.array_equal(decoded(str(images[0]["src"])), source[24:72, 30:110])
    heights = {image["height"] for image in images[1:]}
    assert len(heights) == 1
    for image in images[1:]:
        assert int(str(image["height"])) % decoded(str(image["src"])).shape[0] == 0  # whole dots to a line


def test_the_files_are_what_the_page_holds(folder: Path) -> None:
    images = [decoded(str(a["src"])) for tag, a in page_of(folder).tags if tag == "img"]
    files = sorted((folder / "pictures").glob("*-look.png"))
    assert len(images) == len(files) == 10
    assert all(
        np.array_equal(shown, Image.open(file).convert("RGB"))
        for shown, file in zip(images, files, strict=True)
    )


def test_the_window_follows_a_moved_picture(folder: Path) -> None:
    """Three whole lines lower on the screen, so the window about the same piece holds the same lines."""
    images = [decoded(str(a["src"])) for tag, a in page_of(folder).tags if tag == "img"]
    moved, still_there = images[4].astype(int), images[2].astype(int)
    assert np.abs(moved - still_there).max() <= 1  # one of the two is rounded to 8 bits by its chain


def test_every_picture_has_words(folder: Path) -> None:
    """An alternative text that says which frame and chain, and a caption with figures and signal."""
    page = page_of(folder)
    images = [attributes for tag, attributes in page.tags if tag == "img"]
    expected = [f"frame {n} <&>, close look: {label}" for n in (1, 2) for label in ("The source", *CHAINS)]
    assert [image["alt"] for image in images] == expected
    assert page.text.count("Drawn with") == len(images)
    assert "Before any box, in its own shape." in page.text
    assert page.text.count(" scan lines tall") >= 8


def test_the_viewer_is_given_the_same_pictures_and_places(folder: Path) -> None:
    """Source, every chain with its fields, every difference; whom it opens with; the window's middle."""
    text = (folder / "index.html").read_text("utf-8")
    options = [
        json.loads(found)
        for found in re.findall(r'<script type="application/json" id="[^"]+">(.*?)</script>', text, re.DOTALL)
    ]
    assert len(options) == 2
    first = options[0]
    assert first["label"] == "Pictures of frame 1 <&>"
    labels = [picture["label"] for picture in first["pictures"]]
    assert labels == ["The source", *CHAINS, *(f"Difference: {label}" for label in CHAINS)]
    assert [picture.get("light", True) for picture in first["pictures"]] == [True] * 5 + [False] * 4
    assert [len(picture.get("fields", ())) for picture in first["pictures"]] == [0, 0, 0, 2] + [0] * 5
    chains = [picture["id"] for picture in first["pictures"][1:5]]
    assert (first["source"], first["contestants"]) == ("source", chains)
    assert len(set(first["pair"])) == 2 and set(first["pair"]) <= set(chains)
    assert (first["start"]["centreX"], first["start"]["centreY"]) == (350, 320)  # lines 24+24, samples 30+40
    assert np.array_equal(decoded(first["pictures"][0]["source"]), to_codes(frame(1)))
    assert np.array_equal(decoded(first["pictures"][1]["source"]), to_codes(frame(1))[0::3])
    woven = decoded(first["pictures"][3]["source"])
    assert [
        np.array_equal(decoded(field["source"]), woven[number::2])
        for number, field in enumerate(first["pictures"][3]["fields"])
    ] == [True, True]


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
    steps = steps_of(np.array([[-99.0, -25.0, 0.0, 25.0, 99.0]]))
    assert steps.tolist() == [[0, 0, 127, 254, 254]]


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


def test_the_busiest_window_is_found_on_a_coarse_grid() -> None:
    """Where one light square differs, there the window goes; elsewhere it would show nothing."""
    down, along = places_on(720, 1280)
    a = np.zeros((len(down), len(along)))
    b = ((down >= 480) & (down < 560)).astype(float)[:, None] * ((along >= 1000) & (along < 1120))
    (top, left, height, width), _ = busiest_crop([a, b], 720, 1280)
    assert top <= 480
    assert top + height >= 560
    assert left <= 1000
    assert left + width >= 1120


def test_the_page_says_which_window_and_why(folder: Path, beside: Path) -> None:
    assert (
        page_of(folder).text.count("lines 24 to 72, samples 30 to 110 of the source. The window was asked")
        == 2
    )
    assert (
        page_of(beside).text.count("The window was chosen because the chains differ most from each other")
        == 2
    )


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_stills_keep_to_the_safe_title_area(comparison: Comparison, count: int) -> None:
    """SMPTE ST 2046-1:2009: safe title is the middle 90 % of height and of width; whatever is written."""
    clip = still_clip(frame())
    shown = [(k, label, predict(clip, text, metrics=[])) for k, (label, text) in enumerate(CHAINS.items())]
    captions = {label: Captions("", "said " * 60) for label in CHAINS}
    part = frame_part(0, "frame", shown[:count], captions, crop=CROP, tube="4:3", still="still")
    (found,) = [item for item in part.items if isinstance(item, Still)]
    assert len(found.tiles) == count
    tiles = tuple(Tile(tile.label * 9, tile.said, tile.cut) for tile in found.tiles)
    wordy = Still(found.name, "title " * 80, "foot " * 99, tiles, found.crop)
    for width, height in SIZES:
        sheet = still_picture(wordy, (width, height))
        assert sheet.shape == (height, width, 3)
        used = (sheet != np.array(PAPER)).any(axis=2)
        rows, columns = np.flatnonzero(used.any(axis=1)), np.flatnonzero(used.any(axis=0))
        assert rows[0] >= 0.05 * height and rows[-1] < 0.95 * height
        assert columns[0] >= 0.05 * width and columns[-1] < 0.95 * width
        assert columns[-1] - columns[0] > 0.85 * width  # and the area is used
