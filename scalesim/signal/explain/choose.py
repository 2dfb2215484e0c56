"""Which tiles of a photo to compare: where predictions differ, and where there is light to register by."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable
from scalesim.signal.explain.fit import START
from scalesim.signal.explain.lit import LitLines
from scalesim.signal.explain.straight import Straight

TILES, FEWEST = 36, 8
_EVERY = 4
_TEXTURE = 0.3
"""What the texture that all predictions share counts, beside what they differ by."""

_CLIPPED, _SHARE = 0.97, 0.02
"""Light of a pixel at which the sensor is taken to be full, and how much of a tile may be."""


def chosen_tiles(photo: Straight, lits: Sequence[LitLines], count: int = TILES) -> list[tuple[slice, slice]]:
    """Return the tiles to compare predictions by, in the order of the picture.

    Raises: NotIdentifiable where the photo holds fewer than eight tiles that are not overexposed
    """
    v, u = (each[::_EVERY, ::_EVERY] for each in photo.places())
    shown = np.stack([lit.smooth(START.along).light(v, u, START) for lit in lits])
    differ, common = shown.std(axis=0), shown.mean(axis=0)
    cuts = [cut for cut in photo.tiles() if (photo.light[cut] > _CLIPPED).mean() < _SHARE]
    if len(cuts) < FEWEST:
        raise NotIdentifiable(
            f"the photo holds {len(cuts)} whole parts of eight lines that are not overexposed ({FEWEST} are "
            "needed): expose less, or show more of the picture"
        )
    small = [tuple(slice(side.start // _EVERY, side.stop // _EVERY) for side in cut) for cut in cuts]
    by_difference = np.array([float(differ[cut].mean()) for cut in small])
    by_texture = np.array([float(common[cut].std()) for cut in small])
    score = _of_most(by_difference) + _TEXTURE * _of_most(by_texture)
    return [cuts[k] for k in sorted(np.argsort(-score, kind="stable")[:count])]


def _of_most(values: NDArray) -> NDArray[np.float64]:
    most = float(values.max())
    return values / most if most > 0 else values
