"""How the camera moved between two exposures, from parts that belong to the tube and not to its picture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

GLOW = 6
"""Pixels beside the picture's lines that its own light reaches."""
FEWEST = 2000
"""Pixels."""
SMOOTH, COARSE = 0.8, 8.0
"""Gaussians between which detail lies, pixels."""
LEAST_REACH = 24
APART = 3
"""Pixels from the best place beyond which another one is looked for."""
LEAST_ALIKE, STANDS_OUT = 0.15, 1.15
"""Least correlation, and over the next best place."""
MOST = 40_000
USUAL_GROWTH, USUAL_TURN = 0.01, 0.01
ROUNDS = 8
WORST_PX = 0.5


@dataclass(frozen=True, eq=False)
class Motion:
    """A shift with turn and scale: xy_b = middle + matrix (xy_a - middle) + shift.

    Parameters:  middle : of what was registered, where the shift holds best, pixels
        error : of the shift down at the middle, standard deviation in pixels
    """

    matrix: NDArray[np.float64]
    shift: NDArray[np.float64]
    middle: NDArray[np.float64]
    error: float

    def __call__(self, xy: NDArray) -> NDArray[np.float64]:
        """Return where (n, 2) pixels of the first lie in the second."""
        return np.asarray((xy - self.middle) @ self.matrix.T + self.middle + self.shift)

    def reduced(self, factor: int) -> Motion:
        """Return the same in pixels of a photo reduced `factor` times."""
        middle = (self.middle + 0.5) / factor - 0.5
        return Motion(self.matrix, self.shift / factor, middle, self.error / factor)


STILL = Motion(np.eye(2), np.zeros(2), np.zeros(2), 0.0)


def outside(used: NDArray[np.bool_], size: tuple[int, int], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return (rows, columns) what lies outside the hull of the lines, by a cell.

    Parameters:  used : cells with lines; size : pixels (down, across) of a cell; shape : of the photo
    """
    from scipy.ndimage import binary_dilation, binary_opening
    from skimage.morphology import convex_hull_image

    # lines run on beyond the photo's edge, so that its corners stay theirs
    clean = binary_opening(np.pad(used, 4, mode="edge"), iterations=2)[4:-4, 4:-4]
    hull = convex_hull_image(clean) if clean.any() else np.zeros_like(used)
    wide = binary_dilation(hull, iterations=1)
    rows = np.minimum(np.arange(shape[0]) // size[0], used.shape[0] - 1)
    columns = np.minimum(np.arange(shape[1]) // size[1], used.shape[1] - 1)
    return np.asarray(~wide[np.ix_(rows, columns)])


def motion(a: NDArray[np.float32], b: NDArray[np.float32], room: NDArray[np.bool_]) -> Motion | None:
    """Return how `b` moved against `a` in a part of the photo; None when it holds too little to tell by.

    The part is laid on the other photo by normalised cross-correlation, to a pixel; a shift with a little
    turn and
    scale is then fitted to its light by least squares (Gauss-Newton), all of it at once: a bezel shows a
    few letters at most.

    Parameters:  a, b : (rows, columns) light; room : where the tube is and not its picture
    """
    from scipy.ndimage import binary_erosion

    kept = binary_erosion(room, iterations=GLOW, border_value=1)
    if kept.sum() < FEWEST:
        return None
    one, two = _detail(a), _detail(b)
    begun = _correlated(one, two, kept)
    return None if begun is None else _refined(one, two, kept, begun)


def _detail(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the root of the light without what changes slowly: letters and rims, not how they are lit."""
    from scipy.ndimage import gaussian_filter

    root = np.sqrt(np.maximum(light, 0))
    fine = gaussian_filter(root, SMOOTH)
    return np.asarray(fine - gaussian_filter(root, COARSE), dtype=np.float32)


def _correlated(one: NDArray, two: NDArray, kept: NDArray) -> NDArray[np.float64] | None:
    """Return the (x, y) whole pixels by which the kept part moved; None when no place stands out."""
    from scipy.fft import irfft2, next_fast_len, rfft2

    reach = max(LEAST_REACH, min(one.shape) // 8)
    size = tuple(next_fast_len(n + reach, real=True) for n in one.shape)
    part = np.where(kept, one, 0)

    def across(p: NDArray, q: NDArray) -> NDArray:
        whole = irfft2(np.conj(rfft2(p, size)) * rfft2(q, size), size)
        near = np.roll(whole, (reach, reach), axis=(0, 1))
        return np.asarray(near[: 2 * reach + 1, : 2 * reach + 1])

    power = np.maximum(across(kept.astype(np.float32), two**2), 1e-12)
    alike = across(part, two) / np.sqrt(power * max(float((part**2).sum()), 1e-12))
    row, column = np.unravel_index(int(np.argmax(alike)), alike.shape)
    best = float(alike[row, column])
    y, x = np.ogrid[: alike.shape[0], : alike.shape[1]]
    other = float(alike[(abs(y - row) > APART) | (abs(x - column) > APART)].max())
    if best < LEAST_ALIKE or best < STANDS_OUT * other:
        return None
    return np.array([column - reach, row - reach], dtype=np.float64)


def _refined(one: NDArray, two: NDArray, kept: NDArray, shift: NDArray) -> Motion | None:
    from scipy.ndimage import map_coordinates, spline_filter

    down, across = np.gradient(one)
    # letters and rims say where it is, even plastic nothing
    power = np.where(kept, down**2 + across**2, 0)
    many = int(min(MOST, kept.sum()))
    least = np.partition(power.ravel(), -many)[-many]
    y, x = np.nonzero(kept & (power >= least))
    gx, gy, weight = across[y, x], down[y, x], power[y, x]
    middle = np.array([np.average(x, weights=weight), np.average(y, weights=weight)])
    dx, dy = x - middle[0], y - middle[1]
    design = np.column_stack([gx, gy, gx * dx + gy * dy, gy * dx - gx * dy]).astype(np.float64)
    smooth = spline_filter(two, output=np.float64)
    # a hand turns and comes nearer by little: a narrow strip must not invent more
    noise = float(np.var(one[y, x])) * 0.1 + 1e-15
    prior = np.diag([0.0, 0.0, 1 / USUAL_GROWTH**2, 1 / USUAL_TURN**2]) * noise
    state = np.array([*shift, 0.0, 0.0])
    for _ in range(ROUNDS):
        grow, turn = state[2:]
        xs = x + state[0] + grow * dx - turn * dy
        ys = y + state[1] + grow * dy + turn * dx
        seen = map_coordinates(smooth, [ys, xs], order=3, mode="nearest", prefilter=False)
        gain = float(seen @ one[y, x] / (one[y, x] @ one[y, x] + 1e-15))
        off = seen - gain * one[y, x]
        usual = 1.4826 * float(np.median(np.abs(off))) + 1e-12
        sure = 1 / np.maximum(np.abs(off) / (2 * usual), 1)
        normal = (design * (sure * gain**2)[:, None]).T @ design + prior
        wanted = -(design * (sure * gain)[:, None]).T @ off - prior @ state
        state = state + np.linalg.solve(normal, wanted)
    # neighbouring pixels share their noise after the smoothing
    spread = float(np.average(off**2, weights=sure)) * np.pi * (2 * SMOOTH) ** 2
    error = float(np.sqrt(np.linalg.inv(normal)[1, 1] * spread))
    if np.hypot(*(state[:2] - shift)) > APART or error > WORST_PX:
        return None
    matrix = np.array([[1 + state[2], -state[3]], [state[3], 1 + state[2]]])
    return Motion(matrix, state[:2], middle, error)
