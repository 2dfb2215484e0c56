"""The cottage of `pocket_orchard`: shingles, timbered wall, door and windows."""

from __future__ import annotations

import numpy as np

from scalesim.demo.pocket_orchard.ground import LINES, SAMPLES, shadow
from scalesim.demo.pocket_orchard.sprites import INK
from scalesim.draw.pixelart import Frame, grid, grown, paint, polygon, ramp, rgb, shade, speckle

_ROOF = ramp("541f38 84303f b54743 dd6f50 f5a06c ffd09a")


def cottage(frame: Frame) -> None:
    """Build the cottage: shingled roof, timbered wall, door, windows with flower boxes, chimney."""
    shadow(frame, (60, 52, 8, 47))
    _wall(frame)
    _roof(frame)
    frame[2:16, 70:80] = rgb(INK)
    frame[3:15, 71:79] = rgb("a06a5c")
    frame[3:15, 71:73] = rgb("c8947a")
    frame[6:15:4, 71:79] = rgb("6b4436")
    frame[1:4, 69:81] = rgb(INK)
    frame[2, 70:80] = rgb("e2d6c8")


def _roof(frame: Frame) -> None:
    """Lay rows of round-ended shingles on a roof that widens downwards."""
    y, x = grid(LINES, SAMPLES)
    shape = polygon(LINES, SAMPLES, [(5, 19), (5, 85), (38, 94), (38, 10)])
    row = ((y - 5) // 5).astype(np.intp)
    across = (x + 3 * (row % 2)) % 6
    down = (y - 5) % 5
    tint = speckle(16, 64, 14)[row % 16, ((x + 3 * (row % 2)) // 6).astype(np.intp) % 64]
    level = 0.74 - 0.006 * (x - 10) - 0.008 * (y - 5) + 0.2 * (tint - 0.5) + 0.16 * (down == 0)
    gap = (down == 4) | ((across == 5) & (down > 1)) | ((down == 3) & ((across == 0) | (across == 4)))
    paint(frame, grown(shape), rgb(INK))
    paint(frame, shape, shade(np.where(gap, level - 0.34, level), _ROOF, dither=0.0))
    frame[5:7, 19:86] = rgb("ffd09a")
    frame[7, 18:86] = rgb("84303f")
    frame[38:40, 10:95] = rgb("f5a06c")
    frame[40, 10:95] = rgb(INK)


def _wall(frame: Frame) -> None:
    """Raise the wall below the roof."""
    frame[38:66, 14:91] = rgb(INK)
    frame[40:65, 15:90] = rgb("f6e2b8")
    frame[41:45, 15:90] = rgb("c9a888")
    frame[61:65, 15:90] = rgb("8a8494")
    frame[61, 15:90] = rgb("b8aeb0")
    frame[61:65, 20:90:8] = rgb("5f5a70")
    for sample in (15, 42, 62, 87):
        frame[41:61, sample : sample + 3] = rgb("8a5230")
        frame[41:61, sample] = rgb("b0763f")
    for left in (22, 68):
        _casement(frame, 46, left)
    frame[43:65, 45:62] = rgb(INK)
    frame[44:65, 46:61] = rgb("3d8a84")
    frame[44:65, 46:48] = rgb("6fbcae")
    frame[44:65, 51:61:5] = rgb("2a5f68")
    frame[47:52, 50:57] = rgb(INK)
    frame[48:51, 51:56] = rgb("ffe27a")
    frame[56, 58] = rgb("ffe27a")
    frame[65:68, 44:63] = rgb("b8aeb0")
    frame[67, 44:63] = rgb("5f5a70")


def _casement(frame: Frame, line: int, left: int) -> None:
    """Put in a window with panes and a box of flowers."""
    frame[line : line + 11, left : left + 15] = rgb("8a5230")
    frame[line + 1 : line + 10, left + 1 : left + 14] = rgb("5aa8bc")
    for step in range(5):
        frame[line + 5 - step, left + 2 + step] = rgb("d8f5e4")
        frame[line + 8 - step, left + 2 + step] = rgb("90d4cc")
    frame[line : line + 11, left + 7] = rgb("fdf0d0")
    frame[line + 5, left : left + 15] = rgb("fdf0d0")
    frame[line + 10 : line + 13, left - 1 : left + 16] = rgb("b0763f")
    for step in range(0, 16, 2):
        frame[line + 8 + step % 4 // 2, left + step] = rgb(("e2483f", "ffd0d8", "ffe27a")[step % 3])
        frame[line + 9 + step % 4 // 2, left + step] = rgb("3f8a4c")
