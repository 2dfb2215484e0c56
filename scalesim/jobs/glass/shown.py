"""The photo as it is shown: set upright, a part large enough to see lines in, with ticks where they lie."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.glass.measured import Measured
from scalesim.signal.rectify.sampled import reduced, sampled
from scalesim.signal.rectify.view import View

WIDE = 960
TALL = 720
TICK = (255, 196, 0)
"""Amber: told from any picture's colours by its place, at the left and right end of every line."""


def rectified(photo: NDArray[np.uint8], found: Measured | None, rect: View | None) -> NDArray[np.float32]:
    """Return (lines, samples, 3) codes 0..1: the whole picture seen square, or the photo with its lines
    level."""
    return _looked(photo, _places(photo, found, rect))


def marked(photo: NDArray[np.uint8], found: Measured) -> NDArray[np.float32]:
    """Return a close look at the middle, lines level and 8 dots or more high, ticks at both of their ends."""
    xy, phase = _close(photo, found)
    out = _looked(photo, xy)
    near = np.abs(phase - np.round(phase))
    line = near <= np.abs(np.gradient(phase, axis=0)) * 0.75
    amber = np.array(TICK, dtype=np.float32) / 255
    for part in (slice(0, 14), slice(-14, None)):
        out[:, part][~line[:, part]] *= 0.25
        out[:, part][line[:, part]] = amber
    return out


def _looked(photo: NDArray[np.uint8], xy: NDArray) -> NDArray[np.float32]:
    """Return the photo at (rows, columns, 2) pixels, black outside; only the part that is looked at is
    taken."""
    step = max(1, int(np.abs(xy[-1, -1] - xy[0, 0]).max() / max(xy.shape[:2]) / 1.5))
    left, top = np.maximum(np.floor(xy.reshape(-1, 2).min(axis=0)).astype(int) - 2, 0)
    right, bottom = np.ceil(xy.reshape(-1, 2).max(axis=0)).astype(int) + 3
    part = reduced(photo[top : max(bottom, top + step), left : max(right, left + step)], step)
    at = (xy.reshape(-1, 2) - np.array([left, top]) + 0.5) / step - 0.5
    out = np.nan_to_num(sampled(part.astype(np.float32) / 255, at))
    return np.asarray(out.reshape(*xy.shape[:2], 3), dtype=np.float32)


def _places(photo: NDArray, found: Measured | None, rect: View | None) -> NDArray[np.float64]:
    if rect is not None:
        u, v = np.meshgrid((np.arange(WIDE) + 0.5) / WIDE, (np.arange(TALL) + 0.5) / TALL)
        flat = rect.to_photo(np.column_stack([u.ravel(), v.ravel()]))
        return np.asarray(flat.reshape(TALL, WIDE, 2))
    scale = max(photo.shape[0] / TALL, photo.shape[1] / WIDE, 0.25)
    rows, columns = int(photo.shape[0] / scale), int(photo.shape[1] / scale)
    turn = 0.0 if found is None else np.radians(found.roll)
    x, y = np.meshgrid(
        (np.arange(columns) + 0.5 - columns / 2) * scale, (np.arange(rows) + 0.5 - rows / 2) * scale
    )
    return _turned(x, y, turn, photo)


def _close(photo: NDArray, found: Measured) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return (rows, columns, 2) pixels of the middle of where lines are, and their phase there."""
    scale = min(1.0, found.period / 8)
    rows = min(480, int(photo.shape[0] / scale))
    columns = min(WIDE, int(photo.shape[1] / scale))
    x, y = np.meshgrid(
        (np.arange(columns) + 0.5 - columns / 2) * scale, (np.arange(rows) + 0.5 - rows / 2) * scale
    )
    lines = found.found.lines
    trusted = np.argwhere(found.found.fit.used)
    middle = trusted.mean(axis=0) if len(trusted) else np.array(found.found.fit.used.shape) / 2
    size = np.array(found.found.fit.cells.size) * found.found.view.factor
    at = (middle + 0.5) * size - np.array(photo.shape[:2]) / 2
    xy = _turned(x, y, np.radians(found.roll), photo, (float(at[1]), float(at[0])))
    z = found.found.fit.cells.z[found.found.fit.used]
    whole = float(np.angle(np.sum(z)) / (2 * np.pi))
    return xy, lines.phase(xy[..., 0], xy[..., 1]) + whole


def _turned(
    x: NDArray, y: NDArray, turn: float, photo: NDArray, off: tuple[float, float] = (0.0, 0.0)
) -> NDArray[np.float64]:
    # direction is positive where lines fall to the right
    across = x * np.cos(turn) - y * np.sin(turn) + (photo.shape[1] - 1) / 2 + off[0]
    down = x * np.sin(turn) + y * np.cos(turn) + (photo.shape[0] - 1) / 2 + off[1]
    return np.stack([across, down], axis=-1)
