"""The flicker map as a picture for people: where the light alternates, with a scale to read it by."""

from __future__ import annotations

from math import ceil

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK, PAPER, QUIET, font

FULL_SCALE = (5.0, 10.0, 25.0, 50.0, 100.0)
"""Ends of the scale, percent of white: the least that holds 99.9 % of the places is taken."""

_HEIGHT = 960
_STRIP = 74


def flicker_picture(found: NDArray, aspect: float, limit: float) -> NDArray:
    """Return the map with its scale below, (lines, samples, 3) uint8.

    Rows are frame lines, each the same whole number of dots tall; along the line every sample is shown as
    the same whole number of dots.

    Parameters:
        found : (frame lines, samples) light that alternates, percent of white
        aspect : width of the picture over its height
        limit : percent above which an area is counted
    """
    from matplotlib import colormaps
    from PIL import Image, ImageDraw

    top = _end_of_scale(found)
    colours = colormaps["inferno"]
    shades = (colours(np.clip(found / top, 0, 1))[..., :3] * 255 + 0.5).astype(np.uint8)
    tall = max(1, round(_HEIGHT / found.shape[0]))
    wide = max(1, round(found.shape[0] * tall * aspect / found.shape[1]))
    shown = np.repeat(np.repeat(shades, tall, axis=0), wide, axis=1)
    sheet = Image.new("RGB", (max(shown.shape[1], 640), shown.shape[0] + _STRIP), PAPER)
    sheet.paste(Image.fromarray(shown))
    pen = ImageDraw.Draw(sheet)
    length, left, below = 360, 16, shown.shape[0] + 14
    ramp = (colours(np.linspace(0, 1, length))[None, :, :3] * 255 + 0.5).astype(np.uint8)
    sheet.paste(Image.fromarray(np.repeat(ramp, 18, axis=0)), (left, below))
    for value in sorted({0.0, top, limit if top > limit else top / 2}):
        x = left + round(value / top * (length - 1))
        pen.line((x, below + 18, x, below + 24), QUIET)
        pen.text((x, below + 26), f"{value:g}", INK, font(15), anchor="ma")
    over = 100 * float((found > limit).mean())
    words = (
        f"flicker, % of white: mean {found.mean():.2f},",
        f"{over:.1f} % of the area above {limit:g}",
    )
    for row, text in enumerate(words):
        pen.text((left + length + 28, below - 4 + 22 * row), text, INK, font(15))
    return np.asarray(sheet)


def _end_of_scale(found: NDArray) -> float:
    most = float(np.percentile(found, 99.9)) if found.size else 0.0
    return next((end for end in FULL_SCALE if end >= most), float(ceil(most)))
