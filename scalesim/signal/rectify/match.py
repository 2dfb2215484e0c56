"""The same places in two pictures, by what does not change with scale, turn and brightness."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable
from scalesim.signal.rectify.plane import agreeing, best_map, through

FEWEST, SHARE, HULL = 20, 0.3, 0.1
"""Matches that must agree with one map, their share of all, and the share of the smaller picture that their
hull must span. Set on pictures that do not show the same: none of them came near.
"""

_RATIO = 0.8
_TOLERANCE = 0.006
"""How far a match may lie from the map, in heights of the second picture: what a lens of 5 % bends."""


@dataclass(frozen=True, eq=False)
class Matches:
    """Places that belong together: (n, 2) pixels (across, down) in both, and the map between them."""

    first: NDArray[np.float64]
    second: NDArray[np.float64]
    matrix: NDArray[np.float64]
    share: float


def match(first: NDArray, second: NDArray, names: tuple[str, str]) -> Matches:
    """Return the places that two pictures have in common.

    Parameters:
        first, second : (rows, columns) code values 0..1, the scan lines blurred away, 300 to 900 rows
        names : of both, for the refusal
    Raises: NotIdentifiable where they do not show the same
    Source: D. Lowe, "Distinctive Image Features from Scale-Invariant Keypoints", 2004, as scikit-image has
        it: its ratio of 0.8; a projective map by random samples
    """
    from skimage.feature import match_descriptors

    (places_1, words_1), (places_2, words_2) = _features(first), _features(second)
    if min(len(places_1), len(places_2)) < FEWEST:
        poor = names[0] if len(places_1) < FEWEST else names[1]
        raise NotIdentifiable(f"{poor}: has too little texture to be registered; give --corners")
    pairs = match_descriptors(words_1, words_2, max_ratio=_RATIO, cross_check=True)
    at_1, at_2 = places_1[pairs[:, 0]], places_2[pairs[:, 1]]
    held = agreeing(at_1, at_2, _TOLERANCE * second.shape[0])
    for _ in range(3):
        if held.sum() < FEWEST:
            break
        off = np.linalg.norm(through(best_map(at_1[held], at_2[held]), at_1) - at_2, axis=1)
        held = off < _TOLERANCE * second.shape[0]
    share = float(held.mean()) if len(held) else 0.0
    spans = max(_hull(at_1[held]) / first.size, _hull(at_2[held]) / second.size) if held.sum() > 3 else 0.0
    if held.sum() < FEWEST or share < SHARE or spans < HULL:
        raise NotIdentifiable(
            f"{names[0]} and {names[1]}: {int(held.sum())} of {len(held)} places agree ({FEWEST} and a share "
            f"of {SHARE:g} are needed, over {100 * HULL:.0f} % of a picture): they do not show the same, or "
            "too small or blurred a part of it; give --corners"
        )
    return Matches(at_1[held], at_2[held], best_map(at_1[held], at_2[held]), share)


def _features(picture: NDArray) -> tuple[NDArray, NDArray]:
    from skimage.feature import SIFT

    found = SIFT(upsampling=1, n_octaves=5, c_dog=0.008)
    try:
        found.detect_and_extract(np.ascontiguousarray(picture, dtype=np.float32))
    except RuntimeError:  # its word for a picture without a feature
        return np.empty((0, 2)), np.empty((0, 128))
    return np.asarray(found.keypoints, np.float64)[:, ::-1], np.asarray(found.descriptors)


def _hull(points: NDArray) -> float:
    from scipy.spatial import ConvexHull, QhullError

    try:
        return float(ConvexHull(points).volume)
    except QhullError:  # all on a line
        return 0.0
