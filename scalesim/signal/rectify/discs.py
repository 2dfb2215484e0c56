"""The discs of the `geometry` chart in a photo: found, told apart, and made a `View`.

A disc is what stands out of its dark plate, about as high as ten of 240 lines, and nearly an ellipse; its
middle is the centre of the light above the plate. Which is which: of all ways to give four of the found ones
names, the one under which most of the nine lie where they should.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, permutations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.plane import slopes, through, through_four
from scalesim.signal.rectify.sampled import reduced
from scalesim.signal.rectify.view import View, fit_view

ROWS = 1200
"""Rows a photo is reduced to for looking; more tell nothing of discs."""

FEWEST = 6
"""Discs that must lie where they should: six of nine leave no other way to name them but by half a turn."""

_SHARES = (1.0, 0.8, 0.64, 0.5)
"""Heights of the picture in the photo that are tried."""
_DOTS = 240
_OFF = 0.012
"""How far from its place a disc may lie, in picture widths, before the lens is known: a barrel of 5 %."""
_MOST = 16
_FOURS = 30


def view_by_discs(light: NDArray, marks: Sequence[dict[str, Any]], chart: tuple[int, int]) -> View:
    """Return the view of a photo of the geometry chart.

    Parameters:
        light : (rows, columns) linear light
        marks : of the chart's truth; chart : (lines, samples) of its frame
    Raises: NotIdentifiable where fewer than six of its discs are seen
    """
    factor = max(1, light.shape[0] // ROWS)
    small = reduced(light, factor)
    lines, samples = chart
    uv = np.array([[mark["sample"] / samples, mark["line"] / lines] for mark in marks])
    best: View | None = None
    seen = 0
    for share in _SHARES:
        found = find_discs(small, share * small.shape[0])
        seen = max(seen, len(found))
        named = _named(found, uv)
        if named is not None and (best is None or len(named[0]) > best.points):
            which, xy = named
            best = fit_view(uv[which], xy, small.shape, how="discs of the geometry chart")
        if best is not None and best.points == len(marks):
            break
    if best is None:
        raise NotIdentifiable(
            f"the discs of the geometry chart: {seen} were found, too few of them where they should lie "
            f"({FEWEST} are needed); show the whole chart, sharp and without a reflection, or give --corners"
        )
    return best.reduced(1 / factor) if factor > 1 else best


def find_discs(light: NDArray, height: float) -> NDArray[np.float64]:
    """Return the middles of what may be discs, (n, 2) pixels, the roundest first; at most 16.

    Parameters:  light : (rows, columns) linear light; height : of the picture in the photo, about, in pixels
    """
    from scipy import ndimage
    from skimage.measure import label, regionprops

    dot = height / _DOTS
    smooth = ndimage.gaussian_filter(light.astype(np.float32), 1.2 * dot)
    span = 2 * round(10 * dot) + 1
    high, low = ndimage.maximum_filter(smooth, span), ndimage.minimum_filter(smooth, span)
    floor = 0.15 * float(np.percentile(smooth, 99.5))
    bright = (smooth > (high + low) / 2) & (high - low > floor)
    radius = 5 * dot
    kept = []
    for region in regionprops(label(bright)):
        long, short = region.axis_major_length / 2, region.axis_minor_length / 2
        if not (0.55 * radius < short and long < 2.0 * radius and short > 0.5 * long):
            continue
        filled = region.area / (np.pi * long * short)
        if not 0.9 < filled < 1.08 or region.solidity < 0.93:
            continue
        middle = _middle(light, smooth, region, low)
        if middle is not None:
            kept.append((abs(filled - 1), middle))
    kept.sort(key=lambda each: each[0])
    return np.array([middle for _, middle in kept[:_MOST]]).reshape(-1, 2)


def _middle(light: NDArray, smooth: NDArray, region: Any, low: NDArray) -> NDArray | None:
    """Return the centre (across, down) of a region's light above its plate; None where the photo cuts it."""
    top, left, bottom, right = region.bbox
    rim = round(0.25 * (bottom - top)) + 1
    if top < rim or left < rim or bottom + rim > light.shape[0] or right + rim > light.shape[1]:
        return None
    cut = np.s_[top - rim : bottom + rim, left - rim : right + rim]
    y, x = region.centroid
    plate = float(low[round(y), round(x)])
    above = np.maximum(light[cut] - max(plate, float(np.median(np.r_[smooth[cut][0], smooth[cut][-1]]))), 0)
    rows, columns = np.indices(above.shape)
    total = above.sum()
    if total <= 0:
        return None
    return np.array([(above * columns).sum() / total + left - rim, (above * rows).sum() / total + top - rim])


def _named(found: NDArray, uv: NDArray) -> tuple[NDArray, NDArray] | None:
    """Return (which marks, where they were found), or None where too few lie where they should."""
    if len(found) < FEWEST:
        return None
    names = np.array(list(permutations(range(len(uv)), 4)))
    sides = np.sign(_areas(uv[names]))
    fours = np.array(list(combinations(range(len(found)), 4)))
    spread = np.abs(_areas(found[fours])).min(axis=1)  # none lie on a line where it is large
    best: tuple[float, NDArray, NDArray] | None = None
    for four in fours[np.argsort(-spread, kind="stable")[:_FOURS]]:
        # a camera in front keeps the sense in which three points go round
        alike = names[(sides == np.sign(_areas(found[four]))).all(axis=1)]
        named = _best_names(found, uv, through_four(uv[alike], found[four]))
        if named is not None and (best is None or named[0] > best[0]):
            best = named
        if best is not None and len(best[1]) == len(uv):
            break
    return None if best is None else (best[1], best[2])


def _best_names(found: NDArray, uv: NDArray, maps: NDArray) -> tuple[float, NDArray, NDArray] | None:
    """Return score, marks and places of the map under which most discs lie where they should."""
    with np.errstate(all="ignore"):
        maps = maps[_plausible(maps)]
        if not len(maps):
            return None
        off = np.linalg.norm(through(maps, uv)[:, :, None] - found, axis=-1)
    nearest, distance = off.argmin(axis=2), off.min(axis=2)
    ends = through(maps, np.array([[0.0, 0.5], [1.0, 0.5]]))
    wide = np.linalg.norm(ends[:, :1] - ends[:, 1:], axis=-1)
    close = distance < _OFF * wide
    # the most marks; among ways equally good the more upright, then the closer
    upright = slopes((0.5, 0.5), maps)[:, 1, 1] > 0
    cost = np.where(close, distance / wide, 0).sum(axis=1) / np.maximum(close.sum(axis=1), 1)
    score = close.sum(axis=1) + 0.5 * upright - cost
    k = int(score.argmax())
    which = np.flatnonzero(close[k])
    if len(which) < FEWEST or len(set(nearest[k][which])) < len(which):
        return None
    return float(score[k]), which, found[nearest[k][which]]


def _areas(fours: NDArray) -> NDArray[np.float64]:
    """Return twice the signed areas of the four triangles of four points: (..., 4, 2) to (..., 4)."""
    found = []
    for a, b, c in combinations(range(4), 3):
        one, other = fours[..., b, :] - fours[..., a, :], fours[..., c, :] - fours[..., a, :]
        found.append(one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0])
    return np.stack(found, axis=-1)


def _plausible(maps: NDArray) -> NDArray[np.bool_]:
    """Tell which maps a camera in front of a tube can make: no mirror, nothing stretched beyond use."""
    whole = np.isfinite(maps).all(axis=(1, 2))
    held = np.zeros(len(maps), bool)
    corners = np.array([[0.0, 0], [1, 0], [1, 1], [0, 1]])
    safe = maps[whole]
    slope = slopes((0.5, 0.5), safe)
    across, down = np.linalg.norm(slope[:, :, 0], axis=1), np.linalg.norm(slope[:, :, 1], axis=1)
    ends = np.concatenate([corners, np.ones((4, 1))], axis=1) @ np.swapaxes(safe, 1, 2)
    depth = ends[..., 2]
    near = (depth.min(axis=1) > 0.5 * depth.max(axis=1)) & (depth.min(axis=1) > 0)
    shape = across / down
    held[whole] = near & (np.linalg.det(slope) > 0) & (shape > 0.8) & (shape < 2.2)
    return held
