"""How the camera moved between two exposures, from parts that belong to the tube and not to its picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

TILE = (64, 40)
"""Rows and columns: a bezel beside the picture is narrow."""
HOP = (32, 12)
FEWEST = 3
AGREE_PX = 0.35
ALIKE_PX = 1.0


@dataclass(frozen=True, eq=False)
class Motion:
    """A shift with turn and scale: xy_b = middle + matrix (xy_a - middle) + shift.

    Parameters:  residual : rms of the tiles, pixels; tiles : how many
    """

    matrix: NDArray[np.float64]
    shift: NDArray[np.float64]
    middle: NDArray[np.float64]
    residual: float
    tiles: int

    def __call__(self, xy: NDArray) -> NDArray[np.float64]:
        """Return where (n, 2) pixels of the first lie in the second."""
        return np.asarray((xy - self.middle) @ self.matrix.T + self.middle + self.shift)


STILL = Motion(np.eye(2), np.zeros(2), np.zeros(2), 0.0, 0)


def outside(used: NDArray[np.bool_], size: tuple[int, int], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return (rows, columns) what lies outside the hull of the lines, by a cell.

    Parameters:  used : cells with lines; size : pixels (down, across) of a cell; shape : of the photo
    """
    from scipy.ndimage import binary_dilation, binary_opening
    from skimage.morphology import convex_hull_image

    clean = binary_opening(used, iterations=2)
    hull = convex_hull_image(clean) if clean.any() else np.zeros_like(used)
    wide = binary_dilation(hull, iterations=1)
    rows = np.minimum(np.arange(shape[0]) // size[0], used.shape[0] - 1)
    columns = np.minimum(np.arange(shape[1]) // size[1], used.shape[1] - 1)
    return np.asarray(~wide[np.ix_(rows, columns)])


def motion(
    a: NDArray[np.float32], b: NDArray[np.float32], room: NDArray[np.bool_], most: int = 24
) -> Motion | None:
    """Return how `b` moved against `a` in a part of the photo; None when it holds too little to tell by.

    Tiles are registered by phase correlation to 1/50 pixel, and a shift with turn and scale is fitted to
    them,
    what disagrees left out; with tiles in one place the shift alone.

    Parameters:  a, b : (rows, columns) light; room : where tiles may lie
        most : tiles
    """
    one, two = _detail(a), _detail(b)
    registered = (_tile(one, two, top, left) for top, left in _places(one, room, most))
    found = [each for each in registered if each is not None]
    if len(found) < FEWEST:
        return None
    at, by = np.array([f[:2] for f in found]), np.array([f[2:] for f in found])
    # begin with the shift that most tiles share
    apart = np.hypot(*(by[:, None] - by[None]).transpose(2, 0, 1))
    keep = apart[np.argmax((apart < ALIKE_PX).sum(axis=1))] < ALIKE_PX
    for _ in range(4):
        if keep.sum() < FEWEST:
            return None
        made = _fit(at[keep], by[keep])
        left = np.hypot(*(made(at) - at - by).T)
        keep = left < max(AGREE_PX, 2.5 * float(np.median(left[keep])))
    residual = float(np.sqrt(np.mean(left[keep] ** 2)))
    if residual > AGREE_PX or keep.sum() < max(FEWEST, 0.4 * len(found)):
        return None
    return Motion(made.matrix, made.shift, made.middle, residual, int(keep.sum()))


def _detail(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the root of the light without what changes slowly: letters and rims, not how they are lit."""
    from scipy.ndimage import gaussian_filter

    root = np.sqrt(np.maximum(light, 0))
    fine = gaussian_filter(root, 0.8)
    return np.asarray(fine - gaussian_filter(root, 8.0), dtype=np.float32)


def _places(light: NDArray, room: NDArray, most: int = 24) -> list[tuple[int, int]]:
    """Return (top, left) of the tiles with most texture, at most so many."""
    found: list[tuple[float, int, int]] = []
    noise = float(np.median(np.abs(np.diff(light[::3], axis=1)))) + 1e-6
    for top in range(0, light.shape[0] - TILE[0] + 1, HOP[0]):
        for left in range(0, light.shape[1] - TILE[1] + 1, HOP[1]):
            part = (slice(top, top + TILE[0]), slice(left, left + TILE[1]))
            if room[part].mean() > 0.97:
                spread = float(light[part].std())
                if spread > 1.2 * noise:
                    found.append((spread, top, left))
    return [(top, left) for _, top, left in sorted(found, reverse=True)[:most]]


def _tile(a: NDArray, b: NDArray, top: int, left: int) -> tuple[float, float, float, float] | None:
    from skimage.registration import phase_cross_correlation

    part = (slice(top, top + TILE[0]), slice(left, left + TILE[1]))
    window = np.hanning(TILE[0])[:, None] * np.hanning(TILE[1])
    one, two = a[part] * window, b[part] * window
    if min(float(one.std()), float(two.std())) < 1e-4:
        return None
    shift, _, _ = phase_cross_correlation(one, two, upsample_factor=50, normalization=None)
    if np.abs(shift).max() > min(TILE) / 3:
        return None
    return left + TILE[1] / 2, top + TILE[0] / 2, -float(shift[1]), -float(shift[0])


def _fit(at: NDArray, by: NDArray) -> Motion:
    middle = at.mean(axis=0)
    x, y = (at - middle).T
    shift, matrix = by.mean(axis=0), np.eye(2)
    if len(at) >= 6 and max(np.ptp(x), np.ptp(y)) > 4 * TILE[0]:
        total = float(np.sum(x * x + y * y))
        grow = float(np.sum(x * by[:, 0] + y * by[:, 1])) / total
        turn = float(np.sum(x * by[:, 1] - y * by[:, 0])) / total
        matrix = np.array([[1 + grow, -turn], [turn, 1 + grow]])
    return Motion(matrix, shift, middle, 0.0, len(at))
