"""Line icons for the cargo list of `ninth_lock_menu`, 11 x 11 dots, drawn in strokes one dot thick."""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError

ICON_SIZE = 11
_NAMES = (
    ("rope", "lamp", "fish", "chest", "clock", "bell"),
    ("letter", "sack", "plank", "jar", "key", "coal"),
)

_SHEETS = (
    """
    ...#####... ....###.... ........... ........... ...#####... .....#.....
    ..#.....#.. ...#...#... ........... .#########. ..#.....#.. ....###....
    .#..###..#. ...#...#... ...#####..# #.#.....#.# .#...#...#. ...#...#...
    .#.#...#.#. ..#######.. ..#.....#.# #.#.....#.# #....#....# ..#.....#..
    .#.#...#.#. ..#..#..#.. .#.#.....## ########### #....#....# ..#.....#..
    .#..###..#. ..#.###.#.. #.........# #...###...# #....###..# ..#.....#..
    ..#.....#.. ..#.###.#.. .#.......## #...#.#...# #.........# ..#.....#..
    ...######.. ..#..#..#.. ..#.....#.# #...###...# .#.......#. .#.......#.
    ........#.. ..#######.. ...#####..# #.........# ..#.....#.. ###########
    .......#... .#.......#. ........... ########### ...#####... .....#.....
    ......#.... .#########. ........... ........... ..#.....#.. ....###....
    """,
    """
    ........... ...#...#... ........### ...#####... ........... .....##....
    ########### ....###.... .......#..# ...#...#... ..###...... ....#..#...
    ##.......## ....#.#.... ......#...# ..#.....#.. .#...#..... ...#....#..
    #.#.....#.# ...#...#... .....#...#. .#.......#. #..#..#.... ..##...#.#.
    #..#...#..# ..#.....#.. ....#...#.. .#.......#. #.#.#.##### .#..###...#
    #...#.#...# .#.......#. ...#...#... .#########. #..#..#.#.# #....#....#
    #..#.#.#..# .#..###..#. ..#...#.... .#.#.#.#.#. .#...#..#.# #.....#..#.
    #.#.....#.# #...#.#...# .#...#..... .#..#.#..#. ..###...#.. .#...#..#..
    ##.......## #...###...# #...#...... .#.......#. ........... ..#.#..#...
    ########### .#.......#. #..#....... ..#.....#.. ........... ...####....
    ........... ..#######.. ###........ ...#####... ........... ...........
    """,
)


@cache
def _icons() -> dict[str, NDArray[np.bool_]]:
    """Cut the sheets into one mask per name."""
    icons: dict[str, NDArray[np.bool_]] = {}
    for names, sheet in zip(_NAMES, _SHEETS, strict=True):
        rows = [line.split() for line in sheet.strip().splitlines()]
        for name, cells in zip(names, zip(*rows, strict=True), strict=True):
            icons[name] = np.array(
                [[mark == "#" for mark in row[:ICON_SIZE]] for row in cells], dtype=np.bool_
            )
    return icons


def icon_mask(name: str) -> NDArray[np.bool_]:
    """Return the strokes of an icon, bool (11, 11).

    Raises: ParameterError for an unknown name.
    """
    if name not in _icons():
        raise ParameterError(f"icon: unknown name {name!r}; valid: {', '.join(sorted(_icons()))}")
    return _icons()[name]
