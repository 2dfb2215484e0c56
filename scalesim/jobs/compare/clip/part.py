"""Which part of the screen a comparison clip shows, and how large: the same for every panel, in whole dots.

The ground is the whole raster as the tube shows it. Its height is a whole number of dots for every scan line
of the panel with the fewest, so chosen that the lines of the others are whole dots, too: 240 lines at 4 dots
are 480 at 2. Where lines cannot all be whole (240 beside 288), those of the fewest are, and it is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor, lcm

from scalesim.core.raster import Window
from scalesim.errors import ParameterError
from scalesim.jobs.compare.clip.layout import Box, Layout

_AS_GOOD = 0.98
_FINEST = 16
"""Most dots a line that are asked for to make the lines of all panels whole."""


@dataclass(frozen=True)
class Part:
    """A part of the screen in dots.

    Parameters:
        zoom : dots of a line of the panel with the fewest; lines : how many it has
        whole : (height, width) of the whole raster
        box : the part of it that is shown
    """

    zoom: int
    lines: int
    whole: tuple[int, int]
    box: Box

    def pitch(self, lines: int) -> Fraction:
        """Return the dots of a line of a raster of so many."""
        return Fraction(self.zoom * self.lines, lines)

    @property
    def window(self) -> Window:
        """The part as shares of the raster's height and width."""
        (height, width), box = self.whole, self.box
        return Window(box.top / height, box.bottom / height, box.left / width, box.right / width)


def part_for(
    lines: Sequence[int],
    aspect: Fraction,
    seen: Window,
    room: Box,
    layout: Layout,
    *,
    zoom: int | None = None,
    crop: Window | None = None,
) -> Part:
    """Return the part that is shown in a room.

    Parameters:
        lines : of every panel's raster; aspect : of the tube; room : of every picture
        seen : what there is to show, shares of the raster
        zoom : dots of a line; None chooses
        crop : what is to be seen of that, as large as shows all of it; None for as much as fills the room
    Raises: ParameterError for a zoom without room for a line
    """
    fewest = min(lines)
    if crop is not None:
        seen = _inside(seen, crop)
    down, across = seen.bottom - seen.top, seen.right - seen.left
    whole_at_one = (down * fewest, across * fewest * float(aspect))
    if zoom is None:
        zoom = _zoom(
            whole_at_one, room, _step(lines), 2 if layout == "wipe" else 0.75, all_of_it=crop is not None
        )
    if not 1 <= zoom <= room.height:
        raise ParameterError(
            f"zoom is {zoom}; a line takes 1 to {room.height} dots in this layout: choose another"
        )
    whole = (zoom * fewest, round(zoom * fewest * float(aspect)))
    first, last = floor(seen.top * fewest + 1e-6), floor(seen.bottom * fewest + 1e-6)
    begin, end = round(seen.left * whole[1]), round(seen.right * whole[1])
    count = max(1, min(room.height // zoom, last - first))
    width = min(room.width, end - begin)
    v, u = (seen.top + seen.bottom) / 2, (seen.left + seen.right) / 2
    top = min(max(first, round(v * fewest - count / 2)), last - count)
    left = min(max(begin, round(u * whole[1] - width / 2)), end - width)
    return Part(zoom, fewest, whole, Box(zoom * top, left, zoom * count, width))


def _inside(seen: Window, crop: Window) -> Window:
    """Return what of a crop is to be seen. Raises: ParameterError for nothing"""
    top, bottom = max(seen.top, crop.top), min(seen.bottom, crop.bottom)
    left, right = max(seen.left, crop.left), min(seen.right, crop.right)
    if top >= bottom or left >= right:
        raise ParameterError("crop shows nothing of the screen: choose another part of the source")
    return Window(top, bottom, left, right)


def _step(lines: Sequence[int]) -> int:
    """Return of what the zoom must be a multiple for lines of all panels to be whole dots; 1 for too much."""
    step = 1
    for count in lines:
        both = lcm(step, Fraction(count, min(lines)).numerator)
        step = both if both <= _FINEST else step
    return step


def _zoom(seen: tuple[float, float], room: Box, step: int, care: float, *, all_of_it: bool) -> int:
    """Return the zoom that fills most of a room with most of a picture; of nearly equal ones the largest.

    Parameters:
        seen : (height, width) of the picture at one dot a line; step : the zoom is a multiple of it
        care : how much more to see all of the picture counts than to fill the room
        all_of_it : leave nothing out, if that can be
    """
    most = min(room.height / seen[0], room.width / seen[1])
    if all_of_it:
        return max(step, int(most / step + 1e-9) * step)
    worth = {}
    for zoom in range(step, room.height + 1, step):
        filled = shown = 1.0
        for side, space in zip(seen, (room.height, room.width), strict=True):
            filled *= min(1.0, zoom * side / space)
            shown *= min(1.0, space / (zoom * side))
        worth[zoom] = filled * shown**care
    if not worth:
        return step
    best = max(worth.values())
    return max(zoom for zoom, value in worth.items() if value >= _AS_GOOD * best)
