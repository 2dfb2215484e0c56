"""Stills for a video edit: the main comparison of a frame, captioned inside the title-safe area.

Two sizes, of which the larger is the smaller with every dot doubled but its letters drawn afresh. All
content lies inside the middle 90 % of height and width: the safe title area of SMPTE ST 2046-1:2009.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scalesim.page.compare_look import drawn
from scalesim.page.compare_pictures import Look

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

SIZES = ((1920, 1080), (3840, 2160))
MOST_CHAINS = 4
PAPER, INK, QUIET = (26, 28, 31), (240, 238, 233), (178, 182, 187)
"""One ground for the whole still, and its letters."""

SAFE = 0.9
_TITLE, _CAPTION, _FOOT = 58, 66, 36
"""Dots kept for the title, for each caption and for the last line, of the smaller size."""
_GAP = 24
_BASE = SIZES[0]


@dataclass(frozen=True)
class Caption:
    """What is written with a tile."""

    name: str
    said: str


def write_stills(look: Look, captions: dict[str, Caption], title: str, foot: str, stem: Path) -> list[Path]:
    """Write `<stem>-1080.png` and `<stem>-2160.png` of a frame's first four chains; return them."""
    paths = []
    for width, height in SIZES:
        path = stem.with_name(f"{stem.name}-{height}.png")
        path.write_bytes(_packed(still(look, captions, title, foot, (width, height))))
        paths.append(path)
    return paths


def _packed(codes: NDArray) -> bytes:
    from scalesim.page.picture_store import png

    return png(codes)


def still(look: Look, captions: dict[str, Caption], title: str, foot: str, size: tuple[int, int]) -> NDArray:
    """Return one still, (height, width, 3) uint8."""
    from PIL import Image, ImageDraw

    times = size[0] // _BASE[0]
    members = look.contestants[:MOST_CHAINS]
    sheet = Image.new("RGB", size, PAPER)
    pen = ImageDraw.Draw(sheet)
    left, top = (round(each * (1 - SAFE) / 2) for each in size)
    wide = size[0] - 2 * left
    _write(pen, (left, top), title, 34 * times, INK, wide)
    _write(pen, (left, size[1] - top - 26 * times), foot, 20 * times, QUIET, wide)
    cells = _cells(len(members))
    scale = _scale(look, cells[0])
    for member, (x, y, width, height) in zip(members, cells, strict=True):
        window = member.placing.window(look.face, look.crop, (height / scale, width / scale))
        dots = (round(window.height * scale * times), round(window.width * scale * times))
        sheet.paste(Image.fromarray(drawn(member.shown, window, *dots)), (x * times, y * times))
        caption = captions[member.label]
        room = width * times
        _write(pen, (x * times, (y + height + 6) * times), caption.name, 24 * times, INK, room)
        _write(pen, (x * times, (y + height + 37) * times), caption.said, 19 * times, QUIET, room)
    return np.asarray(sheet)


def _cells(count: int) -> list[tuple[int, int, int, int]]:
    """Return (left, top, width, height) of the pictures in the smaller size, captions below each."""
    columns = {1: 1, 2: 2, 3: 3, 4: 2}[count]
    rows = -(-count // columns)
    left, top = (round(each * (1 - SAFE) / 2) for each in _BASE)
    width = (_BASE[0] - 2 * left - (columns - 1) * _GAP) // columns
    inner = _BASE[1] - 2 * top - _TITLE - _FOOT
    height = (inner - (rows - 1) * 8) // rows - _CAPTION
    return [
        (
            left + (k % columns) * (width + _GAP),
            top + _TITLE + (k // columns) * (height + _CAPTION + 8),
            width,
            height,
        )
        for k in range(count)
    ]


def _scale(look: Look, cell: tuple[int, int, int, int]) -> int:
    """Return the largest whole dots a unit at which a cell still shows half the crop's area."""
    window = look.contestants[0].placing.window(look.face, look.crop)
    area = window.width * window.height / 2
    return max(1, int((cell[2] * cell[3] / area) ** 0.5))


def _write(
    pen: ImageDraw, at: tuple[int, int], text: str, size: int, colour: tuple[int, int, int], room: int
) -> None:
    """Write one line, cut with an ellipsis where it would leave its room."""
    letters = font(size)
    text = _drawable(text)
    if pen.textlength(text, letters) > room:
        while text and pen.textlength(text + "…", letters) > room:
            text = text[:-1]
        text = text.rstrip() + "…"
    pen.text(at, text, colour, letters)


def font(size: int) -> FreeTypeFont:
    """Return the letters of every picture with words, `size` dots high."""
    from PIL import ImageFont

    return ImageFont.truetype(_font_file(), size)


def _font_file() -> str:
    from matplotlib import get_data_path

    return str(Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf")


def _drawable(text: str) -> str:
    """Return the text with a white square for every character the font lacks."""
    from matplotlib.ft2font import FT2Font

    known = FT2Font(_font_file()).get_charmap()
    plain = "".join(char if char.isprintable() else " " for char in text)
    return "".join(char if ord(char) in known else "□" for char in plain)
