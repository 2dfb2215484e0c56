"""Lines of words on a plain ground: the captions of a clip, drawn once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK, PAPER, drawable, font, write_line


@dataclass(frozen=True)
class Caption:
    """One line of words. Where it has no room its middle goes: names differ at their ends as often.

    Parameters:
        text : the words
        top, left, width : its room, in dots
        letters : their height in dots; colour : R'G'B' codes
        at_right : they end at the right of their room
    """

    text: str
    top: int
    left: int
    width: int
    letters: int
    colour: tuple[int, int, int] = INK
    at_right: bool = False


def captioned(size: tuple[int, int], captions: Iterable[Caption]) -> NDArray[np.uint8]:
    """Return a ground of a size, (lines, samples, 3) uint8, with its captions."""
    from PIL import Image, ImageDraw

    sheet = Image.new("RGB", size[::-1], PAPER)
    pen = ImageDraw.Draw(sheet)
    for each in captions:
        text = without_middle(each.text, each.letters, each.width)
        left = each.left
        if each.at_right:
            left += max(0, int(each.width - font(each.letters, text).getlength(text)))
        write_line(pen, (left, each.top), text, each.letters, each.colour, each.left + each.width - left)
    return np.asarray(sheet)


def without_middle(text: str, size: int, room: int) -> str:
    """Return as much of a text, from both ends, as a line of letters of a size has room for, in dots."""
    letters, text = font(size, text), drawable(text)
    kept = len(text)
    shown = text
    while kept and letters.getlength(shown) > room:
        kept -= 1
        end = kept // 2
        shown = f"{text[: kept - end].rstrip()}…{text[len(text) - end :].lstrip()}"
    return shown
