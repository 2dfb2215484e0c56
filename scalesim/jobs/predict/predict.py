"""Predict: what one frame looks like after a chain, and how good it is.

Of a moving clip one frame is taken. Its metrics are those of the frame held still, because they compare
it with its own source; only what needs motion (`combing`) is measured on the pictures as they move.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import islice

from numpy.typing import NDArray

from scalesim.chain import Chain, as_chain
from scalesim.chain.resolve import Resolved
from scalesim.chain.run import run, run_still
from scalesim.core.clip import Clip, still_clip
from scalesim.core.cycle import Cycle
from scalesim.core.picture import check_reference
from scalesim.errors import ParameterError
from scalesim.jobs.predict.landing import landing_notes, on_display
from scalesim.jobs.predict.on_screen import Glass, on_screen
from scalesim.jobs.predict.outcome import check_tube
from scalesim.jobs.predict.prediction import Prediction
from scalesim.jobs.predict.woven import woven_notes
from scalesim.metrics import check_metrics, key_of
from scalesim.stages import Stage
from scalesim.tube.display import Display


def predict(
    source: Clip | NDArray,
    chain: Chain | str | Stage | Sequence[Stage],
    *,
    mode: str | None = None,
    tube: str = "4:3",
    metrics: Iterable[str] | None = None,
    reference: str | NDArray = "ideal",
    glass: Glass | None = None,
    at_s: float = 0.0,
    resolved: Resolved | None = None,
    display: Display | str | None = None,
) -> Prediction:
    """Return what a frame looks like after a chain.

    Parameters:
        source : a `Clip`, or a (lines, samples, 3) float frame of code values 0..1, woven when its mode is
            interlaced
        chain : a `Chain`, its text, a stage, or several in series
        mode : of a source given as an array; None guesses it
        tube : shape of the tube for `seen`, "4:3" or "16:9"
        metrics : keys to measure; None measures all
        reference : what fidelity compares with: "ideal", "source", or a picture of the landed size
        glass : how to look at the tube; None leaves it out
        at_s : of a moving clip, the time of the frame, seconds from its begin
        resolved : the chain on the frame's raster, when it is known already
        display : a `Display` or the key of a shipped one, whose vertical circuit lands the fields; None lets
            them land as their content lies
    Raises: ParameterError, ShapeError, as the chain and the source say; ShapeError when `resolved` is for
        another raster
    """
    clip = source if isinstance(source, Clip) else still_clip(source, mode=mode)
    check_reference(reference)
    chain = on_display(as_chain(chain), display)
    names = check_metrics(metrics)
    begin = _begin(clip, at_s)
    still = clip.still_at(begin)
    if resolved is None:
        resolved = chain.resolve(still.raster)
    moving = None if clip.is_still else _moving_cycle(clip, begin, resolved)
    cycle: Sequence[NDArray] | None = moving
    if cycle is None or names:
        cycle = Cycle(run_still(resolved, still.pictures()))
    on_glass = None
    if glass is not None:
        stream = None if clip.is_still else _from(clip, begin, resolved)
        on_glass = on_screen(glass, moving or cycle, resolved.output, stream)
    held = Prediction(
        source=still,
        raster=resolved.output,
        geometry=resolved.geometry,
        cycle=cycle,
        tube=check_tube(tube),
        notes=(*clip.notes, *woven_notes(still), *landing_notes(chain, resolved)),
        of_clip=not clip.is_still,
        chain=chain,
        resolved=resolved,
        glass=on_glass,
    ).measured(names, reference)
    return held if moving is None else _as_it_moves(held, moving)


def _begin(clip: Clip, at_s: float) -> int:
    """Return the number of the first picture of the frame at a time."""
    if not 0 <= at_s <= 86400:
        raise ParameterError(f"at is {at_s:g} s; it must be 0 to 86400, seconds from the begin of the clip")
    if clip.is_still:
        return 0
    picture = int(Fraction(at_s) * clip.raster.rate)
    return picture - picture % clip.raster.period


def _from(clip: Clip, begin: int, resolved: Resolved) -> Iterator[NDArray]:
    """Yield the output of the clip's pictures from one on."""
    return (picture.values for picture in run(resolved, islice(clip.pictures(), begin, None)))


def _moving_cycle(clip: Clip, begin: int, resolved: Resolved) -> tuple[NDArray, ...] | None:
    """Return one cycle as it moves, None where the clip ends before it is whole."""
    cycle = tuple(islice(_from(clip, begin, resolved), resolved.cycle))
    return cycle if len(cycle) == resolved.cycle else None


def _as_it_moves(held: Prediction, cycle: tuple[NDArray, ...]) -> Prediction:
    """Return the prediction of a frame held still with its pictures, and what needs motion, as they move."""
    moving = replace(held, cycle=cycle)
    names = [name for name in held.metrics if key_of(name).needs == "motion"]
    if not names:
        return moving
    found = moving.measured(names)
    why = {key: reason for key, reason in held.why.items() if key not in names}
    return replace(moving, metrics={**held.metrics, **found.metrics}, why={**why, **found.why})
