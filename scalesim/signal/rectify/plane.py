"""Maps of the plane: (3, 3) matrices up to a factor, points (n, 2) as (across, down)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable


def through(matrix: NDArray, points: NDArray) -> NDArray[np.float64]:
    """Return points taken through a projective map; `matrix` (..., 3, 3) gives (..., n, 2)."""
    at = np.asarray(points, dtype=np.float64)
    lifted = at @ np.swapaxes(matrix[..., :2], -1, -2) + matrix[..., None, :, 2]
    return np.asarray(lifted[..., :2] / lifted[..., 2:])


def through_four(start: NDArray, end: NDArray) -> NDArray[np.float64]:
    """Return the maps that take four points to four others: (..., 4, 2) twice to (..., 3, 3).

    A map that four points do not settle (three on a line) holds no finite numbers.
    Source: the linear equations of R. Hartley and A. Zisserman, Multiple View Geometry, 2nd ed., 4.1,
        with the last element 1
    """
    start, end = np.broadcast_arrays(np.asarray(start, np.float64), np.asarray(end, np.float64))
    one, none = np.ones_like(start[..., :1]), np.zeros_like(start)
    rows = []
    for k in range(2):
        own = np.concatenate([start, one], axis=-1)
        rest = np.concatenate([none, 0 * one], axis=-1)
        left = [own, rest] if k == 0 else [rest, own]
        rows.append(np.concatenate([*left, -end[..., k : k + 1] * start], axis=-1))
    system = np.concatenate(rows, axis=-2)
    values = np.concatenate([end[..., 0], end[..., 1]], axis=-1)
    whole = np.abs(np.linalg.det(system)) > 1e-12
    solved = np.full(values.shape, np.nan)
    solved[whole] = np.linalg.solve(system[whole], values[whole][..., None])[..., 0]
    return np.concatenate([solved, np.ones_like(solved[..., :1])], axis=-1).reshape(*solved.shape[:-1], 3, 3)


def slopes(place: tuple[float, float], maps: NDArray) -> NDArray[np.float64]:
    """Return the derivative of maps at one place, (..., 2, 2): of the image's (across, down) by its own."""
    at = np.array([*place, 1.0])
    lifted = maps @ at
    image = lifted[..., :2] / lifted[..., 2:]
    return (maps[..., :2, :2] - image[..., :, None] * maps[..., None, 2, :2]) / lifted[..., 2, None, None]


def best_map(start: NDArray, end: NDArray) -> NDArray[np.float64]:
    """Return the map that takes points to others with the least algebraic error; (3, 3).

    Raises: NotIdentifiable for points that lie on one line
    Source: the normalised linear transformation of Hartley and Zisserman, 4.4.4
    """
    first, second = (_normal(np.asarray(points, np.float64)) for points in (start, end))
    p, q = through(first, start), through(second, end)
    own = np.column_stack([p, np.ones(len(p))])
    rest = np.zeros_like(own)
    rows = np.concatenate([np.hstack([own, rest, -q[:, :1] * own]), np.hstack([rest, own, -q[:, 1:] * own])])
    *_, strength, kernels = np.linalg.svd(rows)
    if strength[min(7, len(strength) - 1)] < 1e-9 * strength[0]:
        raise NotIdentifiable("registration: the places found lie on one line")
    found = np.linalg.inv(second) @ kernels[-1].reshape(3, 3) @ first
    return np.asarray(found / found[2, 2])


def agreeing(start: NDArray, end: NDArray, tolerance: float, *, tries: int = 2000) -> NDArray[np.bool_]:
    """Return which pairs of points agree with one projective map, (n,) bool; the largest agreement found.

    Samples of four pairs, the same for the same input. Source: M. Fischler and R. Bolles, "Random Sample
    Consensus", 1981.
    """
    if len(start) < 4:
        return np.zeros(len(start), bool)
    random = np.random.RandomState(0)
    fours = np.argsort(random.rand(tries, len(start)), axis=1)[:, :4]
    with np.errstate(all="ignore"):
        maps = through_four(start[fours], end[fours])
        best, most = np.zeros(len(start), bool), 3
        for some in np.array_split(maps, max(1, tries // 100)):
            off = np.linalg.norm(through(some, start) - end, axis=-1)
            close = off < tolerance
            k = int(close.sum(axis=1).argmax())
            if int(close[k].sum()) > most:
                best, most = close[k], int(close[k].sum())
    return best


def _normal(points: NDArray) -> NDArray[np.float64]:
    """Return the map that moves points to a mean of 0 and a mean distance of sqrt 2."""
    middle = points.mean(axis=0)
    far = float(np.linalg.norm(points - middle, axis=1).mean()) or 1.0
    scale = np.sqrt(2) / far
    return np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1]])
