"""Where a position stands in a capture, by analysis by synthesis.

A capture registered to a picture that was sampled elsewhere lies where the mixing of lines happens to put
its outlines: up to a fifth of a source line off, however little noise there is. So the position is set to
one value after another, the chain is predicted at each, and the value that leaves the least residual
wins. A box moves its picture in one of two ways, and both are tried: its scaler samples elsewhere
(`carry`), or its output is shifted and fractions of a line are interpolated.

The error is the spread of the answer when one tile of the picture after another is left out, or half the
way to the furthest value that leaves no surely larger residual; with half of what both ways differ by where
the capture cannot tell them apart, and the width within which nothing changes at all. Of 34 boxes that were
the chain given (positions 0 to 4, noise 0 to 3 codes, art and drawn outlines), 32 were within one error
and all within two; a box with another kernel than the chain's is not covered by that.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.core.clip import Clip
from scalesim.jobs.settings.carry import Carrier, carriers_of, carry
from scalesim.jobs.settings.residual import Drawing, Looks, Seen, views_of

WAYS = {"sampling": "its scaler samples elsewhere", "output": "its output is shifted"}
_COARSE, _FINE = 0.25, 1 / 32
"""Source lines between the places tried, and between those about the best."""
_FLOOR = 0.006
"""Source lines: what eight bits and the parabola through three places leave."""
_TOLD = 2.0
"""Standard errors over the tiles by which a way must leave more than the other to be ruled out."""
_SAME = 1e-6
"""Residual powers within this, as a share and in all, are one: far below what eight bits leave."""


@dataclass(frozen=True)
class Stands:
    """Where a position stands, in its own lines.

    Parameters:
        lines, error : the value and its standard error
        views : the value by each picture the capture holds alone
        way : "sampling" or "output": how the picture was moved, by the lesser residual; "" where both are
            alike
        width : lines of the position within which the prediction does not change, 0 for none
    """

    lines: float
    error: float
    views: tuple[float, ...]
    way: str
    width: float


@dataclass(frozen=True)
class _Curve:
    """Residual power of one view over the values tried: (values,), (values, tiles)."""

    values: NDArray
    power: NDArray

    @property
    def best(self) -> int:
        """The number of the value that leaves least."""
        return int(np.argmin(self.power.sum(axis=1)))


def stands_at(
    capture: NDArray,
    clip: Clip,
    chain: Chain,
    key: str,
    near: float,
    per_line: float,
    looks: Sequence[Looks],
    reach: float,
) -> Stands:
    """Return where a position stands in a capture.

    Parameters:
        capture : (lines, samples) luma, code values 0..1
        clip : the still that was sent
        chain : with the position; key : the address of its lines
        near : a first estimate, in the position's lines; per_line : source lines for one of them
        looks : one per view of the capture
        reach : source lines either way of `near` within which it is searched
    """
    draw = Drawing(clip, chain, capture.shape[0], looks)
    views = views_of(capture, chain.resolve(clip.raster).output)
    seen = [
        Seen(view, look, draw, (reach + abs(near * per_line)))
        for view, look in zip(views, looks, strict=True)
    ]
    carriers = carriers_of(chain.stages, [key], clip.raster)
    found = {}
    for way in WAYS if carriers else ("output",):
        own = carriers if way == "sampling" else ()
        found[way] = _search(seen, draw, _setter(chain, key, own), near, per_line, reach)
    return _judged(found, per_line)


def _setter(chain: Chain, key: str, carriers: tuple[Carrier, ...]) -> Callable[[float], Chain]:
    return lambda value: chain.with_keys(carry(chain.stages, {key: float(value)}, carriers))


def _search(
    seen: Sequence[Seen],
    draw: Drawing,
    at: Callable[[float], Chain],
    near: float,
    per_line: float,
    reach: float,
) -> list[_Curve]:
    """Return the residual of each view over the values tried: far and coarse, then fine about its best."""
    known: dict[float, list[NDArray]] = {}

    def add(values: NDArray) -> None:
        for value in values.tolist():
            if value not in known:
                known[value] = [own.power(drawn) for own, drawn in zip(seen, draw(at(value)), strict=True)]

    step = _COARSE / abs(per_line)
    first, count = round(near / step), ceil(reach / _COARSE)
    add(step * np.arange(first - count, first + count + 1))
    fine = _FINE / abs(per_line)
    each = round(step / fine)
    alone = [[k] for k in range(len(seen))]
    for which in (list(range(len(seen))), *alone):
        best = min(known, key=lambda value: sum(known[value][k].sum() for k in which))
        add(fine * np.arange(round(best / fine) - each, round(best / fine) + each + 1))
    values = np.array(sorted(known))
    return [_Curve(values, np.array([known[v][k] for v in values.tolist()])) for k in range(len(seen))]


def _lowest(values: NDArray, power: NDArray) -> tuple[float, float]:
    """Return where a curve is lowest, and the width over which it is so without any change."""
    at = int(np.argmin(power))
    same = power <= power[at] * (1 + _SAME) + _SAME
    first, last = at, at
    while first > 0 and same[first - 1]:
        first -= 1
    while last < len(power) - 1 and same[last + 1]:
        last += 1
    if last > first:
        return float(values[first] + values[last]) / 2, float(values[last] - values[first])
    if 0 < at < len(power) - 1:
        bend = np.polyfit(values[at - 1 : at + 2] - values[at], power[at - 1 : at + 2], 2)
        if bend[0] > 0:
            step = float(-bend[1] / (2 * bend[0]))
            return float(np.clip(values[at] + step, values[at - 1], values[at + 1])), 0.0
    return float(values[at]), 0.0


def _spread(curve: _Curve) -> float:
    """Return the jackknife's standard error of where a curve is lowest, tiles left out one by one."""
    whole = curve.power.sum(axis=1)
    count = curve.power.shape[1]
    left = [_lowest(curve.values, whole - curve.power[:, k])[0] for k in range(count)]
    return float(np.sqrt((count - 1) * np.var(left)))


def _judged(found: dict[str, list[_Curve]], per_line: float) -> Stands:
    joint = {w: _Curve(c[0].values, np.concatenate([v.power for v in c], axis=1)) for w, c in found.items()}
    least = {w: curve.power[curve.best] for w, curve in joint.items()}
    # sampling comes first and stays unless the other leaves less by more than rounding
    left = {w: float(least[w].sum()) for w in found}
    first = next(iter(found))
    way = min(left, key=lambda w: left[w] if w == first else left[w] * (1 + _SAME) + _SAME)
    place, width = _lowest(joint[way].values, joint[way].power.sum(axis=1))
    views = tuple(_view_place(joint[way], own, place) for own in found[way])
    if max(views) - min(views) > 0:
        place = float(np.mean(views))
    alike = [w for w in found if w != way and not _more(least[w] - least[way])]
    apart = [abs(_lowest(joint[w].values, joint[w].power.sum(axis=1))[0] - place) for w in alike]
    spread = max(_spread(joint[way]), _unclear(joint[way]) / _TOLD)
    doubts = [spread, max(apart, default=0.0) / 2, width / np.sqrt(12), _FLOOR / abs(per_line)]
    told = way if len(found) > 1 and not alike else ""
    return Stands(place, float(np.linalg.norm(doubts)), views, told, width)


def _view_place(joint: _Curve, own: _Curve, place: float) -> float:
    """Return where one view is: with the others, unless it surely fits better elsewhere."""
    with_them = own.power[joint.best]
    if not _more(with_them - own.power[own.best]):
        return place
    return _lowest(own.values, own.power.sum(axis=1))[0]


def _unclear(curve: _Curve) -> float:
    """Return how far from the best value another leaves no surely larger residual."""
    alike = [not _more(tiles - curve.power[curve.best]) for tiles in curve.power]
    return float(np.max(np.abs(curve.values[alike] - curve.values[curve.best])))


def _more(tiles: NDArray) -> bool:
    """Return whether one place leaves surely more than another, from their difference tile by tile."""
    return float(tiles.mean()) > _TOLD * float(tiles.std(ddof=1)) / np.sqrt(len(tiles)) + 1e-12
