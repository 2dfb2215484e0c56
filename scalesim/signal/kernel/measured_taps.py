"""A filter against flicker that is in no list: its taps read from the lines, tried as a method of its own.

With twice the lines b a field's line r is w0 b(2r) + w1 (b(2r-1) + b(2r+1)) + w2 (b(2r-2) + b(2r+2)), linear
in the taps: with gain and lift they follow by linear least squares, all fields together, b made as for taps
1/2/1, whose lines look at the same places. The taps are then written as the smallest whole numbers that lie
within their errors; where there are none, no filter is named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.kernel.dictionary import TAPS, Method
from scalesim.signal.kernel.field_lines import FieldLines, Windows
from scalesim.signal.kernel.line_operator_fit import refined
from scalesim.signal.kernel.method_fit import Trial

_STAGES = ("line-drop", "line-average", "resample")
"""Bases that a stage gives, so that a filter after them has a chain."""
_LIKE: tuple[float, ...] = (1.0, 2.0, 1.0)
_NEARBY, _ALIKE = 4.0, 1.01
_WORTH = 1.1
"""Times the misfit of the best method with a name, from which on measured taps are worth a trial."""
_ERRORS, _NEAR, _FAR, _MOST = 3.0, 0.02, 0.1, 40
"""A tap is a whole number within so many standard errors, at least and at most so far off; of such a sum."""
_ROUNDING = 0.5 / 255


class _Field(Protocol):
    """What is needed of a prepared field."""

    @property
    def lines(self) -> FieldLines: ...
    @property
    def seen(self) -> Windows: ...
    @property
    def trials(self) -> tuple[Trial, ...]: ...


@dataclass(frozen=True)
class _Fit:
    starts: tuple[Trial, ...]
    weights: tuple[float, ...]
    taps: tuple[float, ...] | None
    misfit: float


def by_measured_taps(fields: Sequence[_Field], joint: Sequence[tuple[Trial, ...]]) -> list[tuple[Trial, ...]]:
    """Return trials of filters whose taps are measured, none where a method with a name does nearly as well.

    Parameters:
        fields : the two fields of a capture; of one field nothing is tried, as no filter is due there
        joint : the trials of the dictionary's methods, fitted to the lines
    """
    if len(fields) != 2:
        return []
    rough = [fit for starts in _starts(fields) if (fit := _fitted(fields, starts)) is not None]
    near = _NEARBY * min((fit.misfit for fit in rough), default=0.0)
    settled = (_settled(fields, fit) for fit in rough if fit.misfit <= near)
    fits = [fit for fit in settled if fit is not None]
    if not fits:
        return []
    floor = sum(p.seen.rows.size * p.lines.codes.shape[1] * _rounding(p.lines) for p in fields)
    known = [sum(t.misfit for t in trials) for trials in joint if trials[0].method.base.kind in _STAGES]
    least = min(fit.misfit for fit in fits) + floor
    if min(known, default=np.inf) + floor < _WORTH * least:
        return []
    return [
        tuple(Trial(Method(t.method.base, fit.taps), "code", t.step, t.phase, t.misfit) for t in fit.starts)
        for fit in fits
        if fit.taps is not None and fit.taps not in TAPS and fit.misfit + floor <= _ALIKE * least
    ]


def _rounding(lines: FieldLines) -> float:
    return float((_ROUNDING / (lines.high - lines.low)) ** 2)


def _starts(fields: Sequence[_Field]) -> list[tuple[Trial, ...]]:
    """Return the trials of taps 1/2/1 over every base that a stage gives, one per field."""
    found = zip(*(p.trials for p in fields), strict=True)
    return [
        trials
        for trials in found
        if trials[0].method.taps == _LIKE
        and trials[0].domain == "code"
        and trials[0].method.base.kind in _STAGES
    ]


def _settled(fields: Sequence[_Field], fit: _Fit) -> _Fit | None:
    """Return a fit after its phases were fitted with its own taps, and its taps again at those phases."""
    method = Method(fit.starts[0].method.base, fit.weights)
    moved = tuple(
        refined(p.lines, p.seen.rows, replace(t, method=method), free_step=False)
        for p, t in zip(fields, fit.starts, strict=True)
    )
    return _fitted(fields, moved)


def _fitted(fields: Sequence[_Field], starts: tuple[Trial, ...]) -> _Fit | None:
    """Return the taps that fit all fields best at the starts' phases; None where they are no filter."""
    parts = [_columns(p, t) for p, t in zip(fields, starts, strict=True)]
    design = np.concatenate([columns for columns, _ in parts])
    values = np.concatenate([y for _, y in parts])
    found = np.linalg.lstsq(design, values, rcond=None)[0]
    left = values - design @ found
    misfit = float(left @ left)
    total = float(found[1] + 2 * found[2] + 2 * found[3])
    if total <= 0 or found[1] <= 0:
        return None
    variance = misfit / max(len(values) - design.shape[1], 1)
    errors = np.sqrt(variance * np.diag(np.linalg.pinv(design.T @ design)))[1:] / total
    own, beside, beyond = (float(value) for value in found[1:] / total)
    weights = (beyond, beside, own, beside, beyond)
    return _Fit(starts, weights, _written(found[1:] / total, errors), misfit)


def _columns(field: _Field, trial: Trial) -> tuple[NDArray, NDArray]:
    """Return ((values, 4) one, own line, the two beside, the two beyond; (values,) captured)."""
    data, rows = field.lines, field.seen.rows
    between = trial.method.between(data.codes, data.lines, trial.step, trial.phase)
    own = between[2:-2:2]
    beside = between[1:-3:2] + between[3:-1:2]
    beyond = between[0:-4:2] + between[4::2]
    columns = [part[rows].ravel() for part in (np.ones_like(own), own, beside, beyond)]
    return np.stack(columns, axis=1), data.values("code")[rows].ravel()


def _written(weights: NDArray, errors: NDArray) -> tuple[float, ...] | None:
    """Return five or three taps, whole numbers, of the own, the next and the next but one weight.

    None where no whole numbers of a small sum lie within the errors: such weights are no list that was
    written down, and a phase and three taps may pass for a kernel that is none of them.
    """
    for count in range(1, _MOST + 1):
        whole = np.round(weights * count)
        off = np.abs(weights * count - whole)
        if whole[0] > 0 and np.all(off <= np.clip(_ERRORS * errors * count, _NEAR, _FAR)):
            own, beside, beyond = (float(value) + 0.0 for value in whole)
            return (beyond, beside, own, beside, beyond) if beyond else (beside, own, beside)
    return None
