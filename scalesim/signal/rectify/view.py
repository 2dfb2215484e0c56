"""`View`: how a camera sees the flat picture of a tube: perspective, then the barrel of its lens.

A place (u, v) of the picture is a share of its width and height, edges at 0 and 1. The camera takes it to
q = H (u, v), a pixel (across, down, the centre of the first at 0, 0), and its lens to
c + (q - c) (1 + k1 r^2 + k2 r^4), r being the distance from the photo's middle c in half diagonals; k1 < 0 is
barrel. This is the radial part of D. C. Brown, "Close-Range Camera Calibration" (1971), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import acos, degrees, hypot

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.plane import best_map, slopes, through

USUAL_FOCAL = 0.75
"""Focal length over the photo's longer side, where nothing tells it: a phone's main camera, 26 mm as seen on
36 mm of film. Common practice, no published source."""

_STEPS = 30
_FITS = 3
_BLOCKS = 3
_LEAST = 6


@dataclass(frozen=True, eq=False)
class View:
    """Where a picture lies in a photo.

    Parameters:
        matrix : (3, 3), (u, v, 1) to (across, down, 1) before the lens, up to a factor
        size : (rows, columns) of the photo
        barrel : (k1, k2) as above
        how : what it was found by, in words
        points, residual : places it rests on, and how far they lie from it, rms in pixels; 0 and None where
            it goes through its points by nature
        height_error : two standard errors, in pixels, of how far its lower edge lies below its upper one
    """

    matrix: NDArray[np.float64]
    size: tuple[int, int]
    barrel: tuple[float, float] = (0.0, 0.0)
    how: str = ""
    points: int = 0
    residual: float | None = None
    height_error: float = 0.0

    @property
    def centre(self) -> NDArray[np.float64]:
        """The middle of the photo, where the lens looks: (across, down) in pixels."""
        return (np.array(self.size[::-1]) - 1) / 2

    @property
    def radius(self) -> float:
        """Half the photo's diagonal in pixels."""
        return hypot(*self.size) / 2

    def to_photo(self, uv: NDArray) -> NDArray[np.float64]:
        """Return (n, 2) photo pixels of (n, 2) places of the picture."""
        away = (through(self.matrix, uv) - self.centre) / self.radius
        square = (away**2).sum(axis=-1, keepdims=True)
        return self.centre + self.radius * away * (1 + self.barrel[0] * square + self.barrel[1] * square**2)

    def to_picture(self, xy: NDArray) -> NDArray[np.float64]:
        """Return (n, 2) places of the picture of (n, 2) photo pixels; Newton's steps undo the lens."""
        seen = (np.asarray(xy, np.float64) - self.centre) / self.radius
        far = np.hypot(seen[..., 0], seen[..., 1])
        k1, k2 = self.barrel
        r = far.copy()
        for _ in range(_STEPS if k1 or k2 else 0):
            slope = np.maximum(1 + 3 * k1 * r**2 + 5 * k2 * r**4, 0.1)
            r = r - (r * (1 + k1 * r**2 + k2 * r**4) - far) / slope
        scale = np.divide(r, far, out=np.ones_like(r), where=far > 0)
        return through(np.linalg.inv(self.matrix), self.centre + self.radius * seen * scale[..., None])

    def reduced(self, factor: float) -> View:
        """Return the view in a photo whose pixels are means of `factor` x `factor` of this one's."""
        shrink = np.array(
            [[1 / factor, 0, (1 / factor - 1) / 2], [0, 1 / factor, (1 / factor - 1) / 2], [0, 0, 1]]
        )
        rows, columns = self.size
        residual = None if self.residual is None else self.residual / factor
        return replace(
            self,
            matrix=shrink @ self.matrix,
            size=(round(rows / factor), round(columns / factor)),
            residual=residual,
            height_error=self.height_error / factor,
        )

    def lines_apart(self, lines: float) -> float:
        """Return the pixels from line to line in the picture's middle, of `lines` over its height."""
        return float(np.linalg.norm(slopes((0.5, 0.5), self.matrix)[:, 1])) / lines

    def tilt_deg(self, aspect: float, focal: float | None = None) -> float:
        """Return the angle between the tube's face and the sensor, degrees.

        Parameters:
            aspect : width over height of the picture on the tube; focal : in pixels, None for `USUAL_FOCAL`
        """
        sight = focal or USUAL_FOCAL * max(self.size)
        inner = np.diag([1 / sight, 1 / sight, 1.0]) @ np.array(
            [[1, 0, -self.centre[0]], [0, 1, -self.centre[1]], [0, 0, 1]]
        )
        across, down = (inner @ self.matrix @ np.diag([1 / aspect, 1.0, 1.0]))[:, :2].T
        normal = np.cross(across, down)
        return degrees(acos(min(1.0, abs(float(normal[2])) / float(np.linalg.norm(normal)))))


def fit_view(uv: NDArray, xy: NDArray, size: tuple[int, int], *, terms: int = 1, how: str = "") -> View:
    """Return the view that takes places of the picture to where they were found, robustly.

    Parameters:
        uv, xy : (n, 2) places and pixels; size : (rows, columns) of the photo
        terms : of the lens, 0, 1 or 2; as many as leave two places over are fitted
    Raises: NotIdentifiable for fewer than four places, or places that settle no view
    Source: least squares with SciPy's soft-L1 loss, its scale three times the
        median deviation of the fit before
    """
    from scipy.optimize import least_squares

    places, found = np.asarray(uv, np.float64), np.asarray(xy, np.float64)
    if len(places) < 4:
        raise NotIdentifiable(f"rectification: {len(places)} places were found; it takes at least 4")
    matrix = best_map(places, found)
    terms = min(terms, max(0, len(places) - 6))

    def view_of(values: NDArray) -> View:
        lens = (*values[8:], 0.0, 0.0)[:2]
        return View(np.append(values[:8], 1.0).reshape(3, 3), size, (float(lens[0]), float(lens[1])), how)

    def off(values: NDArray) -> NDArray:
        return (view_of(values).to_photo(places) - found).ravel()

    values = np.append(matrix.ravel()[:8], np.zeros(terms))
    for _ in range(_FITS):
        scale = max(1e-3, 3 * float(np.median(np.abs(off(values)))))
        values = least_squares(off, values, loss="soft_l1", f_scale=scale, x_scale="jac").x
    view = view_of(values)
    freedom = max(1, 2 * len(places) - len(values))
    residual = float(np.sqrt((off(values) ** 2).sum() / freedom))
    return replace(view, points=len(places), residual=residual if 2 * len(places) > len(values) else None)


def height_error(uv: NDArray, xy: NDArray, size: tuple[int, int], *, terms: int = 1) -> float:
    """Return two standard errors of a picture's height in a photo, pixels: the larger of both sides.

    Places near each other err alike, and edges where no place is found are reached by the lens's bend
    alone, so the places are left out by a ninth of their area at a time (Tukey's jackknife over blocks; from
    memory).
    Parameters:  as of `fit_view`
    Returns: the photo's whole height where nearly all places lie in one block
    """
    places, found = np.asarray(uv, np.float64), np.asarray(xy, np.float64)
    least, most = places.min(axis=0), places.max(axis=0)
    cell = np.minimum(_BLOCKS * (places - least) / np.maximum(most - least, 1e-9), _BLOCKS - 1).astype(int)
    block = cell @ (_BLOCKS, 1)
    corners = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
    heights = []
    for out in np.unique(block):
        kept = block != out
        if np.count_nonzero(kept) < _LEAST:
            return float(size[0])
        at = fit_view(places[kept], found[kept], size, terms=terms).to_photo(corners)[:, 1]
        heights.append(at[2:] - at[:2])
    spread = np.var(heights, axis=0) * (len(heights) - 1)
    return 2 * float(np.sqrt(spread.max()))
