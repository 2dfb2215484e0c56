"""A small bitmap font of this project's own design, drawn as the sheet of glyphs below.

Capitals and digits are seven lines high, small letters five, in a cell of eight lines whose last line
holds the descenders. Letters take only the samples they need; digits are all five samples wide, so that
columns of figures stand straight. Every stroke is one sample or one line thick at scale 1: text of
this kind is what a line scaler most easily breaks.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError

CELL_LINES = 8
CAPITAL_LINES = 7
FIRST_CODE = 32  # space; the sheet runs in code order up to "~" (126)
_SPACE_SAMPLES = 3
Colour = Sequence[int] | NDArray[Any]
_UNTRIMMED = frozenset("0123456789")

# 16 glyphs a block, five samples each; "#" is ink.
_SHEET = """
    ..... ..#.. .#.#. .#.#. ..#.. ##..# .##.. ..#.. ...#. .#... ..... ..... ..... ..... ..... ....#
    ..... ..#.. .#.#. .#.#. .#### ##..# #..#. ..#.. ..#.. ..#.. ..#.. ..#.. ..... ..... ..... ....#
    ..... ..#.. .#.#. ##### #.#.. ...#. #.#.. .#... .#... ...#. #.#.# ..#.. ..... ..... ..... ...#.
    ..... ..#.. ..... .#.#. .###. ..#.. .#... ..... .#... ...#. .###. ##### ..... .###. ..... ..#..
    ..... ..#.. ..... ##### ..#.# .#... #.#.# ..... .#... ...#. #.#.# ..#.. ..... ..... ..... .#...
    ..... ..... ..... .#.#. ####. #..## #..#. ..... ..#.. ..#.. ..#.. ..#.. ..##. ..... ..##. #....
    ..... ..#.. ..... .#.#. ..#.. #..## .##.# ..... ...#. .#... ..... ..... ...#. ..... ..##. #....
    ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..#.. ..... ..... .....

    .###. ..#.. .###. .###. ...#. ##### ..##. ##### .###. .###. ..... ..... ...#. ..... .#... .###.
    #...# .##.. #...# #...# ..##. #.... .#... ....# #...# #...# ..... ..... ..#.. ..... ..#.. #...#
    #..## ..#.. ....# ....# .#.#. ####. #.... ...#. #...# #...# ..#.. ..#.. .#... ##### ...#. ....#
    #.#.# ..#.. ..##. ..##. #..#. ....# ####. ...#. .###. .#### ..... ..... #.... ..... ....# ...#.
    ##..# ..#.. .#... ....# ##### ....# #...# ..#.. #...# ....# ..... ..... .#... ##### ...#. ..#..
    #...# ..#.. #.... #...# ...#. #...# #...# ..#.. #...# ...#. ..#.. ..#.. ..#.. ..... ..#.. .....
    .###. .###. ##### .###. ...#. .###. .###. ..#.. .###. .##.. ..... ..#.. ...#. ..... .#... ..#..
    ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... .#... ..... ..... ..... .....

    .###. .###. ####. .###. ####. ##### ##### .###. #...# .###. ..### #...# #.... #...# #...# .###.
    #...# #...# #...# #...# #...# #.... #.... #...# #...# ..#.. ...#. #..#. #.... ##.## ##..# #...#
    #.### #...# #...# #.... #...# #.... #.... #.... #...# ..#.. ...#. #.#.. #.... #.#.# ##..# #...#
    #.#.# #...# ####. #.... #...# ####. ####. #.### ##### ..#.. ...#. ##... #.... #.#.# #.#.# #...#
    #.### ##### #...# #.... #...# #.... #.... #...# #...# ..#.. ...#. #.#.. #.... #...# #..## #...#
    #.... #...# #...# #...# #...# #.... #.... #...# #...# ..#.. #..#. #..#. #.... #...# #..## #...#
    .#### #...# ####. .###. ####. ##### #.... .###. #...# .###. .##.. #...# ##### #...# #...# .###.
    ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... .....

    ####. .###. ####. .###. ##### #...# #...# #...# #...# #...# ##### .###. #.... .###. ..#.. .....
    #...# #...# #...# #...# ..#.. #...# #...# #...# #...# #...# ....# .#... #.... ...#. .#.#. .....
    #...# #...# #...# #.... ..#.. #...# #...# #...# .#.#. .#.#. ...#. .#... .#... ...#. #...# .....
    ####. #...# ####. .###. ..#.. #...# #...# #.#.# ..#.. .#.#. ..#.. .#... ..#.. ...#. ..... .....
    #.... #.#.# #.#.. ....# ..#.. #...# .#.#. #.#.# .#.#. ..#.. .#... .#... ...#. ...#. ..... .....
    #.... #..#. #..#. #...# ..#.. #...# .#.#. ##.## #...# ..#.. #.... .#... ....# ...#. ..... .....
    #.... .##.# #...# .###. ..#.. .###. ..#.. #...# #...# ..#.. ##### .###. ....# .###. ..... #####
    ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... .....

    .#... ..... #.... ..... ....# ..... ..##. ..... #.... ..#.. ...#. #.... .##.. ..... ..... .....
    ..#.. ..... #.... ..... ....# ..... .#... ..... #.... ..... ..... #.... ..#.. ..... ..... .....
    ..... .###. ####. .###. .#### .###. ###.. .#### ####. .##.. ..##. #..#. ..#.. ##.#. ####. .###.
    ..... ....# #...# #.... #...# #...# .#... #...# #...# ..#.. ...#. #.#.. ..#.. #.#.# #...# #...#
    ..... .#### #...# #.... #...# ##### .#... #...# #...# ..#.. ...#. ##... ..#.. #.#.# #...# #...#
    ..... #...# #...# #.... #...# #.... .#... .#### #...# ..#.. ...#. #.#.. ..#.. #.#.# #...# #...#
    ..... .#### ####. .###. .#### .###. .#... ....# #...# .###. ...#. #..#. ..##. #.#.# #...# .###.
    ..... ..... ..... ..... ..... ..... ..... .###. ..... ..... .##.. ..... ..... ..... ..... .....

    ..... ..... ..... ..... .#... ..... ..... ..... ..... ..... ..... ...#. ..#.. .#... .....
    ..... ..... ..... ..... .#... ..... ..... ..... ..... ..... ..... ..#.. ..#.. ..#.. .....
    ####. .#### #.##. .#### ###.. #...# #...# #...# #...# #...# ##### ..#.. ..#.. ..#.. .#...
    #...# #...# ##... #.... .#... #...# #...# #.#.# .#.#. #...# ...#. .#... ..#.. ...#. #.#.#
    #...# #...# #.... .###. .#... #...# .#.#. #.#.# ..#.. #...# ..#.. ..#.. ..#.. ..#.. ...#.
    ####. .#### #.... ....# .#... #...# .#.#. #.#.# .#.#. .#### .#... ..#.. ..#.. ..#.. .....
    #.... ....# #.... ####. ..##. .#### ..#.. .#.#. #...# ....# ##### ...#. ..#.. .#... .....
    #.... ....# ..... ..... ..... ..... ..... ..... ..... .###. ..... ..... ..... ..... .....

"""


@cache
def _glyphs() -> dict[str, NDArray[np.bool_]]:
    """Cut the sheet into one boolean array (8, width) per character."""
    glyphs: dict[str, NDArray[np.bool_]] = {}
    for block in _SHEET.strip().split("\n\n"):
        rows = [line.split() for line in block.splitlines()]
        for cells in zip(*rows, strict=True):
            char = chr(FIRST_CODE + len(glyphs))
            cell = np.array([[mark == "#" for mark in row] for row in cells], dtype=np.bool_)
            glyphs[char] = _trimmed(char, cell)
    return glyphs


def _trimmed(char: str, cell: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Take the empty sides off a glyph, but keep digits five samples wide."""
    if char == " ":
        return cell[:, :_SPACE_SAMPLES]
    if char in _UNTRIMMED:
        return cell
    used = np.flatnonzero(cell.any(axis=0))
    return cell[:, used[0] : used[-1] + 1]


def text_mask(text: str, *, scale: int = 1, spacing: int = 1) -> NDArray[np.bool_]:
    """Set one line of text as a mask, true where there is ink.

    Parameters:
        text: printable ASCII, codes 32 to 126; may be empty.
        scale: whole number of lines and samples per dot, at least 1.
        spacing: empty samples between glyphs before scaling, at least 0.
    Returns: bool (8 * scale, width); the width is 0 for empty text.
    Raises: ParameterError for a character without a glyph, a scale below 1 or a negative spacing.
    """
    if scale < 1:
        raise ParameterError(f"text: scale is {scale}; it must be at least 1")
    if spacing < 0:
        raise ParameterError(f"text: spacing is {spacing}; it must be at least 0")
    gap = np.zeros((CELL_LINES, spacing), dtype=np.bool_)
    parts = [np.zeros((CELL_LINES, 0), dtype=np.bool_)]
    for char in text:
        glyph = _glyphs().get(char)
        if glyph is None:
            raise ParameterError(f"text: no glyph for {char!r}; use printable ASCII (codes 32 to 126)")
        parts += [glyph, gap]
    mask = np.concatenate(parts[:-1] if text else parts, axis=1)
    return mask.repeat(scale, axis=0).repeat(scale, axis=1)


def text_width(text: str, *, scale: int = 1, spacing: int = 1) -> int:
    """Return how many samples `text_mask` would take for the same arguments."""
    return int(text_mask(text, scale=scale, spacing=spacing).shape[1])


def write(
    frame: NDArray[Any],
    text: str,
    line: int,
    sample: int,
    colour: Colour,
    *,
    scale: int = 1,
    shadow: Colour | None = None,
) -> None:
    """Draw one line of text into a frame, in place; what falls outside is cut off.

    Parameters:
        frame: (lines, samples, 3) of any dtype, changed in place.
        line, sample: top left corner of the text cell; may lie outside the frame.
        colour: (R, G, B) in the frame's own values.
        shadow: colour of a copy one dot down and one dot to the right, drawn first; None for none.
    Raises: ParameterError as `text_mask` does.
    """
    mask = text_mask(text, scale=scale)
    if shadow is not None:
        _stamp(frame, mask, line + scale, sample + scale, shadow)
    _stamp(frame, mask, line, sample, colour)


def _stamp(frame: NDArray[Any], mask: NDArray[np.bool_], line: int, sample: int, colour: Colour) -> None:
    """Colour the part of the mask that lies inside the frame."""
    top, left = max(line, 0), max(sample, 0)
    bottom = min(line + mask.shape[0], frame.shape[0])
    right = min(sample + mask.shape[1], frame.shape[1])
    if top < bottom and left < right:
        inside = mask[top - line : bottom - line, left - sample : right - sample]
        frame[top:bottom, left:right][inside] = colour
