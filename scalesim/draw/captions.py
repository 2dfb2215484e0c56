"""Lines of words on a plain ground: the captions of a clip, drawn once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK, PAPER, drawable, font, write_line


@dataclass(frozen=True)
class Caption:
    """One line of words, cut where it has no room.

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
        left = each.left
        if each.at_right:
            free = each.width - font(each.letters).getlength(drawable(each.text))
            left += max(0, int(free))
        room = each.left + each.width - left
        write_line(pen, (left, each.top), each.text, each.letters, each.colour, room)
    return np.asarray(sheet)
