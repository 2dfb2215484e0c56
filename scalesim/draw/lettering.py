"""Letters of pictures with words in them: stills, maps with a scale, cards.

They are DejaVu Sans, which Matplotlib brings, so that a picture is the same everywhere. A label in letters
that it lacks (Chinese, Japanese, Korean …) is written in a font of the system that has them.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

PAPER, INK, QUIET = (26, 28, 31), (240, 238, 233), (178, 182, 187)
"""One ground for such a picture, and its letters."""

_EVERYTHING = 500_000
"""Characters of a font that draws a placeholder for whatever there is: it shows no letters."""

_NOT_PLAIN = ("bold", "black", "heavy", "light", "thin", "italic", "oblique", "condensed")


def font(size: int, text: str = "") -> FreeTypeFont:
    """Return the letters, `size` dots high, in which a text is written."""
    from PIL import ImageFont

    return ImageFont.truetype(_font_file(text), size)


def write_line(
    pen: ImageDraw, at: tuple[int, int], text: str, size: int, colour: tuple[int, int, int], room: int
) -> None:
    """Write one line, cut with an ellipsis where it would leave its room, in dots."""
    letters, text = font(size, text), drawable(text)
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
    letters = font(size, text)
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
    """Return the text with a white square for every character that its letters lack."""
    known = _characters(_font_file(text))
    return "".join(char if ord(char) in known else "□" for char in _plain(text))


def _plain(text: str) -> str:
    return "".join(char if char.isprintable() else " " for char in text)


def _own_file() -> str:
    from matplotlib import get_data_path

    return str(Path(get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf")


@cache
def _characters(file: str) -> frozenset[int]:
    """Return the characters of a font file; none of one that cannot be read, or has a sign for everything."""
    from matplotlib.ft2font import FT2Font

    try:
        known = frozenset(FT2Font(file).get_charmap())
    except (OSError, RuntimeError, ValueError):
        return frozenset()
    return known if len(known) < _EVERYTHING else frozenset()


@cache
def _font_file(text: str) -> str:
    """Return our own font where it has all of a text, else the one of the system that has the most of it."""
    asked = {ord(char) for char in _plain(text)}
    own = _own_file()
    if asked <= _characters(own):
        return own
    best, most = own, len(asked & _characters(own))
    for file in _system_files():
        has = len(asked & _characters(file))
        if has > most:
            best, most = file, has
        if most == len(asked):
            break
    return best


@cache
def _system_files() -> tuple[str, ...]:
    """Return the font files of the system, upright and plain ones first."""
    from matplotlib.font_manager import findSystemFonts

    def order(file: str) -> tuple[bool, str, str]:
        name = Path(file).stem.casefold()
        return any(word in name for word in _NOT_PLAIN), name, file

    return tuple(sorted(findSystemFonts(), key=order))
