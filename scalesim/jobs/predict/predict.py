"""Predict: what one frame looks like after a chain, and how good it is.

Of a moving clip one frame is taken. Its metrics are those of the frame held still, because they compare
it with its own source; only what needs motion (`combing`) is measured on the pictures as they move.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain, as_chain
from scalesim.chain.resolve import Resolved
from scalesim.core.clip import Clip, still_clip
from scalesim.core.landed import landed, woven
from scalesim.core.mode import mode_name_for
from scalesim.core.operator import FieldOperator
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError, ScalesimError, nearest
from scalesim.jobs.predict.on_screen import Glass, OnScreen, on_screen
from scalesim.jobs.predict.words import metric_rows, metric_sentences, signal_sentence
from scalesim.metrics import Evidence, check_metrics, key_of, measure
from scalesim.result import Table
from scalesim.stages import Stage
from scalesim.tube.seen import seen

TUBES = {"4:3": Fraction(4, 3), "16:9": Fraction(16, 9)}


@dataclass(frozen=True, eq=False)
class Prediction:
    """The predicted picture and its scores; a `Result`.

    `cycle` holds the output pictures of one cycle in the order of time: one when progressive, the two
    fields otherwise. `glass` is the picture on the tube, when it was asked for.
    """

    chain: Chain
    source: Clip
    plan: Resolved
    cycle: tuple[NDArray, ...]
    landed: NDArray
    woven: NDArray
    tube: str
    metrics: Mapping[str, float | None]
    why: Mapping[str, str]
    how: Mapping[str, str]
    notes: tuple[str, ...] = field(default=())
    glass: OnScreen | None = None

    kind = "predict"

    @property
    def raster(self) -> Raster:
        """The output raster."""
        return self.plan.output

    @property
    def mode_out(self) -> str:
        """The output's trade name or "custom"; fields on one set of lines have progressive sync."""
        return mode_name_for(self.raster.lines, self.raster.scan == "interlaced", self.raster.rate)

    @property
    def seen(self) -> NDArray:
        """The landed picture at the tube's shape."""
        return seen(self.landed, self.raster, TUBES[self.tube])

    @property
    def pictures(self) -> dict[str, NDArray]:
        """The raster (woven when it has fields), each field, the woven frame, and what is seen."""
        found = {"raster": self.woven}
        if self.raster.period == 2:
            for values, own in zip(self.cycle, self.raster.fields, strict=False):
                found["field-top" if own.parity == 0 else "field-bottom"] = values
            found["woven"] = self.woven
        found["seen"] = self.seen
        return found if self.glass is None else {**found, **self.glass.pictures}

    def sentences(self) -> list[str]:
        """Return the outcome in a reviewer's words."""
        said = [
            signal_sentence(self.source.mode, self.mode_out, self.raster),
            *metric_sentences(self.metrics),
        ]
        if len(self.cycle) == 2 and self.raster.period == 1:
            said.append("Two different pictures alternate: raster.png holds the first, seen.png their mean.")
        return said if self.glass is None else [*said, self.glass.sentence()]

    def table(self) -> Table:
        """Return every metric with its unit, direction and meaning."""
        rows = metric_rows(self.metrics, self.why, self.how)
        return Table(
            "Measured on the predicted picture",
            ("what", "value", "unit", "better"),
            rows,
            ("left", "right", "left", "left"),
        )

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        raster = self.raster
        return {
            "chain": str(self.chain),
            "source": self.source.name,
            "mode_in": self.source.mode,
            "mode_out": self.mode_out,
            "lines": raster.lines,
            "frame_lines": raster.frame_lines,
            "samples": raster.samples,
            "scan": raster.scan,
            "rate_hz": float(raster.rate),
            "fields": [{"parity": f.parity, "landing": float(f.landing)} for f in raster.fields],
            "tube": self.tube,
            "metrics": dict(self.metrics),
            "why": dict(self.why),
            "how": dict(self.how),
            "notes": list(self.notes),
            **({} if self.glass is None else {"screen": dict(self.glass.facts)}),
        }


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
    Raises: ParameterError, ShapeError, as the chain and the source say
    """
    clip = source if isinstance(source, Clip) else still_clip(source, mode=mode)
    chain = as_chain(chain)
    names = check_metrics(metrics)
    if not isinstance(tube, str) or tube not in TUBES:
        raise ParameterError(f"tube is {tube!r}; {nearest(str(tube), TUBES)}")
    begin = _begin(clip, at_s)
    still = clip.still_at(begin)
    evidence, resolved = evidence_of(still, chain, reference)
    cycle = evidence.pictures
    shown = cycle if clip.is_still else _moving_cycle(clip, chain, begin, resolved) or cycle
    values, why = _measured(evidence, shown, names)
    on_glass = None
    if glass is not None:
        stream = None if clip.is_still else _from(clip, chain, begin)
        on_glass = on_screen(glass, shown, resolved.output, stream)
    return Prediction(
        chain,
        still,
        resolved,
        shown,
        landed(shown, resolved.output),
        woven(shown, resolved.output),
        tube,
        values,
        why,
        evidence.how,
        clip.notes,
        on_glass,
    )


def evidence_of(still: Clip, chain: Chain, reference: str | NDArray = "ideal") -> tuple[Evidence, Resolved]:
    """Return what metrics look at when a still goes through a chain, and the chain's plan on it."""
    assert still.frame is not None
    resolved = chain.resolve(still.raster)
    cycle = tuple(picture.values for picture in chain.run_still(still.raster, still.pictures()))
    evidence = Evidence(
        still.frame,
        still.raster,
        cycle,
        landed(cycle, resolved.output),
        resolved.output,
        resolved.geometry,
        coverage(chain, still.raster),
        reference,
        still.found,
    )
    return evidence, resolved


def _begin(clip: Clip, at_s: float) -> int:
    """Return the number of the first picture of the frame at a time."""
    if not 0 <= at_s <= 86400:
        raise ParameterError(f"at is {at_s:g} s; it must be 0 to 86400, seconds from the begin of the clip")
    if clip.is_still:
        return 0
    picture = int(Fraction(at_s) * clip.raster.rate)
    return picture - picture % clip.raster.period


def _from(clip: Clip, chain: Chain, begin: int) -> Iterator[NDArray]:
    """Yield the output of the clip's pictures from one on."""
    return (picture.values for picture in chain.run(islice(clip.pictures(), begin, None)))


def _moving_cycle(clip: Clip, chain: Chain, begin: int, resolved: Resolved) -> tuple[NDArray, ...] | None:
    """Return one cycle as it moves, None where the clip ends before it is whole."""
    cycle = tuple(islice(_from(clip, chain, begin), resolved.cycle))
    return cycle if len(cycle) == resolved.cycle else None


def _measured(
    evidence: Evidence, shown: tuple[NDArray, ...], names: tuple[str, ...]
) -> tuple[dict[str, float | None], dict[str, str]]:
    """Return metrics and reasons; those that need motion see the pictures as they move."""
    values, why = measure(evidence, names)
    moving = [name for name in names if key_of(name).needs == "motion"]
    if shown is not evidence.pictures and moving:
        as_shown = replace(evidence, pictures=shown, landed=landed(shown, evidence.raster))
        own, reasons = measure(as_shown, moving)
        values.update(own)
        why = {name: reason for name, reason in why.items() if name not in moving} | reasons
    return values, why


def coverage(chain: Chain, source: Raster) -> NDArray | None:
    """Return the weights (landed lines, source frame lines) of the chain's linear part on a still.

    None when the chain is no single matrix (a frame stage, or mixed encodings). Fields that share
    scan lines count half each.
    """
    try:
        operator = chain.operator(source)
    except ScalesimError:
        return None
    output = chain.resolve(source).output
    period = chain.resolve(source).cycle
    total = np.zeros((output.landed_lines, source.frame_lines))
    for phase in range(period):
        _add_phase(total, operator, phase, source, output, period)
    return total


def _add_phase(
    total: NDArray, operator: FieldOperator, phase: int, source: Raster, output: Raster, period: int
) -> None:
    lines = operator.phases[phase % operator.period].lines
    weights = np.eye(source.lines) if lines is None else lines.toarray()
    landing = output.fields[phase % output.period].landing
    from_parity = source.fields[phase % source.period].parity
    source_lines = slice(from_parity, None, 2) if source.period == 2 else slice(None)
    if output.scan == "interlaced":
        total[int(2 * landing) :: 2, source_lines] += weights
    else:
        down = int(landing)
        total[down:, source_lines] += weights[: len(weights) - down] / period
