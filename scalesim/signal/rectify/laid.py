"""A second photo laid on a first: its light taken to the first one's pixels, exposure and white matched."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.sampled import reduced, sampled
from scalesim.signal.rectify.warp import Warp

ROWS = 1440
"""Rows that a photo is shown and compared in, at most."""

_CLIPPED, _DARK = 0.95, 0.03
_LINES = 2.0
"""Lines that light is averaged over before two photos' brightness is compared."""

_LEAST_EQUAL = 0.03
_FEWEST = 400

_ROUNDS, _MOST_PLACES = 5, 20_000
_HELD, _MOST_SHADE = 1e-3, 0.8
"""How firmly shading is held at none, and its logarithm in a corner at the most: a lens loses half there."""


@dataclass(frozen=True, eq=False)
class Laid:
    """Two photos on one grid, linear light (rows, columns, 3); NaN in `second` where it holds nothing.

    Parameters:
        first, second : light, the second as it was shot
        gain : what the second's red, green and blue are multiplied by to match; 1 / gain undoes it
        shade : (rows, columns) that it is multiplied by besides: what both lenses shade toward their corners
        equal : (rows, columns) bool, parts that are equal after that and set it; common : inside the hull
        ratio : (rows, columns) local light of the matched second over the first, NaN where it is too dark
        factor : pixels of the first photo to one here
    """

    first: NDArray[np.float32]
    second: NDArray[np.float32]
    gain: NDArray[np.float64]
    shade: NDArray[np.float32]
    equal: NDArray[np.bool_]
    common: NDArray[np.bool_]
    ratio: NDArray[np.float32]
    factor: int

    @property
    def matched(self) -> NDArray[np.float32]:
        """The second's light, matched."""
        return (self.second * self.gain * self.shade[..., None]).astype(np.float32)

    @property
    def equal_share(self) -> float:
        """Share of the common part that is equal."""
        return float(self.equal.sum() / max(1, self.common.sum()))


def laid_on(first: NDArray, second: NDArray, warp: Warp, period: float) -> Laid:
    """Return a second photo laid on a first.

    Parameters:
        first, second : (rows, columns, 3) linear light; period : pixels from line to line in the first
    Exposure and white: per channel the median of the ratio of local light (a Gaussian of two lines) over
    parts that are neither dark nor overexposed, then again over those within three deviations of it, which
    are the parts called equal. What lenses shade is the exponential of b r1^2 + c r2^2, r the distance from
    each photo's middle in half diagonals, by least squares over the same parts.
    Raises: NotIdentifiable where too little of both is neither dark nor overexposed
    """
    factor = max(1, -(-first.shape[0] // ROWS))
    one = reduced(first, factor)
    rows, columns = one.shape[:2]
    down, over = np.indices((rows, columns))
    at = np.stack([over.ravel(), down.ravel()], axis=1) * factor + (factor - 1) / 2
    middle = at.mean(axis=0, keepdims=True)
    step = np.linalg.norm(warp.to_second(middle + np.array([0.0, factor])) - warp.to_second(middle))
    shrink = max(1, int(step + 0.25))
    places = (warp.to_second(at) + 0.5) / shrink - 0.5
    other = sampled(reduced(second, shrink), places).reshape(rows, columns, 3)
    common = warp.holds(at).reshape(rows, columns) & np.isfinite(other).all(axis=2)
    there = warp.to_second(at)
    lenses = [_from_middle(where, size) for where, size in ((at, warp.size), (there, warp.second))]
    terms = np.stack([np.ones(len(at)), *lenses], axis=1).reshape(rows, columns, 3)
    gain, shade, equal, ratio = _matched(one, other, common, _LINES * period / factor, terms)
    return Laid(one, other, gain, shade, equal, common, ratio, factor)


def _from_middle(places: NDArray, size: tuple[int, int]) -> NDArray[np.float64]:
    """Return the squares of places' distances from a photo's middle, in half diagonals."""
    middle = (np.array(size[::-1]) - 1) / 2
    return np.asarray(4 * ((places - middle) ** 2).sum(axis=1) / (size[0] ** 2 + size[1] ** 2))


def _matched(
    first: NDArray, second: NDArray, common: NDArray, sigma: float, terms: NDArray
) -> tuple[NDArray[np.float64], NDArray[np.float32], NDArray[np.bool_], NDArray[np.float32]]:
    from scipy import ndimage

    def local(light: NDArray) -> NDArray:
        held = np.where(common[..., None], light, 0)
        weight = ndimage.gaussian_filter(common.astype(np.float32), sigma)
        smooth = np.stack([ndimage.gaussian_filter(held[..., k], sigma) for k in range(3)], axis=-1)
        return smooth / np.maximum(weight, 1e-3)[..., None]

    one, other = local(first), local(second)
    full = np.maximum(first.max(axis=2), np.nan_to_num(second).max(axis=2)) > _CLIPPED
    unclipped = ndimage.gaussian_filter(full.astype(np.float32), sigma) < 0.01
    lit = [each.mean(axis=2) > _DARK * np.percentile(each.mean(axis=2)[common], 99) for each in (one, other)]
    usable = common & unclipped & lit[0] & lit[1]
    if usable.sum() < _FEWEST:
        raise NotIdentifiable(
            "before and after: too little of both is neither dark nor overexposed to match their brightness; "
            "expose less, or show a brighter picture"
        )
    ratio = np.log(np.maximum(one, 1e-6) / np.maximum(other, 1e-6))
    grey = ratio.mean(axis=2)
    middle = np.full(grey.shape, float(np.median(grey[usable])))
    for _ in range(_ROUNDS):
        spread = max(1.4826 * float(np.median(np.abs(grey - middle)[usable])), _LEAST_EQUAL / 3)
        equal = usable & (np.abs(grey - middle) < 3 * spread)
        found = _shading(terms[equal], grey[equal])
        middle = terms @ found
    shade = np.exp(middle - found[0]).astype(np.float32)
    gain = np.exp([float(np.median((ratio[..., k] - middle + found[0])[equal])) for k in range(3)])
    seen = np.full(grey.shape, np.nan, np.float32)
    seen[usable] = (other @ gain / 3 * shade / np.maximum(one.mean(axis=2), 1e-6))[usable]
    return gain, shade, equal, seen


def _shading(terms: NDArray, values: NDArray) -> NDArray[np.float64]:
    """Return (level, b, c): b and c are held small where both lenses shade alike and cannot be told."""
    some = slice(None, None, max(1, len(values) // _MOST_PLACES))
    x, y = terms[some], values[some]
    known = np.diag([0.0, _HELD, _HELD]) * len(y)
    found = np.linalg.solve(x.T @ x + known, x.T @ y)
    found[1:] = np.clip(found[1:], -_MOST_SHADE, _MOST_SHADE)
    found[0] = float(np.median(y - x[:, 1:] @ found[1:]))
    return np.asarray(found)
