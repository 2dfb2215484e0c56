"""The methods that a capture cannot tell apart, each with the chain that was run to check it.

A candidate's chain is run on the chart's codes as any chain is run on a picture, and what comes out is held
against the captured lines field by field: a chain that does not make these lines is not printed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain as in_turn
from itertools import repeat

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.charts.layout import Layout
from scalesim.core.picture import Picture, split_fields
from scalesim.core.raster import Raster
from scalesim.core.source import source_mode
from scalesim.errors import ScalesimError
from scalesim.signal.kernel.dictionary import Method, methods
from scalesim.signal.kernel.field_identity import Fitted, Prepared
from scalesim.signal.kernel.field_lines import FieldLines
from scalesim.signal.kernel.joint import Joint, joined
from scalesim.signal.kernel.line_operator_fit import explained, predicted
from scalesim.signal.kernel.names import Named, named
from scalesim.signal.kernel.sources import Explained

ROUNDING = 0.5
"""Codes of 255, rms: what a method leaves below this is rounding, and tells nothing for or against it."""
_TOLERANCE = 0.03
_TOLERANCE_VARIANCES = 12.0
_TWIN = 1.002
_ALIKE = 0.01
"""Mean sum of differences of weights a line, below which two operators are the same."""
_EDGE = 2
"""Lines at the top and bottom of a raster that a filter of five taps makes with lines repeated."""
_REPRODUCED = 1.0
"""Codes of 255, rms, by which a chain may miss what its method makes of the codes."""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A method, the chain that gives it, and its weights.

    Parameters:
        joint : the method at phases that fit all fields, the top field first
        named : label and chain; the chain is "" where no stages give the method
        rows : (lines, source lines) of each field, on the lines that the box worked on
    """

    joint: Joint
    named: Named
    rows: tuple[NDArray, ...]

    def apart(self, other: Candidate) -> float:
        """Return the mean sum of differences of weights a line, 0..2."""
        return float(
            np.mean([np.abs(a - b).sum(axis=1).mean() for a, b in zip(self.rows, other.rows, strict=True)])
        )

    def same_lines(self, other: Candidate) -> bool:
        """True when both make the same lines of any picture."""
        chosen = self.chooses and other.chooses
        alike = chosen or self._mixes_in() == other._mixes_in()
        return alike and self.apart(other) < _ALIKE

    @property
    def chooses(self) -> bool:
        """True when every line is one source line: no values are mixed."""
        return all(float(np.abs(rows).max(axis=1).mean()) > 1 - _ALIKE for rows in self.rows)

    def _mixes_in(self) -> tuple[str, bool, bool]:
        first = self.joint.trials[0]
        return first.domain, first.taps_in_code, first.held


def candidates(found: Explained, plan: Layout, frame: FieldLines, *, woven: bool) -> tuple[Candidate, ...]:
    """Return the methods that the capture cannot tell from the best one, those with a chain first.

    All have the best one's relation of fields. Among equally simple ones exact twins stand in the
    dictionary's order, others by their misfit.

    Parameters:
        frame : the chart's codes on all lines of the frame, and the levels they were drawn with
        woven : whether the fields were captured in one frame
    """
    fitted = found.fitted
    joint = joined(fitted, found.source, found.parities, woven=woven, shared=found.shared is not None)
    values = values_of(fitted)
    floor = rounding(fitted.fields[0].lines) * values
    least = joint[0].misfit + floor
    limit = least * (1 + max(_TOLERANCE, _TOLERANCE_VARIANCES / values))
    tied = [one for one in joint if one.misfit + floor <= limit]
    made = [_candidate(one, found, plan, frame) for one in _ordered(tied, floor)]
    made.sort(key=lambda one: (not one.named.chain, one.joint.relation.name == "unknown"))
    return tuple(one for one in made if one.joint.relation.name == made[0].joint.relation.name)


def values_of(fitted: Fitted) -> int:
    """Return how many captured values the fields were fitted to."""
    return sum(p.seen.rows.size for p in fitted.fields) * fitted.fields[0].lines.codes.shape[1]


def rounding(lines: FieldLines) -> float:
    """Return the variance of rounding, in units of the codes' swing."""
    return (ROUNDING / (255 * (lines.high - lines.low))) ** 2


def in_order(fitted: Fitted, joint: Joint) -> tuple[Prepared, ...]:
    """Return the fields, the top one first."""
    return fitted.fields[::-1] if joint.relation.reversed else fitted.fields


def _ordered(tied: list[Joint], floor: float) -> list[Joint]:
    """Return the joint fits, simplest first."""
    order = {method: number for number, method in enumerate(methods())}
    twins, group, highest = {}, 0, 0.0
    for one in tied:  # least misfit first
        if one.misfit + floor > highest * _TWIN:
            group, highest = group + 1, one.misfit + floor
        twins[id(one)] = group

    def simplicity(one: Joint) -> tuple[int, int, int, bool]:
        first = one.trials[0]
        place = order.get(first.method, len(order))  # one whose taps were measured is in no list
        return (_boxes(first.method), twins[id(one)], place, first.domain == "light")

    return sorted(tied, key=simplicity)


def _boxes(method: Method) -> int:
    """Return how far a method is from the simplest one, which drops lines."""
    if method.base.kind in ("window", "point-box", "keys"):
        return 4
    if method.taps is None:
        return 1 if method.mixes else 0
    return 2 if len(method.weights) < 3 else 3


def _candidate(one: Joint, found: Explained, plan: Layout, frame: FieldLines) -> Candidate:
    fields = in_order(found.fitted, one)
    rows = tuple(
        t.method.matrix(len(p.lines.codes), p.lines.lines, t.step, t.phase).toarray()
        for t, p in zip(one.trials, fields, strict=True)
    )
    said = named(one, fields, found.source, _parities(found, one), plan)
    if said.chain and not _makes(said.chain, one, fields, plan, frame):
        said = replace(said, method="", chain="")
    return Candidate(one, said, rows)


def _parities(found: Explained, one: Joint) -> tuple[int | None, ...]:
    return found.parities[::-1] if one.relation.reversed else found.parities


def _makes(text: str, one: Joint, fields: Sequence[Prepared], plan: Layout, frame: FieldLines) -> bool:
    """True when a chain makes of the codes what its method was fitted with, in every field."""
    made = chain_lines(text, plan, frame)
    if not made or (len(made) != len(fields) and len(fields) == 2):
        return False
    for prepared, trial, lines in zip(fields, one.trials, made, strict=False):
        data = prepared.lines
        rows = _inner(prepared, lines)
        if not len(rows):
            return False
        apart = (data.to_code(lines[rows], "code") - predicted(data, trial)[rows]) * (data.high - data.low)
        if 255 * float(np.sqrt(np.mean(apart**2))) > _REPRODUCED:
            return False
    return True


def _inner(prepared: Prepared, lines: NDArray) -> NDArray:
    """Return the lines that count, without those that a filter at the raster's own edges makes otherwise."""
    rows = prepared.seen.rows
    return rows[(rows >= _EDGE) & (rows < min(len(lines), prepared.lines.lines) - _EDGE)]


def chain_lines(text: str, plan: Layout, frame: FieldLines) -> list[NDArray]:
    """Return what a chain makes of the chart's codes: (lines, cells) of each output field, top first.

    Code 0 is 0 and code 1 is 1. Empty when the chain does not run on the chart's raster.
    """
    swing = frame.high - frame.low
    levels = np.repeat((frame.low + swing * frame.codes)[..., None], 3, axis=2).astype(np.float32)
    raster = source_mode(plan.lines, levels.shape[1], plan.mode.name).raster
    try:
        pictures = Chain(text).run_still(raster, _endless(levels, raster))
    except ScalesimError:
        return []
    fields = pictures[0].raster.fields
    order = sorted(range(len(fields)), key=lambda k: fields[k].parity)
    return [(pictures[k].values[..., 1] - frame.low) / swing for k in order]


def _endless(frame: NDArray, raster: Raster) -> Iterator[Picture]:
    pair = split_fields(frame, raster)
    return (Picture(np.ascontiguousarray(values), raster) for values in in_turn.from_iterable(repeat(pair)))


def misfits(one: Candidate, fitted: Fitted, plan: Layout, frame: FieldLines) -> tuple[float, ...]:
    """Return the misfit of each field a value, the top one first: the chain's own, as it is run."""
    fields = in_order(fitted, one.joint)
    made = chain_lines(one.named.chain, plan, frame) if one.named.chain else []
    found = []
    for number, (prepared, trial) in enumerate(zip(fields, one.joint.trials, strict=True)):
        data, rows = prepared.lines, prepared.seen.rows
        if not made:
            found.append(trial.misfit / (rows.size * data.codes.shape[1]))
            continue
        lines = data.to_code(made[number], "code")
        rows = _inner(prepared, lines)
        found.append(explained(data, rows, lines)["misfit"] / (rows.size * data.codes.shape[1]))
    return tuple(found)
