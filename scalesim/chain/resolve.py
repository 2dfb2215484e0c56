"""From a list of stages to the fewest steps that run it.

Neighbouring linear stages are composed into one operator per field phase. Composition ends at point
stages, with one exception: a pure choice of lines gives the same result before or after a step that
treats each value alone, so it is moved ahead of it, and fewer lines are rounded. It also ends where
code values meet light.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm
from typing import TypeGuard

from scalesim.core.geometry import Geometry
from scalesim.core.limits import SLOWEST_HZ
from scalesim.core.operator import FieldOperator, still
from scalesim.core.raster import Raster
from scalesim.errors import EncodingError, ParameterError, ScalesimError
from scalesim.stages import FrameStage, LinearStage, PictureStage, PointStage, Stage


@dataclass(frozen=True)
class LinearStep:
    """One composed operator per field phase, and the rasters on either side."""

    operator: FieldOperator
    before: Raster
    after: Raster


@dataclass(frozen=True)
class PointStep:
    """A stage that treats each value alone."""

    stage: PointStage
    before: Raster


@dataclass(frozen=True)
class PictureStep:
    """A stage that treats each picture alone, but not value by value."""

    stage: PictureStage
    before: Raster
    after: Raster


@dataclass(frozen=True)
class FrameStep:
    """A stage over pictures."""

    stage: FrameStage
    before: Raster


Lands = Callable[[Raster], Raster]
"""Gives the raster that a display draws of the one that leaves a chain: only landings differ."""

Step = LinearStep | PointStep | PictureStep | FrameStep


@dataclass(frozen=True)
class Resolved:
    """How a chain treats pictures on one raster.

    Parameters:
        rasters : the raster before the first stage, between the stages, and after the last
        geometries : likewise, where the pictures look on the source
        steps : what to run
        cycle : after how many output pictures the output of a still repeats
        pace : output pictures for each source picture
        sent : the raster that leaves the chain, where a display lands its fields elsewhere
    """

    rasters: tuple[Raster, ...]
    geometries: tuple[Geometry, ...]
    steps: tuple[Step, ...]
    cycle: int
    pace: Fraction = Fraction(1)
    sent: Raster | None = None

    @property
    def source(self) -> Raster:
        """The raster the chain starts from."""
        return self.rasters[0]

    @property
    def output(self) -> Raster:
        """The raster the chain ends on."""
        return self.rasters[-1]

    @property
    def geometry(self) -> Geometry:
        """Where the output looks on the source."""
        return self.geometries[-1]

    def landing(self, lands: Lands) -> Resolved:
        """Return the same on a display, whose circuits decide where the fields land."""
        return replace(self, rasters=(*self.rasters[:-1], lands(self.output)), sent=self.signal)

    @property
    def signal(self) -> Raster:
        """The raster that leaves the chain, its fields where their content lies."""
        return self.sent or self.output

    @property
    def no_line_weights(self) -> str:
        """Why lines cannot be followed by weights: which stage mixes them otherwise; "" when none does."""
        kinds = (step.stage.kind for step in self.steps if _mixes_freely(step))
        what = "mixes lines by what they hold, not in fixed weights, so the chain is no single matrix"
        return next((f"{kind}: {what}" for kind in kinds), "")

    def operator(self) -> FieldOperator:
        """Return the product of all linear stages per field phase: the chain's matrix.

        Stages that keep every line in its place (level, quantise, chroma) are left out.

        Raises: ParameterError when a frame stage joins two times, or a stage mixes lines in no fixed
        weights; EncodingError when one stage mixes code values and another light
        """
        if self.no_line_weights:
            raise ParameterError(f"{self.no_line_weights}; ask for the operator of the other stages")
        product: FieldOperator | None = None
        for step in self.steps:
            if isinstance(step, FrameStep):
                raise ParameterError(
                    f"{step.stage.kind}: joins pictures of two times, so the chain is no single matrix; "
                    "ask for the operator of the stages before or after it"
                )
            if isinstance(step, LinearStep):
                product = step.operator if product is None else step.operator @ product
        return still() if product is None else product


def _mixes_freely(step: Step) -> TypeGuard[PictureStep]:
    return isinstance(step, PictureStep) and not step.stage.keeps_lines


def resolve(stages: Sequence[Stage], source: Raster, *, fuse: bool = True) -> Resolved:
    """Resolve `stages` on a raster. With `fuse=False` every stage is its own step (for tests).

    Raises: the stage's own error with its place in front: ``stage 3 of 5 (interlace), input 481
    lines …``
    """
    rasters = [source]
    geometries = [Geometry.of_source(source)]
    steps: list[Step] = []
    cycle = source.period
    pace = Fraction(1)
    for number, stage in enumerate(stages, start=1):
        before = rasters[-1]
        try:
            after = stage.raster(before)
            if after.rate < SLOWEST_HZ:
                raise ParameterError(
                    f"{stage.kind}: leaves {float(after.rate):.2g} pictures a second; at least {SLOWEST_HZ} "
                    "(leave out a stage that joins pictures)"
                )
            steps = _add(steps, stage, before, after, fuse=fuse)
            geometries.append(_geometry(geometries[-1], stage, before, after))
        except ScalesimError as error:
            place = f"stage {number} of {len(stages)}, input {before.describe()}"
            raise type(error)(f"{place}: {error}") from None
        cycle = _cycle(cycle, steps[-1], stage, after)
        rasters.append(after)
        pace *= stage.pace(before)
    return Resolved(tuple(rasters), tuple(geometries), tuple(steps), cycle, pace)


def _geometry(geometry: Geometry, stage: Stage, before: Raster, after: Raster) -> Geometry:
    phases = stage.phases_from(before)
    if phases is not None:
        geometry = geometry.of_phases(phases)
    return geometry.after_stage(stage.maps(before), stage.reach(before), after)


def _cycle(cycle: int, last: Step, stage: Stage, after: Raster) -> int:
    """Return the cycle after a stage; a frame stage makes steady pictures of a still's fields."""
    if stage.nature == "frame":
        return after.period
    period = last.operator.period if isinstance(last, LinearStep) else 1
    return lcm(cycle, period, after.period)


def _add(steps: list[Step], stage: Stage, before: Raster, after: Raster, *, fuse: bool) -> list[Step]:
    """Return the steps with one more stage in them."""
    if stage.nature == "point":
        assert isinstance(stage, PointStage)
        return [*steps, PointStep(stage, before)]
    if stage.nature == "picture":
        assert isinstance(stage, PictureStage)
        return [*steps, PictureStep(stage, before, after)]
    if stage.nature == "frame":
        assert isinstance(stage, FrameStage)
        return [*steps, FrameStep(stage, before)]
    assert isinstance(stage, LinearStage)
    step = LinearStep(stage.operator(before), before, after)
    if not fuse:
        return [*steps, step]
    return _fuse(steps, step)


def _fuse(steps: list[Step], step: LinearStep) -> list[Step]:
    """Compose a linear step with the one it can reach, moving choices ahead of point steps."""
    ahead = len(steps)
    fewer = step.after.lines * step.after.samples <= step.before.lines * step.before.samples
    if step.operator.is_choice and fewer:
        while ahead and isinstance(steps[ahead - 1], PointStep):
            ahead -= 1
    head, points = steps[:ahead], steps[ahead:]
    # what lies behind the choice now runs on its raster
    points = [PointStep(p.stage, step.after) for p in points if isinstance(p, PointStep)]
    if head and isinstance(head[-1], LinearStep):
        first = head[-1]
        try:
            product = step.operator @ first.operator
            return [*head[:-1], LinearStep(product, first.before, step.after), *points]
        except EncodingError:
            pass  # code values after light: two steps, one after the other
    return [*head, step, *points]
