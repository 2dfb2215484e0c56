"""Where points of a photo lie on the picture: what a rectification is, and the one of four corners."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError


class Rectification(Protocol):
    """Takes photo pixels to picture places and back.

    xy : (n, 2) columns and rows of the photo, the centre of the first pixel at (0, 0)
    uv : (n, 2) across and down the picture, 0..1 from its left top to its right bottom edge
    """

    def to_picture(self, xy: NDArray) -> NDArray: ...
    def to_photo(self, uv: NDArray) -> NDArray: ...


@dataclass(frozen=True, eq=False)
class Corners:
    """The plane rectification of the picture's four corners.

    Parameters:  matrix : (3, 3), photo (x, y, 1) to picture (u, v, 1) up to a factor
    """

    matrix: NDArray[np.float64]

    def to_picture(self, xy: NDArray) -> NDArray[np.float64]:
        """Return (n, 2) picture places of (n, 2) photo pixels."""
        return _through(self.matrix, xy)

    def to_photo(self, uv: NDArray) -> NDArray[np.float64]:
        """Return (n, 2) photo pixels of (n, 2) picture places."""
        return _through(np.linalg.inv(self.matrix), uv)


def from_corners(corners: NDArray) -> Corners:
    """Return the rectification of four corners.

    Parameters:  corners : (4, 2) photo pixels of left top, right top, right bottom, left bottom
    Raises: ParameterError when three of them lie on one line, or they are in another order
    Source: the projective map of four points (direct linear transformation; Hartley and Zisserman,
        Multiple View Geometry, 2nd ed., 4.1)
    """
    at = np.asarray(corners, dtype=np.float64).reshape(4, 2)
    sides = np.roll(at, -1, axis=0) - at
    following = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * following[:, 1] - sides[:, 1] * following[:, 0]
    if not np.isfinite(at).all() or (turns <= 0).any():
        raise ParameterError(
            "corners: they do not go round a picture; give x,y of left top, right top, right "
            "bottom, left bottom"
        )
    rows = []
    for (x, y), (u, v) in zip(at, ((0, 0), (1, 0), (1, 1), (0, 1)), strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y, -u], [0, 0, 0, x, y, 1, -v * x, -v * y, -v]]
    *_, last = np.linalg.svd(np.array(rows))
    return Corners(last[-1].reshape(3, 3))


def _through(matrix: NDArray, points: NDArray) -> NDArray[np.float64]:
    at = np.asarray(points, dtype=np.float64)
    lifted = np.column_stack([at, np.ones(len(at))]) @ matrix.T
    return np.asarray(lifted[:, :2] / lifted[:, 2:])
