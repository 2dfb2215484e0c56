"""Running a plan over a stream of pictures: generators all the way, nothing holds a clip."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from math import lcm
from weakref import ref

import numpy as np
from numpy.typing import NDArray

from scalesim.chain.resolve import FrameStep, LinearStep, PictureStep, PointStep, Resolved, Step
from scalesim.core.picture import Picture
from scalesim.core.planes import CodedPicture, MixedPicture
from scalesim.core.raster import Raster
from scalesim.errors import ShapeError


def run(plan: Resolved, pictures: Iterable[Picture]) -> Iterator[Picture]:
    """Yield the pictures after the chain, in order, one input picture held at a time.

    Their values never share memory with the pictures that came in: who writes into a result leaves the
    source as it is.

    Raises: ShapeError when a picture is not on the plan's source raster, or a stage gives another size or
    dtype than it says
    """
    given = _Given()
    stream = _checked(iter(pictures), plan, given)
    for step in plan.steps:
        stream = _through(step, stream)
    for picture in stream:
        if isinstance(picture, MixedPicture):  # its values are not made yet
            yield picture.on(plan.output)
        else:
            yield Picture(given.apart_from(picture.values), plan.output, picture.time)


def run_still(plan: Resolved, pictures: Iterable[Picture]) -> list[Picture]:
    """Return one cycle of output pictures of a still given as an endless stream."""
    return list(islice(run(plan, pictures), plan.cycle))


class _Given:
    """The arrays that came in and are still alive: what a stage that changes nothing may hand on."""

    def __init__(self) -> None:
        self._alive: dict[int, ref[NDArray]] = {}

    def add(self, values: NDArray) -> None:
        """Remember the memory a picture lies in, for as long as it is there."""
        owner = _owner(values)
        key = id(owner)
        if key not in self._alive:
            self._alive[key] = ref(owner, lambda _: self._alive.pop(key, None))

    def apart_from(self, values: NDArray) -> NDArray:
        """Return the values themselves, or a copy when they lie in memory that came in."""
        return values.copy() if id(_owner(values)) in self._alive else values


def _owner(values: NDArray) -> NDArray:
    """Return the array whose memory this one looks at."""
    while isinstance(values.base, np.ndarray):
        values = values.base
    return values


def _checked(pictures: Iterator[Picture], plan: Resolved, given: _Given) -> Iterator[Picture]:
    expected = plan.source
    for picture in pictures:
        if picture.raster != expected:
            raise ShapeError(
                f"picture has {picture.raster.describe()}; this plan is for {expected.describe()}: "
                "plan the chain for the picture's own raster"
            )
        if not isinstance(picture, CodedPicture):  # whose values are made anew
            given.add(picture.values)
        yield picture


def _through(step: Step, pictures: Iterator[Picture]) -> Iterator[Picture]:
    if isinstance(step, FrameStep):
        return step.stage.apply(map(_with_values, pictures), step.before)
    if isinstance(step, LinearStep):
        return _linear(step, pictures)
    if isinstance(step, PictureStep):
        return _alone(step, pictures)
    return _value_by_value(step, pictures)


def _with_values(picture: Picture) -> Picture:
    """Return a picture whose values may be asked for again and again."""
    return Picture(picture.values, picture.raster, picture.time)


def _linear(step: LinearStep, pictures: Iterator[Picture]) -> Iterator[Picture]:
    phases = step.operator.phases
    for index, picture in enumerate(pictures):
        yield picture.after(phases[index % len(phases)], step.after, phases)


def _alone(step: PictureStep, pictures: Iterator[Picture]) -> Iterator[Picture]:
    period = lcm(step.before.period, step.after.period)
    for index, picture in enumerate(pictures):
        given = picture.values
        values = step.stage.apply(given, step.before, index % period)
        _check_output(values, step.stage.kind, step.after, given)
        yield Picture(values, step.after, picture.time)


def _value_by_value(step: PointStep, pictures: Iterator[Picture]) -> Iterator[Picture]:
    for picture in pictures:
        given = picture.values
        values = step.stage.apply(given, step.before)
        _check_output(values, step.stage.kind, step.before, given)
        yield Picture(values, picture.raster, picture.time)


def _check_output(values: object, kind: str, after: Raster, given: NDArray) -> None:
    """Raise ShapeError unless a stage gave the size its raster promises and the dtype it was given."""
    shape, dtype = getattr(values, "shape", None), getattr(values, "dtype", None)
    expected = (after.lines, after.samples, given.shape[2])
    if shape == expected and dtype == given.dtype:
        return
    found = f"{shape} {dtype}" if isinstance(values, np.ndarray) else type(values).__name__
    raise ShapeError(
        f"{kind}: gave {found}; it must give {expected} {given.dtype}, the size its raster says and the "
        "dtype that came in (let apply and raster agree)"
    )
