"""Figures and a few capitals, five samples by seven lines, for the rulers of close looks."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

HEIGHT, WIDTH = 7, 5

# one glyph a column of the sheet; "#" is ink
_NAMES = "0123456789DEFIL"
_SHEET = """
    .###. ..#.. .###. ##### ...#. ##### .###. ##### .###. .###. ####. ##### ##### .###. #....
    #...# .##.. #...# ....# ..##. #.... #...# ....# #...# #...# #...# #.... #.... ..#.. #....
    #...# ..#.. ....# ...#. .#.#. ####. #.... ...#. #...# #...# #...# #.... #.... ..#.. #....
    #...# ..#.. ...#. ..##. #..#. ....# ####. ...#. .###. .#### #...# ####. ####. ..#.. #....
    #...# ..#.. ..#.. ....# ##### ....# #...# ..#.. #...# ....# #...# #.... #.... ..#.. #....
    #...# ..#.. .#... #...# ...#. #...# #...# ..#.. #...# #...# #...# #.... #.... ..#.. #....
    .###. .###. ##### .###. ...#. .###. .###. ..#.. .###. .###. ####. ##### #.... .###. #####
"""
_ROWS = [line.split() for line in _SHEET.strip().splitlines()]
_GLYPHS = {name: np.array([[dot == "#" for dot in row[k]] for row in _ROWS]) for k, name in enumerate(_NAMES)}


def text_size(text: str, zoom: int) -> tuple[int, int]:
    """Return the (lines, samples) that a text takes."""
    return HEIGHT * zoom, max(0, len(text) * (WIDTH + 1) - 1) * zoom


def draw_text(picture: NDArray, text: str, top: int, left: int, zoom: int, colour: NDArray) -> None:
    """Write `text` into (lines, samples, 3) from its top left on; what falls outside is left off.

    Spaces and the sheet's glyphs only; `zoom` is a whole number of dots for each of a glyph's.
    """
    lines, samples = text_size(text, 1)
    ink = np.zeros((lines, samples), dtype=bool)
    for k, name in enumerate(text):
        if name != " ":
            ink[:, k * (WIDTH + 1) : k * (WIDTH + 1) + WIDTH] = _GLYPHS[name]
    row, dot = np.nonzero(np.kron(ink, np.ones((zoom, zoom), dtype=bool)))
    row, dot = row + top, dot + left
    inside = (row >= 0) & (row < picture.shape[0]) & (dot >= 0) & (dot < picture.shape[1])
    picture[row[inside], dot[inside]] = colour
