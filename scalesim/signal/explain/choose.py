"""Which tiles of a photo to compare: where predictions differ, and where there is light to register by."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import NotIdentifiable
from scalesim.signal.explain.fit import START
from scalesim.signal.explain.lit import LitLines
from scalesim.signal.explain.straight import Straight

TILES, FEWEST = 36, 8
TELLING = 14
"""Tiles that are looked at for each pair of predictions: those in which the two differ most."""

_EVERY = 4
_TEXTURE = 0.3
"""What the texture that all predictions share counts, beside what they differ by."""

_CLIPPED, _SHARE = 0.97, 0.02
"""Light of a pixel at which the sensor is taken to be full, and how much of a tile may be."""

Cut = tuple[slice, slice]


def chosen_tiles(photo: Straight, lits: Sequence[LitLines], count: int = TILES) -> list[Cut]:
    """Return the tiles to fit predictions to, in the order of the picture.

    Raises: NotIdentifiable where the photo holds fewer than eight tiles that are not overexposed
    """
    cuts, shown = usable_tiles(photo), _shown(photo, lits)
    differ, common = shown.std(axis=0), shown.mean(axis=0)
    by_difference = np.array([float(differ[cut].mean()) for cut in _small(cuts)])
    by_texture = np.array([float(common[cut].std()) for cut in _small(cuts)])
    score = _of_most(by_difference) + _TEXTURE * _of_most(by_texture)
    return [cuts[k] for k in sorted(np.argsort(-score, kind="stable")[:count])]


def telling_tiles(photo: Straight, lits: Sequence[LitLines], each: int = TELLING) -> list[Cut]:
    """Return the tiles that tell predictions apart: of each pair those where the two differ most.

    Differences are squared and taken over the tile's light, as the noise of light is.
    Raises: NotIdentifiable where the photo holds fewer than eight tiles that are not overexposed
    """
    cuts, shown = usable_tiles(photo), _shown(photo, lits)
    light = np.array([float(photo.light[cut][::_EVERY, ::_EVERY].mean()) for cut in cuts])
    noise = light + 0.05 * float(np.median(light)) + 1e-6
    held: set[int] = set()
    for one, other in combinations(shown, 2):
        apart = (one - other) ** 2
        energy = np.array([float(apart[cut].mean()) for cut in _small(cuts)]) / noise
        held |= set(np.argsort(-energy, kind="stable")[:each].tolist())
    return [cuts[k] for k in sorted(held or range(len(cuts)))]


def usable_tiles(photo: Straight) -> list[Cut]:
    """Return the tiles that are whole and not overexposed; NotIdentifiable for fewer than eight."""
    cuts = [cut for cut in photo.tiles() if (photo.light[cut] > _CLIPPED).mean() < _SHARE]
    if len(cuts) < FEWEST:
        raise NotIdentifiable(
            f"the photo holds {len(cuts)} whole parts of eight lines that are not overexposed ({FEWEST} are "
            "needed): expose less, or show more of the picture"
        )
    return cuts


def _shown(photo: Straight, lits: Sequence[LitLines]) -> NDArray[np.float32]:
    """Return what each prediction would show, on every fourth pixel each way."""
    v, u = (each[::_EVERY, ::_EVERY] for each in photo.places())
    made = [lit.smooth(START.along).light(v * np.float32(lit.lines / photo.lines), u, START) for lit in lits]
    return np.stack(made)


def _small(cuts: Sequence[Cut]) -> list[Cut]:
    return [
        (
            slice(rows.start // _EVERY, rows.stop // _EVERY),
            slice(columns.start // _EVERY, columns.stop // _EVERY),
        )
        for rows, columns in cuts
    ]


def _of_most(values: NDArray) -> NDArray[np.float64]:
    most = float(values.max())
    return values / most if most > 0 else values
