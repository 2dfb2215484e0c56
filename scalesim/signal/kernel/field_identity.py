"""One field identified: which methods of the dictionary explain its lines, and how well anything can."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from scalesim.core.affine import Affine
from scalesim.signal.kernel.dictionary import HELD_TAPS, Base, Method, tables
from scalesim.signal.kernel.field_alignment import aligned, centred, free_form, trimmed
from scalesim.signal.kernel.field_lines import DOMAINS, Domain, FieldLines, Windows, windows
from scalesim.signal.kernel.freeform import FreeForm
from scalesim.signal.kernel.line_operator_fit import MOST, predicted, refined, settled
from scalesim.signal.kernel.measured_taps import by_measured_taps
from scalesim.signal.kernel.method_fit import PHASES, Trial, collect, try_all
from scalesim.signal.kernel.ridge import Ridge, find_ridge

_NOMINAL = 0.0045
"""A step this near to source lines over whole lines (in parts of the step / 3) may be that one."""
_REFINED = 14
_KEPT = 2.5
_NEAR = 1e-5
_SIMPLEST = (Method(Base("line-drop", window=1)), Method(Base("line-average")))
_SETTLED = 3
_HOPELESS = 0.6
"""Share of the variance that the best method leaves, from which on no method is fitted any further."""
_SIGNIFICANT = 30.0
"""Misfit, in variances of one value, that freeing the step must save before it is believed."""


@dataclass(frozen=True)
class Prepared:
    """One field ready for trials: where it looks, its windows, and what the sums say of every method."""

    lines: FieldLines
    seen: Windows
    trials: tuple[Trial, ...]


@dataclass(frozen=True)
class Fitted:
    """Fields explained together.

    Parameters:
        fields : of each field, its windows and data
        joint : per surviving method, one trial per field, least misfit first
    """

    fields: tuple[Prepared, ...]
    joint: tuple[tuple[Trial, ...], ...]

    def free(self, domain: Domain) -> tuple[FreeForm, ...]:
        """Return the free-form kernel of each field."""
        return tuple(free_form(p.lines, p.seen.place, domain) for p in self.fields)

    @property
    def step(self) -> float:
        """Source lines per line of a field."""
        return self.fields[0].seen.place.scale


def ridges(fields: Sequence[FieldLines]) -> tuple[Ridge, ...]:
    """Return the ridge of each field."""
    return tuple(find_ridge(f.levels, f.usable, f.codes, f.coded) for f in fields)


def fit_fields(fields: Sequence[FieldLines], places: Sequence[Affine], members: Sequence[Method]) -> Fitted:
    """Return what explains all fields with one method and one step.

    The step is nominal (source lines over a whole number of lines) unless the lines say otherwise.
    """
    rough = [aligned(f, place, 1) for f, place in zip(fields, places, strict=True)]
    fields = [trimmed(f, place) for f, place in zip(fields, rough, strict=True)]
    fine = [aligned(f, place, 2) for f, place in zip(fields, rough, strict=True)]
    step = float(np.mean([place.scale for place in fine]))
    nominal = nominal_step(len(fields[0].codes), step, fields[0].lines)
    if nominal is not None:
        found = _fit_at(fields, fine, nominal, members, free=False)
        if not _step_wanted(found):
            return found
    return _fit_at(fields, fine, step, members, free=True)


def nominal_step(lines_in: int, step: float, lines: int) -> float | None:
    """Return source lines over a whole number of lines when `step` is near that, else None."""
    for count in (lines, round(lines_in / step)):
        exact = lines_in / count
        if abs(exact - step) < _NOMINAL * step / 3:
            return exact
    return None


def _fit_at(
    fields: Sequence[FieldLines],
    places: Sequence[Affine],
    step: float,
    members: Sequence[Method],
    *,
    free: bool,
) -> Fitted:
    seen = [_seen(f, p, step) for f, p in zip(fields, places, strict=True)]
    weights_of = tables(members, step, PHASES, seen[0].reach)
    prepared = tuple(
        Prepared(f, s, tuple(try_all(collect(f, s), s, weights_of)))
        for f, s in zip(fields, seen, strict=True)
    )
    ranked, unexplained = _ranked(prepared)
    if unexplained > _HOPELESS:
        return Fitted(prepared, (ranked[0],))

    def fitted(tried: list[tuple[Trial, ...]]) -> list[tuple[Trial, ...]]:
        return [
            tuple(
                refined(p.lines, p.seen.rows, t, free_step=free)
                for p, t in zip(prepared, trials, strict=True)
            )
            for trials in tried
        ]

    joint = fitted(_with_variants(ranked))
    joint = sorted([*joint, *fitted(by_measured_taps(prepared, joint))], key=total)
    if free:
        joint = [_one_step(prepared, trials) for trials in _settled(prepared, joint)]
        joint = sorted(joint, key=total)
        step = joint[0][0].step
        prepared = tuple(_moved(p, step) for p in prepared)
    return Fitted(prepared, tuple(joint))


def total(trials: Sequence[Trial]) -> float:
    """Return the misfit of all fields."""
    return sum(t.misfit for t in trials)


def _seen(field: FieldLines, place: Affine, step: float) -> Windows:
    middle = field.lines / 2
    return windows(field, centred(field, Affine(step, place(middle) - step * middle)))


def _moved(prepared: Prepared, step: float) -> Prepared:
    middle = prepared.lines.lines / 2
    place = Affine(step, prepared.seen.place(middle) - step * middle)
    return replace(prepared, seen=windows(prepared.lines, place))


def _ranked(prepared: tuple[Prepared, ...]) -> tuple[list[tuple[Trial, ...]], float]:
    """Return the methods worth fitting to the lines, and the share of the variance the best one leaves."""
    values = {d: [p.lines.values(d)[p.seen.rows] for p in prepared] for d in DOMAINS}
    scale = {d: [float(np.var(v)) for v in values[d]] for d in DOMAINS}
    count = sum(v.size for v in values["code"])
    # whole lines are the same in code values and in light: once is enough
    together = [
        t
        for t in zip(*(p.trials for p in prepared), strict=True)
        if t[0].domain == "code" or t[0].method.mixes
    ]

    def share(trials: tuple[Trial, ...]) -> float:
        return sum(t.misfit / v for t, v in zip(trials, scale[trials[0].domain], strict=True)) / count

    together.sort(key=share)
    least = share(together[0])
    near = [t for t in together[:_REFINED] if share(t) <= _KEPT * least + _NEAR]
    # the simplest ones are always asked: grid phases may rank them behind their own twins
    simple = [t for t in together[len(near) :] if t[0].method in _SIMPLEST and t[0].domain == "code"]
    return [*near, *simple], least


def _with_variants(ranked: list[tuple[Trial, ...]]) -> list[tuple[Trial, ...]]:
    """Return the trials and, beside some, what is linear in no single encoding.

    Series in light whose taps act on code values, and sharpening taps that are held.
    """
    mixed = [
        tuple(replace(t, taps_in_code=True) for t in trials)
        for trials in ranked
        if trials[0].domain == "light"
        and len(trials[0].method.weights) > 1
        and trials[0].method.base.kind != "line-drop"  # its taps alone mix: light there is light throughout
    ]
    held = [
        tuple(replace(t, held=True) for t in trials)
        for trials in ranked
        if trials[0].domain == "code" and trials[0].method.taps == HELD_TAPS
    ]
    return [*ranked, *mixed, *held]


def _settled(prepared: tuple[Prepared, ...], joint: list[tuple[Trial, ...]]) -> list[tuple[Trial, ...]]:
    """Return the trials, those of chosen lines that came nearest at their exact steps."""
    chosen = [trials for trials in joint if not trials[0].method.base.steady][:_SETTLED]
    return [
        tuple(settled(p.lines, p.seen.rows, t) for p, t in zip(prepared, trials, strict=True))
        if trials in chosen
        else trials
        for trials in joint
    ]


def _one_step(prepared: tuple[Prepared, ...], trials: tuple[Trial, ...]) -> tuple[Trial, ...]:
    """Return the trials at the mean step of the fields, each about its middle."""
    step = float(np.mean([t.step for t in trials]))
    moved = []
    for p, trial in zip(prepared, trials, strict=True):
        middle = p.lines.lines / 2
        held = replace(trial, step=step, phase=trial.phase + (trial.step - step) * middle)
        moved.append(refined(p.lines, p.seen.rows, held, free_step=False))
    return tuple(moved)


def _step_wanted(found: Fitted) -> bool:
    """True when the best method would rather have another step."""
    for prepared, trial in zip(found.fields, found.joint[0], strict=True):
        free = refined(prepared.lines, prepared.seen.rows, trial, free_step=True)
        variance = trial.misfit / max(prepared.seen.rows.size * prepared.lines.codes.shape[1], 1)
        if trial.misfit - free.misfit > max(_SIGNIFICANT * variance, 0.03 * trial.misfit):
            return True
    return False


def shared_lines(first: FieldLines, second: FieldLines, lower: int) -> FieldLines:
    """Return the mean of two fields that show the same lines, line k of the second `lower` lines lower."""
    levels = (first.levels + np.roll(second.levels, lower, axis=0)) / 2
    usable = first.usable & np.roll(second.usable, lower)
    if lower:
        usable[: abs(lower)] = usable[-abs(lower) :] = False
    return replace(first, levels=levels, usable=usable, blended=True)


def both_fields(
    first: FieldLines, second: FieldLines, lower: int, rows: NDArray, trial: Trial
) -> tuple[float, float]:
    """Return the misfit of a trial on two fields that show the same lines, and their number of values.

    A recorder that mixes woven lines mixes a line of the top field with the line above, of the bottom
    field with the line below: that is how mixing shows when both carry one content.
    """
    lines = predicted(first, trial)
    above, below = np.concatenate([lines[:1], lines[:-1]]), np.concatenate([lines[1:], lines[-1:]])
    misfit = 0.0
    for field, move, beside in ((first, 0, above), (second, lower, below)):
        p = lines + trial.blend * (beside - lines)
        y = np.roll(field.values("code"), move, axis=0)
        rest = (y - trial.lift - trial.gain * p)[rows]
        per_line = np.einsum("lc,lc->l", rest, rest)
        misfit += float(np.minimum(per_line, MOST * np.median(per_line)).sum())
    return misfit, 2.0 * rows.size * lines.shape[1]


def usable_lines(likeness_bars: NDArray, likeness_ramp: NDArray) -> NDArray:
    """Return which lines may carry codes: those that resemble neither band."""
    return (likeness_bars < 0.8) & (likeness_ramp < 0.9)
