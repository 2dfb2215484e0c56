"""One comparison of small frames, made and written once, that the tests of pages look at."""

from __future__ import annotations

import base64
import io
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from scalesim.core.clip import Clip, still_clip
from scalesim.errors import ParameterError
from scalesim.jobs.compare.compare import compare
from scalesim.jobs.compare.comparison import Comparison
from scalesim.jobs.frames import FrameSource
from scalesim.saving import save

NASTY = """<b onclick="alert(1)">'A' & B</b> 🙂 $x_1$ | </script>"""
CHAINS = {
    "drop": "line-drop lines=48",
    NASTY: "line-average lines=48, quantise",
    "480i-like": "line-average lines=96, quantise, interlace",
    "moved": "line-average lines=48, position lines=3",
}
CROP = (24, 30, 48, 80)
BROKEN = "no such mode <i>"


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


def source(number: int) -> FrameSource:
    """Return a frame by its number, with a note."""
    return FrameSource(
        f"frame {number} <&>",
        lambda: still_clip(frame(number), name=f"frame {number}"),
        {"box": "a <box>", "gain": 1.5},
    )


def broken() -> Clip:
    raise ParameterError(BROKEN)


def made(chains: dict[str, str] = CHAINS, frames: int = 1, **more: Any) -> Comparison:
    return compare(chains, [source(number + 1) for number in range(frames)], **more)


@pytest.fixture(scope="session")
def comparison() -> Comparison:
    """Two frames through four chains, and one frame that cannot be read; a window that is asked for."""
    frames = [source(1), source(2), FrameSource("broken.png", broken, {"box": "grey & old"})]
    return compare(CHAINS, frames, crop=CROP)


@pytest.fixture(scope="session")
def written(comparison: Comparison, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The document of the comparison, written with its pictures inside the page."""
    return save(comparison, tmp_path_factory.mktemp("compared") / "inline")


@pytest.fixture(scope="session")
def folder(written: dict[str, Any]) -> Path:
    """Where it lies."""
    return Path(written["out"])


@pytest.fixture(scope="session")
def beside(comparison: Comparison, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the same lies with its pictures beside the page and a window that was found."""
    place = tmp_path_factory.mktemp("compared") / "beside"
    save(replace(comparison, crop=None), place, inline_limit=0)
    return place


def typed(text: str) -> str:
    """Return a printed text as it was typed: with plain spaces and hyphens before numbers."""
    return text.replace("\xa0", " ").replace("\u2212", "-")


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
        """Keep a text as it was typed, before no-break spaces and minus signs were set."""
        if self._inside not in ("script", "style"):
            self.text += typed(data)


def page_of(folder: Path) -> Elements:
    """Return the elements of a folder's page."""
    return Elements((folder / "index.html").read_text("utf-8"))


def looks(folder: Path) -> list[dict[str, str | None]]:
    """Return the attributes of the close looks of a folder's page, in order."""
    images = [attributes for tag, attributes in page_of(folder).tags if tag == "img"]
    return [image for image in images if "close look" in str(image["alt"])]


def decoded(uri: str) -> NDArray:
    """Return a picture inside a page."""
    data = base64.b64decode(uri.removeprefix("data:image/png;base64,"))
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
