"""Stills for a video edit: the main comparison of a frame, captioned inside the title-safe area.

Two sizes, of which the larger is the smaller with every dot doubled but its letters drawn afresh. All
content lies inside the middle 90 % of height and width: the safe title area of SMPTE ST 2046-1:2009.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK, PAPER, QUIET, write_line
from scalesim.result import Still

SIZES = ((1920, 1080), (3840, 2160))
SAFE = 0.9
_TITLE, _CAPTION, _FOOT = 58, 66, 36
"""Dots kept for the title, for each caption and for the last line, of the smaller size."""
_GAP = 24
_BASE = SIZES[0]


def still_picture(still: Still, size: tuple[int, int]) -> NDArray:
    """Return one still, (height, width, 3) uint8, of at most four tiles.

    Parameters:  size : (width, height), one of `SIZES`
    """
    from PIL import Image, ImageDraw

    times = size[0] // _BASE[0]
    sheet = Image.new("RGB", size, PAPER)
    pen = ImageDraw.Draw(sheet)
    left, top = (round(each * (1 - SAFE) / 2) for each in size)
    wide = size[0] - 2 * left
    write_line(pen, (left, top), still.title, 34 * times, INK, wide)
    write_line(pen, (left, size[1] - top - 26 * times), still.foot, 20 * times, QUIET, wide)
    cells = _cells(len(still.tiles))
    scale = _scale(still.crop, cells[0])
    for tile, (x, y, width, height) in zip(still.tiles, cells, strict=True):
        dots = tile.cut(height / scale, width / scale, scale * times)
        sheet.paste(Image.fromarray(dots), (x * times, y * times))
        room = width * times
        write_line(pen, (x * times, (y + height + 6) * times), tile.label, 24 * times, INK, room)
        write_line(pen, (x * times, (y + height + 37) * times), tile.said, 19 * times, QUIET, room)
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


def _scale(crop: tuple[float, float], cell: tuple[int, int, int, int]) -> int:
    """Return the largest whole dots a unit at which a cell still shows half the crop's area."""
    area = crop[0] * crop[1] / 2
    return max(1, int((cell[2] * cell[3] / area) ** 0.5))
