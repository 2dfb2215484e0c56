"""A wipe of two pictures in an article: both are placed, in their shape; no caption is said twice.

The shape is that of the wipe's own boxes; what is on the page is read by Python's HTML parser.
"""

from __future__ import annotations

from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scalesim.io.saved import read_saved
from scalesim.result import Box, Layer, Part, Picture, Result, Table, Viewer
from scalesim.saving import save
from scalesim.writing import written

HEAD = '+++\ntitle = "T"\n+++\n\n'
WORDS = {"photo": ("The photo", "Straightened."), "predicted": ("Predicted: drop", "As it fits best.")}


class Wipe(Result):
    """96 lines of 64 samples that are four wide to three high, seen in a wipe alone."""

    kind = "wiped"

    def sentences(self) -> list[str]:
        return ["It is told."]

    def table(self) -> Table:
        return Table("None", ("a",), ())

    @property
    def kept_pictures(self) -> dict[str, Any]:
        return {key: np.full((96, 64, 3), 0.25 + 0.5 * k, np.float32) for k, key in enumerate(WORDS)}

    def parts(self) -> list[Part]:
        layers = tuple(
            Layer(
                key,
                f"pictures/{key}",
                np.full((96, 64, 3), 64 + 127 * k, np.uint8),
                *said,
                Box(0, 0, 128, 96),
            )
            for k, (key, said) in enumerate(WORDS.items())
        )
        view = Viewer("the two", "Wipe", (), layers, ("photo", "predicted"), (64, 48), mode="wipe")
        return [Part("Wipe", items=(view,))]

    def to_dict(self) -> dict[str, Any]:
        return {}


class Alone(Wipe):
    """One picture with a caption."""

    def parts(self) -> list[Part]:
        values = np.full((96, 64, 3), 64, np.uint8)
        return [Part("One", items=(Picture("pictures/seen", values, "seen", "A wall", "A grey wall"),))]


class Words(HTMLParser):
    """The texts of a page."""

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []

    def handle_data(self, data: str) -> None:
        self.said.append(data.strip())


@pytest.fixture(scope="module")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("wipes")
    save(Wipe(), place / "wipe")
    save(Alone(), place / "one")
    return place


@pytest.mark.parametrize("asked", ["![](wipe)", "![](wipe#picture=photo)"])
def test_pictures_of_a_wipe_have_its_words_and_shape(asked: str, evening: Path) -> None:
    """A cover is both of them; the still draws samples twice as wide as lines are tall, as the wipe does."""
    assert read_saved(evening / "wipe").kept_pictures
    found = written(HEAD + asked, "a.md", evening)
    (exhibit,) = (item for part in found.parts() for item in part.items if hasattr(item, "origin"))
    shown = [(each.label, each.caption, each.size) for each in exhibit.items]
    both = [(*said, (48, 64)) for said in WORDS.values()]
    alone = [("The photo", "The photo. Straightened.", (48, 64))]
    assert shown == (both if asked == "![](wipe)" else alone)
    assert exhibit.caption == ("The photo; Predicted: drop." if asked == "![](wipe)" else alone[0][1])
    (still,) = (each for part in found.parts() if part.anchor == "stills" for each in part.items)
    assert still.shape == 2.0


def test_a_wipe_to_move_begins_its_caption_as_a_sentence(evening: Path) -> None:
    found = written(HEAD + "![](wipe#viewer)", "a.md", evening)
    (exhibit,) = (item for part in found.parts() for item in part.items if hasattr(item, "origin"))
    assert exhibit.caption == "The two: linked pictures to move, enlarge and wipe."


def test_a_caption_is_said_once(evening: Path, tmp_path: Path) -> None:
    """Below a picture alone; an author's own caption leaves the picture its own."""
    save(written(HEAD + "![](one)\n\n![Mine](one)", "a.md", evening), tmp_path / "r")
    page = Words()
    page.feed((tmp_path / "r" / "index.html").read_text("utf-8"))
    own = [text for text in page.said if text.startswith("A grey wall")]
    assert own == ["A grey wall.", "A grey wall"]  # the first figure's caption; the second's picture's
