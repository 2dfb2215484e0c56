"""Predictions of a photo in their order: each is fitted, and the best is told from every other."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from scalesim.signal.explain.between import Between, between
from scalesim.signal.explain.choose import chosen_tiles, telling_tiles, usable_tiles
from scalesim.signal.explain.curve import Curve, curve_of
from scalesim.signal.explain.fit import Fitted, fit, light_at, tiles_of
from scalesim.signal.explain.lit import LitLines
from scalesim.signal.explain.straight import Straight

_FOR_CURVE = 160


@dataclass(frozen=True)
class Ranked:
    """Predictions, best first.

    Parameters:
        order : their numbers as they were given; fits : of each, in that order
        over : where the photo lies between the best and each other, in that order, without the best itself
        tiles : how many were looked at to tell them apart
        curve : how the photo's light rises with that of the best; None where it cannot be told
    """

    order: tuple[int, ...]
    fits: tuple[Fitted, ...]
    over: tuple[Between, ...]
    tiles: int
    curve: Curve | None


def ranked(
    photo: Straight, lits: Sequence[LitLines], advance: Callable[[int], None] = lambda _: None
) -> Ranked:
    """Return how predictions explain a photo.

    The best is the one that no other beats: begun with what leaves least, a prediction that beats it takes
    its place. The others follow, the one that is hardest to tell from it first.
    Raises: NotIdentifiable where too little of the photo can be compared
    """
    tiles = tiles_of(photo, chosen_tiles(photo, lits))
    fits = []
    for k, lit in enumerate(lits):
        advance(k)
        fits.append(fit(lit, tiles, photo.along))
    wide = tiles_of(photo, telling_tiles(photo, lits))
    made = [light_at(lit, found, wide, photo.along) for lit, found in zip(lits, fits, strict=True)]
    best = min(range(len(lits)), key=lambda k: fits[k].score)
    been = set()
    while True:
        been.add(best)
        over = {k: between(made[best], made[k], wide.seen) for k in range(len(lits)) if k != best}
        rival = min(over, key=lambda k: over[k].share, default=best)
        if rival in been or over[rival].share >= 0:
            break
        best = rival
    others = sorted(over, key=lambda k: over[k].likelihood)
    order = (best, *others)
    return Ranked(
        order,
        tuple(fits[k] for k in order),
        tuple(over[k] for k in others),
        int(wide.seen.shape[0]),
        _curve(photo, lits[best], fits[best]),
    )


def _curve(photo: Straight, lit: LitLines, found: Fitted) -> Curve | None:
    """Return the curve over tiles from all of the photo."""
    cuts = usable_tiles(photo)
    some = tiles_of(photo, cuts[:: max(1, len(cuts) // _FOR_CURVE)])
    middle = (photo.lines / 2, 0.5)
    away = ((some.v - middle[0]) / photo.lines) ** 2 + ((some.u - middle[1]) * photo.aspect) ** 2
    return curve_of(
        some.seen.mean(axis=1), light_at(lit, found, some, photo.along).mean(axis=1), away.mean(axis=1)
    )
