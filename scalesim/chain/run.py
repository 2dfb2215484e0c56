"""Running a plan over a stream of pictures: generators all the way, nothing holds a clip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice

from scalesim.chain.resolve import FrameStep, LinearStep, PictureStep, PointStep, Resolved, Step
from scalesim.core.picture import Picture
from scalesim.errors import ShapeError


def run(plan: Resolved, pictures: Iterable[Picture]) -> Iterator[Picture]:
    """Yield the pictures after the chain, in order, one input picture held at a time.

    Raises: ShapeError when a picture is not on the plan's source raster
    """
    stream = _checked(iter(pictures), plan)
    for step in plan.steps:
        stream = _through(step, stream)
    for picture in stream:
        yield Picture(picture.values, plan.output, picture.time)


def run_still(plan: Resolved, pictures: Iterable[Picture]) -> list[Picture]:
    """Return one cycle of output pictures of a still given as an endless stream."""
    return list(islice(run(plan, pictures), plan.cycle))


def _checked(pictures: Iterator[Picture], plan: Resolved) -> Iterator[Picture]:
    expected = plan.source
    for picture in pictures:
        if picture.raster != expected:
            raise ShapeError(
                f"picture has {picture.raster.describe()}; this plan is for {expected.describe()}: "
                "plan the chain for the picture's own raster"
            )
        yield picture


def _through(step: Step, pictures: Iterator[Picture]) -> Iterator[Picture]:
    if isinstance(step, FrameStep):
        return step.stage.apply(pictures, step.before)
    if isinstance(step, LinearStep):
        return _linear(step, pictures)
    return _alone(step, pictures)


def _linear(step: LinearStep, pictures: Iterator[Picture]) -> Iterator[Picture]:
    for index, picture in enumerate(pictures):
        yield Picture(step.operator(picture.values, index), step.after, picture.time)


def _alone(step: PointStep | PictureStep, pictures: Iterator[Picture]) -> Iterator[Picture]:
    for picture in pictures:
        yield Picture(step.stage.apply(picture.values, step.before), picture.raster, picture.time)
