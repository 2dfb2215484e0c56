"""How well the best candidate explains what was captured, field by field, against the best any kernel can."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.layout import Layout
from scalesim.signal.kernel.candidates import Candidate, in_order, misfits, rounding, values_of
from scalesim.signal.kernel.field_identity import Fitted, Prepared
from scalesim.signal.kernel.field_lines import FieldLines
from scalesim.signal.kernel.freeform import FreeForm, rows_at

_ALARM = 1.25
"""Misfit of the best method over that of a free kernel, from which on no name is believed ..."""
_ALARM_DISTANCE = 0.03
"""... if their weights also differ by this much, and by six times what noise without memory would give: a
codec's errors hang together over cells and lines."""
_NOISES = 6.0
_MEAN_OF_NORMAL = 0.8


@dataclass(frozen=True, eq=False)
class Evidence:
    """What speaks for and against the best candidate.

    Parameters:
        free : kernel of each field as measured, the upper one first
        ratio : misfit of the candidate's chain over that of the best kernel or method a field can have, of
            the worse field; below a half code of rounding counts as a half code
        distance : mean sum of differences of weights between candidate and free kernel, of the worse field
        noise : the distance that the free kernel's own errors would give
        doubt : by how much the weights of those that cannot be told apart differ, at most
        unexplained : share of the lines' variance that the answer leaves
        residual : rms of what the candidate leaves, the free kernel where it does not reproduce the capture;
            codes of 255
    """

    free: tuple[FreeForm, ...]
    ratio: float
    distance: float
    noise: float
    doubt: float
    unexplained: float
    residual: float

    @property
    def reproduced(self) -> bool:
        """True when the candidate makes what was captured, within the capture's noise."""
        return self.ratio < _ALARM or self.distance < max(_ALARM_DISTANCE, _NOISES * self.noise)


def evidence(tied: Sequence[Candidate], fitted: Fitted, plan: Layout, frame: FieldLines) -> Evidence:
    """Return what the capture says of the first candidate."""
    best = tied[0]
    fields = in_order(fitted, best.joint)
    domain = best.joint.trials[0].domain
    turn = -1 if best.joint.relation.reversed else 1
    free = fitted.free(domain)[::turn]
    floor = rounding(fields[0].lines)
    left = misfits(best, fitted, plan, frame)
    least = [min(own, kernel.variance) for own, kernel in zip(_alone(fitted)[::turn], free, strict=True)]
    sizes = [p.seen.rows.size * p.lines.codes.shape[1] for p in fields]
    total = sum(m * n for m, n in zip(left, sizes, strict=True))
    swing = 255 * (fields[0].lines.high - fields[0].lines.low)
    distances = [_distance(p, rows, f) for p, rows, f in zip(fields, best.rows, free, strict=True)]
    found = Evidence(
        free,
        max((m + floor) / (f + floor) for m, f in zip(left, least, strict=True)),
        max(distances),
        float(np.mean([_MEAN_OF_NORMAL * np.mean(f.errors) * f.window.shape[1] for f in free])),
        max((best.apart(other) for other in tied[1:]), default=0.0),
        total / _variance(fields),
        swing * float(np.sqrt(total / values_of(fitted))),
    )
    if found.reproduced:
        return found
    measured = sum(kernel.variance * n for kernel, n in zip(free, sizes, strict=True))
    return replace(found, residual=swing * float(np.sqrt(measured / values_of(fitted))))


def free_rows(free: Sequence[FreeForm], fields: Sequence[Prepared]) -> tuple[NDArray, ...]:
    """Return the weights of every captured line as the free kernels have them."""
    return tuple(
        rows_at(kernel, p.seen.place, p.lines.lines, len(p.lines.codes))
        for kernel, p in zip(free, fields, strict=True)
    )


def _alone(fitted: Fitted) -> list[float]:
    """Return the least misfit of any method on each field by itself, a value."""
    found = []
    for number, prepared in enumerate(fitted.fields):
        values = prepared.seen.rows.size * prepared.lines.codes.shape[1]
        found.append(min(trials[number].misfit for trials in fitted.joint) / values)
    return found


def _variance(fields: Sequence[Prepared]) -> float:
    """Return the sum of squares there is to explain."""
    values = [p.lines.values("code")[p.seen.rows] for p in fields]
    return sum(float(np.var(v)) * v.size for v in values)


def _distance(prepared: Prepared, rows: NDArray, kernel: FreeForm) -> float:
    """Return the mean sum of differences of weights between an answer and the free kernel of a field."""
    seen = prepared.seen
    columns = seen.nearest[:, None] + np.arange(-seen.reach, seen.reach + 1)
    inside = (columns >= 0) & (columns < rows.shape[1])
    own = np.where(inside, rows[seen.rows[:, None], np.clip(columns, 0, rows.shape[1] - 1)], 0.0)
    weights = kernel.window / kernel.window.sum(axis=1, keepdims=True)
    return float(np.abs(own - weights).sum(axis=1).mean())
