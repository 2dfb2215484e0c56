"""One picture that says what the program does: a close look before and after some chains, labelled."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.letters import write

_STRIP = 34
_GAP = 10
_PAPER = 251
_INK = (31, 35, 40)


def overview(panels: list[tuple[str, NDArray]], columns: int = 2) -> NDArray:
    """Return labelled panels on a light ground, row by row.

    Parameters:  panels : (label, (lines, samples, 3) float code values), none larger than the last
    Returns:     (lines, samples, 3) uint8
    """
    height, width = panels[-1][1].shape[:2]
    rows = -(-len(panels) // columns)
    shape = (rows * (height + _STRIP + _GAP) + _GAP, columns * (width + _GAP) + _GAP, 3)
    sheet = np.full(shape, _PAPER, dtype=np.uint8)
    for number, (label, values) in enumerate(panels):
        top = _GAP + (number // columns) * (height + _STRIP + _GAP)
        left = _GAP + (number % columns) * (width + _GAP)
        codes = np.floor(np.clip(values, 0, 1) * 255 + 0.5).astype(np.uint8)
        sheet[top + height - codes.shape[0] : top + height, left : left + codes.shape[1]] = codes
        write(sheet, label, top + height + 9, left, _INK, scale=2)
    return sheet
