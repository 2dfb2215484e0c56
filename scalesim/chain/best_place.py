"""The weights of a chain's lines with its sampling moved, by which its best place is found.

A box moves its sampling by the phase of its scaler, so the phase of the first stage that has one for
lines is tried as it is and at every eighth of an input line. `position` stages say where the picture was
put, not what the box does to it: they count as standing at 0, or the softness of a move by part of a line
would pass for the box's own. A chain without a phase (an interlacer alone, a measured box) has one set of
weights.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache
from math import lcm
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from scalesim.chain.resolve import Lands
from scalesim.core.landed import places
from scalesim.core.raster import Raster
from scalesim.errors import ScalesimError
from scalesim.metrics.outlines.floor import Floor, moves_from
from scalesim.stages import LinearStage, PictureStage, PointStage, Stage
from scalesim.stages.geometry import Position

AROUND = 16
"""Landed lines either side of the middle: the places of an outline, and the reach of a six-tap kernel."""

if TYPE_CHECKING:
    from scipy.sparse import csr_array

Matrices = tuple["csr_array | None", ...]
"""What a stage does to the lines, per field phase; None leaves them alone."""


def best_place(stages: Sequence[Stage], source: Raster, lands: Lands | None = None) -> Floor | None:
    """Return how whole a chain leaves an outline at its best place; None when it is no matrix on lines.

    Parameters:  stages : of the chain; source : the raster it starts from; lands : see `Chain`
    """
    placed = tuple(replace(stage, lines=0.0) if isinstance(stage, Position) else stage for stage in stages)
    if any(stage.kind == "measured" for stage in stages):  # its file may change under the same name
        return _best_place(placed, source, lands)
    return _remembered(placed, source, lands)


@lru_cache(maxsize=64)
def _remembered(placed: tuple[Stage, ...], source: Raster, lands: Lands | None) -> Floor | None:
    return _best_place(placed, source, lands)


def _best_place(placed: tuple[Stage, ...], source: Raster, lands: Lands | None) -> Floor | None:
    shifted = _shifted(placed, source, lands)
    return Floor(shifted) if shifted else None


def _shifted(placed: tuple[Stage, ...], source: Raster, lands: Lands | None) -> tuple[NDArray, ...]:
    """Return weights (landed lines in a row, source frame lines in a row) about the middle, one per shift."""
    try:
        rasters = [source]
        for stage in placed:
            rasters.append(stage.raster(rasters[-1]))
        known = [_lines(*pair) for pair in zip(placed, rasters, strict=False)]
    except ScalesimError:
        return ()
    if any(matrices is None for matrices in known):
        return ()
    matrices = [each for each in known if each is not None]
    if lands is not None:
        rasters[-1] = lands(rasters[-1])
    cycle = lcm(source.period, rasters[-1].period, *map(len, matrices))
    first = next((k for k, stage in enumerate(placed) if _has_phase(stage)), None)
    if first is None:
        return (_landed(matrices, rasters, cycle),)
    tail = matrices[first + 1 :]
    found = []
    for moved in _moved(placed[first]):
        own = _lines(moved, rasters[first])
        assert own is not None
        found.append(_landed([*matrices[:first], own, *tail], rasters, cycle))
    return _looked_at(found)


def _looked_at(shifted: Sequence[NDArray]) -> tuple[NDArray, ...]:
    """Return the weights of the source lines from the first that counts to the last: a few of a thousand."""
    used = np.flatnonzero(np.any([weights.any(axis=0) for weights in shifted], axis=0))
    first, last = (int(used[0]), int(used[-1]) + 1) if len(used) else (0, 1)
    return tuple(weights[:, first:last].copy() for weights in shifted)


def _has_phase(stage: Stage) -> bool:
    return hasattr(stage, "phase") and getattr(stage, "lines", None) is not None


def _moved(stage: Stage) -> Iterator[Stage]:
    phase: float = getattr(stage, "phase", 0.0)
    for move in moves_from(phase):
        yield replace(stage, **{"phase": phase + move})


def _lines(stage: Stage, before: Raster) -> Matrices | None:
    """Return what a stage does to the lines; None when it is no matrix."""
    if isinstance(stage, LinearStage):
        return tuple(phase.lines for phase in stage.operator(before).phases)
    keeps = isinstance(stage, PointStage) or (isinstance(stage, PictureStage) and stage.keeps_lines)
    return (None,) if keeps else None


def _landed(matrices: Sequence[Matrices], rasters: Sequence[Raster], cycle: int) -> NDArray:
    """Return the weights of the landed lines about the middle on the source's frame lines."""
    source, output = rasters[0], rasters[-1]
    begin = max(0, output.landed_lines // 2 - AROUND)
    end = min(output.landed_lines, output.landed_lines // 2 + AROUND)
    total = np.zeros((end - begin, source.frame_lines))
    for phase in range(cycle):
        parity = source.fields[phase % source.period].parity
        columns = slice(parity, None, 2) if source.period == 2 else slice(None)
        for shown, own, share in places(output, phase):
            landed = np.arange(shown.start, shown.stop, shown.step)
            near = np.flatnonzero((landed >= begin) & (landed < end))
            weights = _rows(matrices, phase, near + own.start, source.lines)
            total[landed[near] - begin, columns] += weights * (share * output.period / cycle)
    return total


def _rows(matrices: Sequence[Matrices], phase: int, rows: NDArray, lines: int) -> NDArray:
    """Return (rows, input lines): the product of the stages' matrices, only these lines of it."""
    kept: csr_array | None = None
    for stage in reversed(matrices):
        own = stage[phase % len(stage)]
        if own is not None:
            kept = own[rows] if kept is None else kept @ own
    return np.eye(lines)[rows] if kept is None else kept.toarray()
