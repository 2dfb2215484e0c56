"""`Warp`: where the places of one photo lie in another of the same tube.

Perspective, and what two lenses and a curved face leave of it: a cubic in the place, two polynomials of ten
terms. It is claimed inside the hull of the places it rests on, and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.rectify.match import match
from scalesim.signal.rectify.patches import patch_shifts
from scalesim.signal.rectify.plane import through
from scalesim.signal.rectify.sampled import local_contrast, reduced, sampled

POWERS = tuple((i, total - i) for total in range(4) for i in range(total + 1))
"""Powers of (across, down) in the cubic."""

ROWS = 640
"""Rows of a photo while it is registered, where its lines are not known."""

_LINE_PIXELS = 2.5
_BLUR = 0.7
_ROUNDS = 4
_FEWEST = 20
_OUT = 3.0
"""Robust standard deviations beyond which a place does not count."""


@dataclass(frozen=True, eq=False)
class Warp:
    """Where places of a first photo lie in a second.

    Parameters:
        matrix : (3, 3), first (across, down, 1) to second, pixels
        bend : (10, 2) coefficients of `POWERS`, second's pixels, in (xy - middle) / middle of the first
        size : (rows, columns) of the first photo
        places : (n, 2) pixels of the first that it rests on
        residual : robust standard deviation of one place, across and down together, pixels of the second
    """

    matrix: NDArray[np.float64]
    bend: NDArray[np.float64]
    size: tuple[int, int]
    places: NDArray[np.float64]
    residual: float

    @property
    def middle(self) -> NDArray[np.float64]:
        """The first photo's middle, (across, down)."""
        return (np.array(self.size[::-1]) - 1) / 2

    def to_second(self, xy: NDArray) -> NDArray[np.float64]:
        """Return (n, 2) places in the second photo of (n, 2) places in the first."""
        return through(self.matrix, xy) + self._terms(xy) @ self.bend

    def _terms(self, xy: NDArray) -> NDArray[np.float64]:
        at = (np.asarray(xy, np.float64) - self.middle) / self.middle
        return np.stack([at[:, 0] ** i * at[:, 1] ** j for i, j in POWERS], axis=1)

    @cached_property
    def _triangles(self) -> Any:
        from scipy.spatial import ConvexHull, Delaunay

        return Delaunay(self.places[ConvexHull(self.places).vertices])

    def holds(self, xy: NDArray) -> NDArray[np.bool_]:
        """Tell which (n, 2) places of the first photo lie inside the hull."""
        return np.asarray(self._triangles.find_simplex(np.asarray(xy)) >= 0)

    @property
    def error(self) -> float:
        """Standard error of a place inside the hull: the residual over the root of places a coefficient."""
        return self.residual * float(np.sqrt(len(POWERS) / len(self.places)))

    def fitted(self, xy: NDArray, second: NDArray) -> Warp:
        """Return the warp whose cubic takes places to where they were found, robustly (3 deviations)."""
        terms, left = self._terms(xy), second - through(self.matrix, xy)
        held = np.ones(len(xy), bool)
        bend: NDArray = self.bend
        for _ in range(_ROUNDS):
            bend = np.linalg.lstsq(terms[held], left[held], rcond=None)[0]
            off = np.linalg.norm(terms @ bend - left, axis=1)
            spread = 1.4826 * float(np.median(off[held])) / 1.1774  # a Rayleigh's median in deviations
            again = off < max(_OUT * spread, 0.02)
            if again.sum() < _FEWEST or (again == held).all():
                break
            held = again
        off = np.linalg.norm(terms @ bend - left, axis=1)[held]
        return replace(self, bend=bend, places=xy[held], residual=float(np.median(off)) / 1.1774)


def register_photos(
    first: NDArray,
    second: NDArray,
    *,
    periods: tuple[float | None, float | None] = (None, None),
    names: tuple[str, str] = ("before", "after"),
) -> Warp:
    """Return where the places of a photo lie in another of the same picture on the same tube.

    Parameters:
        first, second : (rows, columns) linear light
        periods : pixels from scan line to scan line in each, where they are known
    Raises: NotIdentifiable where they do not show the same
    """
    factors = [
        max(1, round(period / _LINE_PIXELS if period else len(light) / ROWS))
        for light, period in zip((first, second), periods, strict=True)
    ]
    one, other = (_plain(light, factor) for light, factor in zip((first, second), factors, strict=True))
    found = match(one, other, names)
    warp = Warp(found.matrix, np.zeros((len(POWERS), 2)), one.shape, found.first, 1.0)
    warp = warp.fitted(found.first, found.second)
    rows, columns = np.indices(one.shape)
    grid = np.stack([columns.ravel(), rows.ravel()], axis=1).astype(np.float64)
    for _ in range(2):
        places, shifts = patch_shifts(one, sampled(other, warp.to_second(grid)).reshape(one.shape))
        if len(places) < 2 * _FEWEST:
            break
        warp = warp.fitted(places, warp.to_second(places + shifts))
    return _enlarged(warp, factors[0], factors[1], first.shape)


def _plain(light: NDArray, factor: int) -> NDArray:
    """Return a photo made small, its lines blurred away, as local contrast."""
    from scipy import ndimage

    small = reduced(light, factor)
    smooth = ndimage.gaussian_filter(np.maximum(small, 0), _BLUR * _LINE_PIXELS)
    return local_contrast(smooth ** (1 / 2.2), 50)


def _enlarged(warp: Warp, first: int, second: int, size: tuple[int, int]) -> Warp:
    """Return the warp of photos whose pixels were averaged by two factors in the photos' own pixels."""
    before = _shrink(first)
    after = np.linalg.inv(_shrink(second))
    # a cubic in shares of the small photo's middle is one in shares of the large photo's, to half a pixel
    return Warp(
        after @ warp.matrix @ before,
        warp.bend * second,
        size,
        through(np.linalg.inv(before), warp.places),
        warp.residual * second,
    )


def _shrink(factor: int) -> NDArray:
    moved = (1 / factor - 1) / 2
    return np.array([[1 / factor, 0, moved], [0, 1 / factor, moved], [0, 0, 1]])
