"""Where everything stands in a comparison clip: boxes for pictures and for words, in dots of the frame.

Pictures stay inside the safe action area, 93 % of the frame's width and height, words inside the safe title
area, 90 % of them, both in the middle (SMPTE ST 2046-1:2009). Sizes are those of 1080 lines; a frame of 2160
has everything twice as large.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor
from typing import Literal

from scalesim.errors import ParameterError, nearest

Layout = Literal["beside", "stacked", "wipe"]
LAYOUTS: tuple[Layout, ...] = ("beside", "stacked", "wipe")
SIZES = {1080: (1080, 1920), 2160: (2160, 3840)}
ACTION, TITLE = 0.93, 0.90
MOST_PANELS = 4

_LETTERS = 26
"""Height of a caption's letters in a frame of 1080 lines."""

_GAP = 10
_FOOT = 0.75
"""Letters of the line below everything, of a caption's."""


@dataclass(frozen=True)
class Box:
    """A part of the frame, in dots from the top left."""

    top: int
    left: int
    height: int
    width: int

    @property
    def bottom(self) -> int:
        """The first row below it."""
        return self.top + self.height

    @property
    def right(self) -> int:
        """The first dot beside it."""
        return self.left + self.width

    def below(self, other: Box, gap: int) -> Box:
        """Return the box moved up to a gap below another, and cut to its sides."""
        left, right = max(self.left, other.left), min(self.right, other.right)
        return Box(min(self.top, other.bottom + gap), left, self.height, max(right - left, 1))

    def within(self, size: tuple[int, int]) -> Box:
        """Return a box of a size, at most its own, in the middle of it."""
        height, width = min(size[0], self.height), min(size[1], self.width)
        return Box(
            self.top + (self.height - height) // 2, self.left + (self.width - width) // 2, height, width
        )


@dataclass(frozen=True)
class Places:
    """What stands where.

    Parameters:
        size : (height, width) of the frame
        rooms : for each panel, the most its picture may take; a wipe's panels share one
        captions : for each panel, where its words stand
        foot : where the words on all of it stand
        letters : height of a caption's letters; foot_letters : of the words on all of it
    """

    size: tuple[int, int]
    rooms: tuple[Box, ...]
    captions: tuple[Box, ...]
    foot: Box
    letters: int
    foot_letters: int


def safe_area(size: tuple[int, int], share: float) -> Box:
    """Return the whole dots inside a share of a frame's height and width, in its middle."""
    height, width = size
    top, left = (ceil(side * (1 - share) / 2 - 1e-9) for side in size)
    return Box(
        top, left, floor(height * (1 + share) / 2 + 1e-9) - top, floor(width * (1 + share) / 2 + 1e-9) - left
    )


def places_for(layout: str, panels: int, size: int) -> Places:
    """Return what stands where.

    Parameters:  layout : of `LAYOUTS`; panels : 2 to 4; size : lines of the frame, 1080 or 2160
    Raises: ParameterError
    """
    if layout not in LAYOUTS:
        raise ParameterError(f"layout is {layout!r}; {nearest(str(layout), LAYOUTS)}")
    if not 2 <= panels <= MOST_PANELS:
        raise ParameterError(
            f"a comparison clip shows 2 to {MOST_PANELS} chains and captures; {panels} "
            f"{'was' if panels == 1 else 'were'} given"
        )
    if size not in SIZES:
        raise ParameterError(f"size is {size!r}; it is 1080 (1920x1080) or 2160 (3840x2160)")
    frame = SIZES[size]
    unit = size // 1080
    letters, gap = _LETTERS * unit, _GAP * unit
    words, action = safe_area(frame, TITLE), safe_area(frame, ACTION)
    line, foot = round(1.4 * letters), round(1.4 * _FOOT * letters)
    below = Box(words.bottom - foot, words.left, foot, words.width)
    room = Box(action.top, action.left, below.top - gap - action.top, action.width)
    make = {"beside": _beside, "stacked": _stacked, "wipe": _wipe}[layout]
    rooms, captions = make(room, words, panels, line, gap)
    return Places(frame, rooms, captions, below, letters, round(_FOOT * letters))


def _beside(
    room: Box, words: Box, panels: int, line: int, gap: int
) -> tuple[tuple[Box, ...], tuple[Box, ...]]:
    """Pictures in a row, their words below each."""
    width = (room.width - (panels - 1) * gap) // panels
    lefts = [room.left + k * (width + gap) for k in range(panels)]
    rooms = tuple(Box(room.top, left, room.height - line - gap, width) for left in lefts)
    captions = tuple(_cut(Box(room.bottom - line, left, line, width), words) for left in lefts)
    return rooms, captions


def _stacked(
    room: Box, words: Box, panels: int, line: int, gap: int
) -> tuple[tuple[Box, ...], tuple[Box, ...]]:
    """Pictures in a column, their words below each."""
    height = (room.height - (panels - 1) * gap) // panels
    tops = [room.top + k * (height + gap) for k in range(panels)]
    rooms = tuple(Box(top, room.left, height - line, room.width) for top in tops)
    captions = tuple(_cut(Box(top + height - line, room.left, line, room.width), words) for top in tops)
    return rooms, captions


def _wipe(room: Box, words: Box, panels: int, line: int, gap: int) -> tuple[tuple[Box, ...], tuple[Box, ...]]:
    """One picture; the words stand on the side of the line where their panel is seen."""
    half = (words.width - 2 * gap) // 2
    left = Box(room.bottom - line, words.left, line, half)
    right = Box(room.bottom - line, words.right - half, line, half)
    return (Box(room.top, room.left, room.height - line - gap, room.width),) * panels, (left, right)


def _cut(box: Box, words: Box) -> Box:
    """Return what of a box lies in the area for words."""
    top, left = max(box.top, words.top), max(box.left, words.left)
    return Box(top, left, min(box.bottom, words.bottom) - top, min(box.right, words.right) - left)


def one_of(name: str, value: str, known: Sequence[str]) -> str:
    """Return a word of a list; raise ParameterError for another."""
    if value not in known:
        raise ParameterError(f"{name} is {value!r}; {nearest(str(value), known)}")
    return value
