"""What a comparison's pictures show: the landed lines themselves, honest differences, windows, stills."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from page.compared import CHAINS, decoded, frame, looks, page_of
from PIL import Image, ImageDraw

from scalesim.core.clip import still_clip
from scalesim.core.codes import to_codes
from scalesim.draw.diverging import palette
from scalesim.draw.views import cut
from scalesim.figure import Figure, Mark, View
from scalesim.jobs.compare.difference import difference, steps_of
from scalesim.jobs.compare.pictures import Chosen, look_of, window_of
from scalesim.jobs.predict.predict import predict
from scalesim.jobs.predict.views import Contestant
from scalesim.page.stills import PAPER, SIZES, still_picture


def halves(samples: NDArray) -> NDArray:
    """Return samples 4.5 dots wide: each nine half dots, a dot the mean in light (V to the 2.4) of two."""
    half = samples.repeat(9, axis=1).astype(float) / 255
    light = (half[:, 0::2] ** 2.4 + half[:, 1::2] ** 2.4) / 2
    return np.floor(255 * light ** (1 / 2.4) + 0.5).astype(np.uint8)


def test_tiles_are_the_landed_lines_themselves(folder: Path) -> None:
    """Source and chains are the same part at one scale: 6 dots to a source line, 18 to one of 48, 9 of 96.

    A sample is 4.5 dots wide: 4:3 of the height of 144 lines of 6 dots, over 256 samples.
    """
    images = looks(folder)[:5]
    source = to_codes(frame(1))
    assert {(image["width"], image["height"]) for image in images} == {("360", "288")}
    shown = [decoded(str(image["src"])) for image in images]
    assert np.array_equal(shown[0], halves(source[24:72, 30:110].repeat(6, 0)))
    assert np.array_equal(shown[1], halves(source[24:72:3, 30:110].repeat(18, 0)))
    assert not np.array_equal(shown[1], halves(source[25:72:3, 30:110].repeat(18, 0)))
    lines = shown[3].reshape(32, 9, 360, 3)
    assert (lines == lines[:, :1]).all()  # frame lines of 480i-like, nine dots each


def test_the_files_are_what_the_page_holds(folder: Path) -> None:
    images = [decoded(str(image["src"])) for image in looks(folder)]
    files = sorted((folder / "pictures").glob("*-look.png"))
    assert len(images) == len(files) == 10
    assert all(
        np.array_equal(shown, Image.open(file).convert("RGB"))
        for shown, file in zip(images, files, strict=True)
    )


def test_the_window_follows_a_moved_picture(folder: Path) -> None:
    """Three whole lines lower on the screen, so the window about the same piece holds the same lines."""
    images = [decoded(str(image["src"])) for image in looks(folder)]
    moved, still_there = images[4].astype(int), images[2].astype(int)
    assert np.abs(moved - still_there).max() <= 1  # one of the two is rounded to 8 bits by its chain


def test_every_picture_has_words(folder: Path) -> None:
    """An alternative text that says which frame and chain, and a caption with figures and signal."""
    page = page_of(folder)
    images = looks(folder)
    expected = [f"frame {n} <&>, close look: {label}" for n in (1, 2) for label in ("The source", *CHAINS)]
    assert [image["alt"] for image in images] == expected
    assert page.text.count("Drawn with") == len(images)
    assert page.text.count("Drawn with 18 dots to a scan line.") == 2 * 3
    assert "Before any box." in page.text
    assert page.text.count(" scan lines tall") >= 8


def test_the_viewer_is_given_the_same_pictures_and_places(folder: Path) -> None:
    """Source, every chain with its fields, every difference; whom it opens with; the window's middle."""
    text = (folder / "index.html").read_text("utf-8")
    options = [
        json.loads(found)
        for found in re.findall(
            r'<script type="application/json" id="frame[^"]+">(.*?)</script>', text, re.DOTALL
        )
    ]
    assert len(options) == 2
    first = options[0]
    assert first["label"] == "Pictures of frame 1 <&>"
    labels = [picture["label"] for picture in first["pictures"]]
    maps = [f"Difference: {label}" for label in CHAINS]
    maps.insert(3, "Flicker: 480i-like")
    assert labels == ["The source", *CHAINS, *maps]
    assert [picture.get("light", True) for picture in first["pictures"]] == [True] * 5 + [False] * 5
    assert [len(picture.get("fields", ())) for picture in first["pictures"]] == [0, 0, 0, 2] + [0] * 6
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


def test_the_page_says_which_window_and_why(folder: Path, beside: Path) -> None:
    asked = "lines 24 to 72, samples 30 to 110 of the source, whose lines are 6 dots tall. The part was asked"
    assert page_of(folder).text.count(asked) == 2
    assert page_of(beside).text.count("The part was chosen") >= 2


@pytest.mark.parametrize("count", [1, 2, 3, 4])
def test_stills_keep_to_the_safe_title_area(count: int) -> None:
    """SMPTE ST 2046-1:2009: safe title is the middle 90 % of height and of width; whatever is written."""
    clip = still_clip(frame())
    views = tuple(
        Contestant(label * 9, k, predict(clip, text, metrics=[]), "said " * 60).marked
        for k, (label, text) in enumerate(CHAINS.items())
    )[:count]
    window = (24.0, 30.0, 48.0, 80.0)
    source = to_codes(frame())
    wordy = Figure("f", "title " * 80, "caption " * 199, views, window, 0.75, source, "foot " * 99)
    for width, height in SIZES:
        sheet = still_picture(wordy, (width, height))
        assert sheet.shape == (height, width, 3)
        used = (sheet != np.array(PAPER)).any(axis=2)
        rows, columns = np.flatnonzero(used.any(axis=1)), np.flatnonzero(used.any(axis=0))
        assert rows[0] >= 0.05 * height and rows[-1] < 0.95 * height
        assert columns[0] >= 0.05 * width and columns[-1] < 0.95 * width
        assert columns[-1] - columns[0] > 0.85 * width  # and the area is used


def test_a_still_says_what_its_marks_mean(monkeypatch: pytest.MonkeyPatch) -> None:
    """Below a caption of three lines, with both kinds of marks: all of the legend, none of it cut.

    The source has the worst places of all pictures alone, so it does not have "the same".
    """
    written: list[str] = []
    text = ImageDraw.ImageDraw.text
    monkeypatch.setattr(
        ImageDraw.ImageDraw, "text", lambda s, at, t, *o: [written.append(t), text(s, at, t, *o)]
    )
    values = np.zeros((240, 320, 3), np.uint8)
    marks = tuple(Mark((10, 20), (10, 40), kind, quiet) for kind in ("split", "lost") for quiet in (0, 1))
    view = View("the view", values, said="", marks=marks)
    foot = "Predicted: lines drawn as they land, no beam or glass."
    still_picture(Figure("f", "title", "word " * 75, (view,), (0, 0, 240, 320), 1.0, values, foot), SIZES[0])
    (begin,) = (k for k, line in enumerate(written) if line.startswith("Predicted"))
    legend = " ".join(written[begin:])
    assert legend.endswith("white in the source: the worst of these places.") and "…" not in "".join(written)


def test_a_letterboxed_picture_is_the_same_part_at_the_same_scale() -> None:
    """240 of 320 lines of a box around 16:9: scale 4 source lines a scan line, in the same 2 dots to a line.

    A frame of 720 lines; letterboxed, a scan line stands for four source lines and is 8 dots tall.
    """
    lines = np.random.RandomState(2).rand(360).astype(np.float32).repeat(2)
    clip = still_clip(np.repeat(lines[:, None, None], 1280, 1).repeat(3, 2), mode="720p60")
    texts = ("line-drop lines=240", "fit how=letterbox kernel=linear, line-drop lines=240")
    look = look_of("f", [(k, t, predict(clip, t, metrics=[])) for k, t in enumerate(texts)], {}, "4:3")
    window, zoom = window_of(look, Chosen((240, 400, 120, 200), "", asked=True))
    heights = [cut(view, window, zoom).shape for view in look.views]
    assert len(set(heights)) == 1
    assert [zoom.words(view).split(" to")[0] for view in look.views] == ["2 dots", "6 dots", "8 dots"]
    assert look.note.startswith("All are drawn in the shape that line-drop lines=240 has on the tube")
