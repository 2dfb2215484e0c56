"""Composing the candidates of a chain: what does not vary is multiplied once.

Neighbouring linear stages are matrices, so the stages before and after the varied ones are resolved and
composed once per raster; a candidate costs the varied stage's own small matrix and two products.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import lcm
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain.best_place import best_place
from scalesim.chain.keys import find_key, with_stage_keys
from scalesim.chain.resolve import Lands
from scalesim.core.affine import IDENTITY, Affine
from scalesim.core.geometry import Geometry, Looks
from scalesim.core.operator import FieldOperator, Operator, matrix_from_taps, still
from scalesim.core.raster import Raster, visible_slices
from scalesim.metrics.outlines.floor import Floor
from scalesim.metrics.outlines.line_weights import KnownWeights
from scalesim.metrics.outlines.strips import strip_width
from scalesim.stages import LinearStage, Stage


@dataclass(frozen=True, eq=False)
class StripView:
    """Where a chain's output looks when samples are strips of the source, 1/240 of its width each.

    Parameters:
        source, output : the rasters with strips for samples
        geometry : likewise; the output's strips stand where the source's do
        lines : map from landed lines to source frame lines
        window : the visible landed lines, and the visible strips, whose ends need not be whole
    """

    source: Raster
    output: Raster
    geometry: Geometry
    lines: Affine
    window: tuple[slice, Any]

    @classmethod
    def of(cls, source: Raster, output: Raster, geometry: Geometry) -> StripView:
        """Return the view of a chain between two rasters."""
        width = strip_width(source.samples)
        count = source.samples // width
        lines, samples = visible_slices(output, output.landed_lines, output.samples)
        ends = (geometry.samples(float(end)) / width for end in (samples.start, samples.stop))
        kept = (geometry.kept_samples[0] / width, geometry.kept_samples[1] / width)
        return cls(
            source.with_(samples=count),
            output.with_(samples=count),
            replace(geometry, samples=IDENTITY, kept_samples=kept),
            geometry.landed(output),
            (lines, slice(*ends)),
        )


@dataclass(frozen=True, eq=False)
class Composition:
    """A chain with its candidate's keys, resolved on one source raster.

    Parameters:
        operator : the whole chain per field phase
        source, output : the rasters on either side
        geometry : where the output looks on the source
        cycle : after how many pictures the output of a still repeats
        stages : of the chain, with the candidate's keys; lands : see `Chain`
    """

    operator: FieldOperator
    source: Raster
    output: Raster
    geometry: Geometry
    cycle: int
    stages: tuple[Stage, ...]
    lands: Lands | None = None

    @cached_property
    def coverage(self) -> NDArray:
        """Weights of landed lines on source frame lines, as `predict.coverage` has them, float32."""
        return self.known.dense

    def floor(self) -> Floor | None:
        """Return how whole the chain leaves an outline at its best place."""
        return best_place(self.stages, self.source, self.lands)

    @cached_property
    def view(self) -> StripView:
        """Where the output looks in strips, the same for all frames."""
        return StripView.of(self.source, self.output, self.geometry)

    @cached_property
    def known(self) -> KnownWeights:
        """The same for the metrics, made once for all frames."""
        shape = (self.output.landed_lines, self.source.frame_lines)
        taps = [self._landed_taps(phase) for phase in range(self.cycle)]
        if len(taps) > 1:
            rows, columns, weights = (np.concatenate(parts) for parts in zip(*taps, strict=True))
        else:
            rows, columns, weights = taps[0]
        sparse = matrix_from_taps(shape, rows, columns, weights).astype(np.float32)
        return KnownWeights(sparse, sparse.toarray())

    def _landed_taps(self, phase: int) -> tuple[NDArray, NDArray, NDArray]:
        """Return (landed lines, source frame lines, weights) of one picture of the cycle."""
        lines = self.operator.phases[phase % self.operator.period].lines
        if lines is None:
            rows = columns = np.arange(self.source.lines)
            weights = np.ones(len(rows))
        else:
            taps = lines.tocoo()
            rows, columns, weights = taps.row, taps.col, taps.data
        if self.source.period == 2:
            columns = 2 * columns + self.source.fields[phase % 2].parity
        made = []
        for first, share in self.output.slots(phase).items():
            down = self.output.landed_rows * rows + first
            shown = (down >= 0) & (down < self.output.landed_lines)
            part = share * self.output.period / self.cycle
            made.append((down[shown], columns[shown], weights[shown] * part))
        down, columns, weights = (np.concatenate(parts) for parts in zip(*made, strict=True))
        return down, columns, weights

    @cached_property
    def down(self) -> tuple[Operator, ...]:
        """What the chain does to the lines, per field phase."""
        return tuple(Operator(phase.lines, None, phase.encoding) for phase in self.operator.phases)

    @property
    def across(self) -> Operator:
        """What the chain does along a line, the same in both fields."""
        return Operator(None, self.operator.phases[0].samples, self.operator.encoding)

    @property
    def mixes_light(self) -> bool:
        """True when a strip of the result is not exactly the result of the strips."""
        alternates = self.output.scan != "interlaced" and self.cycle > 1
        return self.operator.encoding == "light" or alternates


@dataclass(frozen=True, eq=False)
class _Resolved:
    """Stages on one raster: their product, what each does to the geometry, and the raster left."""

    before: Raster
    operator: FieldOperator
    moves: tuple[tuple[Looks, Looks, Raster], ...]
    after: Raster

    def placed(self, geometry: Geometry) -> Geometry:
        """Return the geometry after the stages."""
        for looks, stands_for, raster in self.moves:
            geometry = geometry.after_stage(looks, stands_for, raster)
        return geometry


def _resolve(stages: Sequence[Stage], before: Raster) -> _Resolved:
    product, raster, moves = still(), before, []
    for stage in stages:
        assert isinstance(stage, LinearStage)
        after = stage.raster(raster)
        product = stage.operator(raster) @ product
        moves.append((stage.maps(raster), stage.reach(raster), after))
        raster = after
    return _Resolved(before, product, tuple(moves), raster)


class _Run:
    """Fixed stages in a row, resolved once per raster that comes in."""

    def __init__(self, stages: Sequence[Stage]) -> None:
        self._stages = stages
        self._last: _Resolved | None = None

    def on(self, before: Raster) -> _Resolved:
        """Return the stages resolved on a raster; the last one is remembered."""
        last = self._last
        if last is None or (last.before is not before and last.before != before):
            last = self._last = _resolve(self._stages, before)
        return last


def is_linear(stages: Sequence[Stage]) -> bool:
    """Return True when every stage is linear, so that the chain is a matrix."""
    return all(stage.nature == "linear" for stage in stages)


class Composer:
    """Composes a chain's candidates; what does not vary is composed once.

    Parameters:  stages : of the chain; keys : the addresses that vary; source : the raster it starts from;
        lands : see `Chain`
    """

    def __init__(
        self, stages: Sequence[Stage], keys: Sequence[str], source: Raster, lands: Lands | None = None
    ) -> None:
        self.stages, self.source, self.lands = tuple(stages), source, lands
        varied = sorted({find_key(stages, key).stage for key in keys})
        ends = [-1, *varied, len(self.stages)]
        self._runs = [_Run(self.stages[a + 1 : b]) for a, b in pairwise(ends)]
        self._varied = varied

    def compose(self, values: Mapping[str, Any]) -> Composition:
        """Return the chain with these keys.

        Raises: ParameterError, ShapeError as the stages do; EncodingError when one stage mixes code
            values and another light
        """
        stages = with_stage_keys(self.stages, values)
        product, raster, geometry = still(), self.source, Geometry.of_source(self.source)
        cycle = self.source.period
        for number, run in enumerate(self._runs):
            parts = [run.on(raster)]
            if number < len(self._varied):
                parts.append(_resolve([stages[self._varied[number]]], parts[0].after))
            for part in parts:
                product = part.operator @ product
                geometry, raster = part.placed(geometry), part.after
            cycle = lcm(cycle, product.period, raster.period)
        if self.lands is not None:
            raster = self.lands(raster)
        return Composition(product, self.source, raster, geometry, cycle, tuple(stages), self.lands)
