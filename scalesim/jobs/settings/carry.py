"""Fractions of a line without softening: the box's own scaler moves its sampling.

A `position` of a fraction of a line interpolates between lines, which softens the picture and so changes
every measure of it. A box that moves its picture has a scaler that does: a fraction is given to the
`phase` of the line stage behind the position, or to the one in front of it, and the position keeps its
whole lines. Moving the picture down by f lines is looking f lines further up. A drop only chooses lines,
so a scaler that weighs them is taken first.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import floor
from typing import Any

from scalesim.chain.keys import find_key, get_key
from scalesim.chain.resolve import resolve
from scalesim.core.raster import Raster
from scalesim.errors import ScalesimError
from scalesim.stages import Stage
from scalesim.stages.geometry import Position
from scalesim.stages.lines import LineAverage, LineDrop
from scalesim.stages.resample import Resample

_LEAVE_LINES = ("band-limit", "level", "quantise", "chroma")


@dataclass(frozen=True)
class Carrier:
    """The line stage that takes a position's fraction of a line.

    Parameters:
        key : the position's address, such as "position.lines"
        phase : the scaler's, such as "line-average.phase"
        share : what that phase changes by for each line the picture moves down
    """

    key: str
    phase: str
    share: float


def carriers_of(stages: Sequence[Stage], keys: Iterable[str], source: Raster) -> tuple[Carrier, ...]:
    """Return who takes the fractions of the positions among `keys`; those nobody takes are left out."""
    found = (_carrier(stages, key, source) for key in keys)
    return tuple(carrier for carrier in found if carrier is not None)


def carry(stages: Sequence[Stage], values: Mapping[str, Any], carriers: Iterable[Carrier]) -> dict[str, Any]:
    """Return values of keys with each carried position whole and its fraction in the scaler's phase."""
    out = dict(values)
    for carrier in carriers:
        lines = out.get(carrier.key)
        if lines is None:
            continue
        whole = floor(lines + 0.5)
        if lines != whole:
            phase = out[carrier.phase] if carrier.phase in out else get_key(stages, carrier.phase)
            out[carrier.key], out[carrier.phase] = float(whole), phase + carrier.share * (lines - whole)
    return out


def is_lines(stages: Sequence[Stage], key: str) -> bool:
    """Return whether a key is the lines of a position."""
    place = find_key(stages, key)
    return isinstance(stages[place.stage], Position) and place.key == "lines"


def _carrier(stages: Sequence[Stage], key: str, source: Raster) -> Carrier | None:
    if not is_lines(stages, key):
        return None
    at = find_key(stages, key).stage
    try:
        rasters = resolve(tuple(stages), source).rasters
    except ScalesimError:
        return None
    reached = [k for k in (_next(stages, at, 1), _next(stages, at, -1)) if k is not None]
    moving = [k for k in reached if rasters[k].period == rasters[at].period == 1]
    # sorted keeps the order: behind the position first
    for k in sorted(moving, key=lambda k: isinstance(stages[k], LineDrop)):
        share = -1.0 if k > at else -float(stages[k].maps(rasters[k])[0][0].scale)
        return Carrier(key, _phase_of(stages, k), share)
    return None


def _next(stages: Sequence[Stage], at: int, way: int) -> int | None:
    """Return the nearest scaler of lines on one side, when nothing in between touches lines."""
    k = at + way
    while 0 <= k < len(stages):
        stage = stages[k]
        if isinstance(stage, LineDrop | LineAverage) or (isinstance(stage, Resample) and stage.lines):
            return k
        if stage.kind not in _LEAVE_LINES:
            return None
        k += way
    return None


def _phase_of(stages: Sequence[Stage], at: int) -> str:
    kind = stages[at].kind
    number = sum(stage.kind == kind for stage in stages[: at + 1])
    return f"{kind}.phase" if number == 1 else f"{kind}#{number}.phase"
