"""`Warp`: where the places of one photo lie in another of the same tube.

Perspective, and the barrel of both lenses; and where a curved face leaves more than that, a cubic in the
place, two polynomials of ten terms. The cubic is taken only where it meets places that were left out better.
It is claimed inside the hull of the places it rests on, and nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.match import match
from scalesim.signal.rectify.patches import patch_shifts
from scalesim.signal.rectify.plane import best_map, through
from scalesim.signal.rectify.sampled import local_contrast, reduced, sampled

POWERS = tuple((i, total - i) for total in range(4) for i in range(total + 1))
"""Powers of (across, down) in the cubic."""

ROWS = 640
"""Rows of a photo while it is registered, where its lines are not known."""

_LINE_PIXELS = 2.5
_BLUR = 0.7
_ROUNDS = 4
_FEWEST = 20
_ROUGHEST = 1.0
"""Pixels of the small photos that places left out may deviate by: pictures that differ came to 0.9 to 1.4."""
_OUT = 3.0
"""Robust standard deviations beyond which a place does not count."""

_RAYLEIGH = 1.1774
"""Median length of a vector whose parts deviate by 1."""
_FOLDS, _CELLS = 5, 5
_BETTER = 0.9
"""How much nearer the cubic must meet places left out."""
_USUAL_LENS = 0.05


@dataclass(frozen=True, eq=False)
class Warp:
    """Where places of a first photo lie in a second.

    Parameters:
        matrix : (3, 3), first (across, down, 1) without its lens to second without its, pixels
        lens : share by which half a diagonal is stretched, of the first (undone) and the second (done)
        bend : (10, 2) coefficients of `POWERS`, second's pixels, in (xy - middle) / middle of the first
        size, second : (rows, columns) of both photos
        places : (n, 2) pixels of the first that it rests on
        error : standard deviation, each way, of places that were left out when it was made, second's pixels
    """

    matrix: NDArray[np.float64]
    lens: tuple[float, float]
    bend: NDArray[np.float64]
    size: tuple[int, int]
    second: tuple[int, int]
    places: NDArray[np.float64]
    error: float

    @property
    def middle(self) -> NDArray[np.float64]:
        """The first photo's middle, (across, down)."""
        return (np.array(self.size[::-1]) - 1) / 2

    def to_second(self, xy: NDArray) -> NDArray[np.float64]:
        """Return (n, 2) places in the second photo of (n, 2) places in the first."""
        plain = _through_lens(np.asarray(xy, np.float64), self.size, self.lens[0])
        seen = _through_lens(through(self.matrix, plain), self.second, self.lens[1])
        return seen + _terms(xy, self.size) @ self.bend if self.bend.any() else seen

    @cached_property
    def _triangles(self) -> Any:
        from scipy.spatial import ConvexHull, Delaunay

        return Delaunay(self.places[ConvexHull(self.places).vertices])

    def holds(self, xy: NDArray) -> NDArray[np.bool_]:
        """Tell which (n, 2) places of the first photo lie inside the hull."""
        return np.asarray(self._triangles.find_simplex(np.asarray(xy)) >= 0)


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
    sizes = (one.shape, other.shape)
    warp = fit_warp(found.first, found.second, *sizes)
    rows, columns = np.indices(one.shape)
    grid = np.stack([columns.ravel(), rows.ravel()], axis=1).astype(np.float64)
    for _ in range(2):
        places, shifts = patch_shifts(one, sampled(other, warp.to_second(grid)).reshape(one.shape))
        if len(places) < 2 * _FEWEST:
            raise NotIdentifiable(
                f"{names[0]} and {names[1]}: they look alike in {len(places)} places only ({2 * _FEWEST} are "
                "needed): another picture on the same tube, or too dark or blurred"
            )
        warp = fit_warp(places, warp.to_second(places + shifts), *sizes)
    if warp.error > _ROUGHEST:
        raise NotIdentifiable(
            f"{names[0]} and {names[1]}: places left out miss each other by "
            f"{warp.error / _LINE_PIXELS:.1f} lines "
            f"({_ROUGHEST / _LINE_PIXELS:g} is the limit): another picture on the same tube, or too dark"
        )
    return _enlarged(warp, factors[0], factors[1], first.shape, second.shape)


def fit_warp(first: NDArray, second: NDArray, size: tuple[int, int], other: tuple[int, int]) -> Warp:
    """Return the warp that takes places of a first photo to where they were found in a second, robustly.

    Parameters:  first, second : (n, 2) pixels; size, other : (rows, columns) of both photos
    Places are left out by cells of a grid, a fifth at a time, so that what lies between them is judged, too.
    """
    folds = _folds(first, size)
    errors = []
    for bent in (False, True):
        off = np.full(len(first), np.nan)
        for fold in range(_FOLDS):
            out = folds == fold
            if out.any() and (~out).sum() >= _FEWEST:
                made = _fitted(first[~out], second[~out], size, other, bent=bent)
                off[out] = np.linalg.norm(made.to_second(first[out]) - second[out], axis=1)
        errors.append(float(np.nanmedian(off)) / _RAYLEIGH if np.isfinite(off).any() else np.inf)
    bent = errors[1] < _BETTER * errors[0]
    return replace(_fitted(first, second, size, other, bent=bent), error=errors[bent])


def _folds(places: NDArray, size: tuple[int, int]) -> NDArray[np.int64]:
    cells = np.floor(places / np.array(size[::-1]) * _CELLS).astype(int)
    return np.asarray((cells[:, 0] + 2 * cells[:, 1]) % _FOLDS)


def _fitted(
    first: NDArray, second: NDArray, size: tuple[int, int], other: tuple[int, int], *, bent: bool
) -> Warp:
    """Return perspective and two lenses by SciPy's soft-L1 loss, then perhaps the cubic of what is left."""
    from scipy.optimize import least_squares

    still = np.zeros((len(POWERS), 2))

    def warp_of(values: NDArray) -> Warp:
        lens = (float(values[8]), float(values[9]))
        return Warp(np.append(values[:8], 1.0).reshape(3, 3), lens, still, size, other, first, np.inf)

    def off(values: NDArray) -> NDArray:
        # lenses are known to some percent before anything is seen, else two can undo each other
        known = values[8:] / _USUAL_LENS * spread
        return np.append((warp_of(values).to_second(first) - second).ravel(), known)

    spread = 1.0
    values = np.append(best_map(first, second).ravel()[:8], [0.0, 0.0])
    for _ in range(2):
        spread = max(0.02, 1.4826 * float(np.median(np.abs(warp_of(values).to_second(first) - second))))
        values = least_squares(off, values, loss="soft_l1", f_scale=2 * spread, x_scale="jac").x
    warp = warp_of(values)
    left = second - warp.to_second(first)
    held = _near(np.linalg.norm(left, axis=1))
    if bent:
        terms = _terms(first, size)
        for _ in range(_ROUNDS):
            bend: NDArray = np.linalg.lstsq(terms[held], left[held], rcond=None)[0]
            warp = replace(warp, bend=bend)
            again = _near(np.linalg.norm(terms @ bend - left, axis=1))
            if again.sum() < _FEWEST or (again == held).all():
                break
            held = again
    return replace(warp, places=first[held]) if held.sum() >= _FEWEST else warp


def _near(off: NDArray) -> NDArray[np.bool_]:
    """Tell which places lie within three robust deviations."""
    return np.asarray(off < max(_OUT * float(np.median(off)) / _RAYLEIGH, 0.02))


def _through_lens(xy: NDArray, size: tuple[int, int], stretch: float) -> NDArray[np.float64]:
    middle, radius = (np.array(size[::-1]) - 1) / 2, float(np.hypot(*size)) / 2
    away = (xy - middle) / radius
    return np.asarray(middle + radius * away * (1 + stretch * (away**2).sum(axis=1, keepdims=True)))


def _terms(xy: NDArray, size: tuple[int, int]) -> NDArray[np.float64]:
    middle = (np.array(size[::-1]) - 1) / 2
    at = (np.asarray(xy, np.float64) - middle) / middle
    return np.stack([at[:, 0] ** i * at[:, 1] ** j for i, j in POWERS], axis=1)


def _plain(light: NDArray, factor: int) -> NDArray:
    """Return a photo made small, its lines blurred away, as local contrast."""
    from scipy import ndimage

    small = reduced(light, factor)
    smooth = ndimage.gaussian_filter(np.maximum(small, 0), _BLUR * _LINE_PIXELS)
    return local_contrast(smooth ** (1 / 2.2), 50)


def _enlarged(warp: Warp, first: int, second: int, size: tuple[int, int], other: tuple[int, int]) -> Warp:
    """Return the warp of photos whose pixels were averaged by two factors in the photos' own pixels."""
    before = _shrink(first)
    after = np.linalg.inv(_shrink(second))
    # a cubic in shares of the small photo's middle is one in shares of the large photo's, to half a pixel
    return Warp(
        after @ warp.matrix @ before,
        warp.lens,
        warp.bend * second,
        size,
        other,
        through(np.linalg.inv(before), warp.places),
        warp.error * second,
    )


def _shrink(factor: int) -> NDArray:
    moved = (1 / factor - 1) / 2
    return np.array([[1 / factor, 0, moved], [0, 1 / factor, moved], [0, 0, 1]])
