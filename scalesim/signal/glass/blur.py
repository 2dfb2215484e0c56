"""How far a camera blurs: from the sharpest edges outside the lines (a bezel's letters and rims)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

REACH = 7
FEWEST = 25
SHARPEST = 0.2
"""Share of edges taken as the sharp ones: most edges are softer than the camera."""


def edge_blur(light: NDArray[np.float32], outside: NDArray[np.bool_]) -> tuple[float, int] | None:
    """Return (sigma in pixels, edges) of the sharp edges of a part of a photo; None when it has too few.

    A step blurred by a Gaussian has the steepest slope contrast / (sigma sqrt(2 pi)); definition of this
    project. Upright edges are taken, across which neither lines nor their shutter matter.

    Parameters:  light : (rows, columns); outside : where edges may be
    """
    slope = np.abs(light[:, 2:] - light[:, :-2]) / 2
    room = outside[:, 1:-1].copy()
    room[:, :REACH] = room[:, -REACH:] = False
    if not room.any():
        return None
    strong = room & (slope > 0.25 * np.percentile(slope[room], 99.5))
    top = strong[:, 1:-1] & (slope[:, 1:-1] >= slope[:, :-2]) & (slope[:, 1:-1] > slope[:, 2:])
    rows, columns = np.nonzero(top)
    if len(rows) < FEWEST:
        return None
    pick = np.linspace(0, len(rows) - 1, min(len(rows), 4000)).astype(int)
    rows, columns = rows[pick], columns[pick] + 2
    keep = (columns >= REACH) & (columns < light.shape[1] - REACH)
    rows, columns = rows[keep], columns[keep]
    around = light[rows[:, None], columns[:, None] + np.arange(-REACH, REACH + 1)].astype(np.float64)
    low, high = around[:, :3].mean(axis=1), around[:, -3:].mean(axis=1)
    contrast = np.abs(high - low)
    flat = np.maximum(np.ptp(around[:, :3], axis=1), np.ptp(around[:, -3:], axis=1)) < 0.15 * contrast
    steps = np.diff(around, axis=1) * np.sign(high - low)[:, None]
    good = flat & (steps.min(axis=1) > -0.12 * contrast) & (contrast > 0)
    if good.sum() < FEWEST:
        return None
    # second moment of the slope: it does not need the steepest point to lie on a pixel
    places = np.arange(steps.shape[1]) - (steps.shape[1] - 1) / 2
    weight = np.maximum(steps[good], 0)
    total = weight.sum(axis=1)
    middle = (weight * places).sum(axis=1) / total
    spread = (weight * (places - middle[:, None]) ** 2).sum(axis=1) / total
    # a difference of neighbours adds the spread of a pixel, 1/12 each
    sigma = np.sqrt(np.maximum(spread - 1 / 12, 0.01))
    return float(np.quantile(sigma, SHARPEST)), int(good.sum())
