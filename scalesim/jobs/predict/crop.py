"""Close looks cut out of pictures at the tube's shape, all of one size."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.raster import visible_slices
from scalesim.jobs.predict.outcome import Outcome

CROP = (300, 400)
"""Dots of a close look: lines, samples."""


def cut(picture: NDArray, line: float, sample: float, size: tuple[int, int] = CROP) -> NDArray:
    """Return a window about a place, moved inside the picture."""
    top = int(np.clip(line - size[0] / 2, 0, max(0, picture.shape[0] - size[0])))
    left = int(np.clip(sample - size[1] / 2, 0, max(0, picture.shape[1] - size[1])))
    return picture[top : top + size[0], left : left + size[1]]


def place_on_screen(
    outcome: Outcome, line: float, sample: float, shape: tuple[int, ...]
) -> tuple[float, float]:
    """Return where a place of the source (line, sample) is on the seen picture, in its dots."""
    raster = outcome.raster
    landed = outcome.geometry.landed(raster).inverse()(line)
    across = outcome.geometry.samples.inverse()(sample)
    lines, samples = visible_slices(raster, *outcome.landed.shape[:2])
    down = (landed - lines.start) / (lines.stop - lines.start) * shape[0]
    return down, (across - samples.start) / (samples.stop - samples.start) * shape[1]
