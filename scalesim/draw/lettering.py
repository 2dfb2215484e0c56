"""Letters of pictures with words in them: stills, maps with a scale, cards."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

PAPER, INK, QUIET = (26, 28, 31), (240, 238, 233), (178, 182, 187)
"""One ground for such a picture, and its letters."""


def font(size: int) -> FreeTypeFont:
    """Return the letters, `size` dots high."""
    from PIL import ImageFont

    return ImageFont.truetype(_font_file(), size)


def write_line(
    pen: ImageDraw, at: tuple[int, int], text: str, size: int, colour: tuple[int, int, int], room: int
) -> None:
    """Write one line, cut with an ellipsis where it would leave its room, in dots."""
    letters = font(size)
    text = drawable(text)
    if pen.textlength(text, letters) > room:
        while text and pen.textlength(text + "…", letters) > room:
            text = text[:-1]
        text = text.rstrip() + "…"
    pen.text(at, text, colour, letters)


def write_lines(
    pen: ImageDraw,
    at: tuple[int, int],
    text: str,
    size: int,
    colour: tuple[int, int, int],
    room: tuple[int, int],
) -> int:
    """Write a text in lines of a width, as many as there is room for; return how many it took.

    Parameters:  room : (width in dots, lines); what is left after the last is cut with an ellipsis
    """
    letters = font(size)
    words, lines = drawable(text).split(), [""]
    while words:
        longer = f"{lines[-1]} {words[0]}".strip()
        if len(lines) < room[1] and lines[-1] and pen.textlength(longer, letters) > room[0]:
            lines.append("")
            continue
        lines[-1] = longer
        words.pop(0)
    for number, line in enumerate(lines):
        write_line(pen, (at[0], at[1] + round(1.3 * size * number)), line, size, colour, room[0])
    return len(lines)


def drawable(text: str) -> str:
    """Return the text with a white square for every character the letters lack."""
    from matplotlib.ft2font import FT2Font

    known = FT2Font(_font_file()).get_charmap()
    plain = "".join(char if char.isprintable() else " " for char in text)
    return "".join(char if ord(char) in known else "□" for char in plain)


def _font_file() -> str:
    from matplotlib import get_data_path

    return str(Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf")
