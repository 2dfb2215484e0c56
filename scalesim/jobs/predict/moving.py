"""Moving: a clip through a chain, and on to the tube, one picture at a time.

What is shown holds still where the source does. Every picture of a view is the mean light (on the
raster: the weave) of as many fields as make a cycle, so nothing alternates unless the source itself
does; `alone` shows each field by itself, which flickers, and is for those who ask for it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from fractions import Fraction
from itertools import islice
from math import ceil
from typing import Literal

from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.chain.resolve import Resolved
from scalesim.chain.run import run
from scalesim.core.clip import Clip
from scalesim.core.landed import landed, woven
from scalesim.core.moving import Moving
from scalesim.core.picture import Picture
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError, nearest
from scalesim.jobs.predict.on_screen import CLIP_HEIGHT, Glass
from scalesim.jobs.predict.outcome import TUBES
from scalesim.tube.seen import seen

VIEWS = ("raster", "seen", "screen")
MOST_SECONDS = 3600.0


def moving(
    source: Clip,
    chain: Chain,
    *,
    view: str = "seen",
    tube: str = "4:3",
    glass: Glass | None = None,
    seconds: float | None = None,
    alone: bool = False,
) -> Moving:
    """Return the pictures of a clip after a chain, made as they are asked for.

    Parameters:
        source : a clip; a still needs `seconds`
        view : "raster" (woven frames where there are fields), "seen" (at the tube's shape), "screen"
        glass : the display of "screen"; None takes the default one
        seconds : how much of the clip; None for all of it
        alone : show each field by itself on the screen instead of the mean of a cycle
    Raises: ParameterError for an unknown view, a still without an end, or a time out of range
    """
    if view not in VIEWS:
        raise ParameterError(f"view '{view}' cannot move; {nearest(str(view), VIEWS)}")
    plan = chain.resolve(source.raster)
    wanted = _wanted(source, plan, seconds)
    stream = run(plan, source.pictures())
    pictures = stream if wanted is None else islice(stream, wanted)
    output = plan.output
    if view == "raster" and output.period == 2:
        first: Literal["top", "bottom"] = "top" if output.fields[0].parity == 0 else "bottom"
        count = None if wanted is None else wanted // 2
        return Moving(view, _woven(pictures, output), output.rate / 2, first, count)
    if view == "raster":
        return Moving(view, (picture.values for picture in pictures), output.rate, None, wanted)
    together = 1 if alone else max(output.period, plan.cycle)
    shown = _runs(pictures, together)
    drawn = _screen(shown, output, glass or Glass()) if view == "screen" else _seen(shown, output, tube)
    count = None if wanted is None else max(0, wanted - together + 1)
    return Moving(view, drawn, output.rate, None, count)


def _wanted(source: Clip, plan: Resolved, seconds: float | None) -> int | None:
    """Return how many pictures of the output are wanted, None when the clip's end decides."""
    if seconds is None:
        if source.is_still:
            raise ParameterError(f"{source.name}: is a still, which has no end; say how many seconds (4)")
        if source.length is None:
            return None
        return int(source.length * plan.pace)
    if not 0 < seconds <= MOST_SECONDS:
        raise ParameterError(
            f"seconds is {seconds:g}; it must be above 0 and at most {MOST_SECONDS:g} (4 shows most)"
        )
    # the first picture of a view needs a whole cycle
    return ceil(Fraction(seconds) * plan.output.rate) + max(plan.output.period, plan.cycle) - 1


def _woven(pictures: Iterable[Picture], raster: Raster) -> Iterator[NDArray]:
    stream = iter(pictures)
    for first in stream:
        second = next(stream, None)
        if second is None:
            return
        yield woven([first.values, second.values], raster)


def _runs(pictures: Iterable[Picture], together: int) -> Iterator[tuple[int, list[NDArray]]]:
    """Yield (number of the first, the latest `together` pictures) from the first whole run on."""
    latest: deque[NDArray] = deque(maxlen=together)
    for index, picture in enumerate(pictures):
        latest.append(picture.values)
        if len(latest) == together:
            yield index - together + 1, list(latest)


def _seen(runs: Iterable[tuple[int, list[NDArray]]], raster: Raster, tube: str) -> Iterator[NDArray]:
    for begin, pictures in runs:
        turned = raster.with_(
            fields=tuple(raster.fields[(begin + k) % raster.period] for k in range(raster.period))
        )
        yield seen(landed(pictures, turned), raster, TUBES[tube])


def _screen(runs: Iterable[tuple[int, list[NDArray]]], raster: Raster, glass: Glass) -> Iterator[NDArray]:
    screen = glass.screen(raster, CLIP_HEIGHT)
    lit: dict[int, NDArray] = {}
    for begin, pictures in runs:
        # each field is lit once, though it is seen in several means
        fields = {begin + k: values for k, values in enumerate(pictures)}
        lit = {k: lit[k] if k in lit else screen.lit(values) for k, values in fields.items()}
        yield screen.mean_bytes([(lines, k) for k, lines in lit.items()])
