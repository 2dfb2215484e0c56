"""Identify: what a box does to lines, from a capture of the kernel chart played through it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scalesim.chain import Chain
from scalesim.charts.layout import Layout, layout
from scalesim.core.encoding import luma
from scalesim.jobs.identify.identification import OPERATOR, Identification
from scalesim.signal.kernel.capture import Capture, read_capture
from scalesim.signal.kernel.dictionary import Method, methods
from scalesim.signal.kernel.field_identity import Fitted, total
from scalesim.signal.kernel.freeform import FreeForm, rows_at
from scalesim.signal.kernel.method_fit import Trial
from scalesim.signal.kernel.names import named, relation_of
from scalesim.signal.kernel.sources import Explained, best_source
from scalesim.stages.measured import Measured

__all__ = ["Identification", "confidence_of", "identify", "with_operator"]

_ALARM = 1.25
"""Misfit of the best method over that of a free kernel, from which on no name is believed ..."""
_ALARM_DISTANCE = 0.03
"""... if their weights also differ by this much, and by three times what noise alone would give."""
_TOLERANCE = 0.03
_TOLERANCE_VARIANCES = 12.0
_TWIN = 1.002
_MOST_DOUBT = 0.25
_MEAN_OF_NORMAL = 0.8


def identify(
    captures: Sequence[NDArray],
    chart_mode: str,
    *,
    page: str = "luma",
    aspect: str = "full",
    lines: int | None = None,
    woven: bool | None = None,
) -> Identification:
    """Return what a box does to lines.

    Parameters:
        captures : one or more frames of one still capture, (lines, samples, 3) float code values 0..1
        chart_mode : mode the kernel chart was played in, such as "720p60"
        page, aspect : of the chart that was played
        lines : lines of one field or picture the box gives, when known; None takes it from the step
        woven : whether a capture holds two fields, woven; None: from 400 lines on
    Raises: ShapeError when the captures' sizes disagree or no chart can be in them; NotIdentifiable,
        with what to do, when the capture shows no readable chart; ParameterError as the chart says
    """
    plan = layout(chart_mode, page=page, aspect=aspect)
    capture = read_capture(captures, plan, woven)
    found = best_source(capture, plan)
    used = [captures[k] for k in capture.frames.used] or list(captures)
    captured = luma(np.asarray(np.mean(used, axis=0, dtype=np.float32)))
    return _identification(found, capture, plan, lines, captured)


def _identification(
    found: Explained, capture: Capture, plan: Layout, lines: int | None, captured: NDArray
) -> Identification:
    fitted = found.fitted
    tied = _tied(fitted)
    best = tied[0]
    free = fitted.free(best[0].domain)
    ratio = total(best) / max(sum(f.variance * f.values for f in free), 1e-12)
    distance, doubt = _distance(fitted, best, free), _distance_error(free)
    known = ratio < _ALARM or distance < max(_ALARM_DISTANCE, 3 * doubt)
    relation = "same" if found.shared is not None else relation_of(best, fitted, found.parities, known)
    names = [named(t, fitted, relation, found.source, found.parities, plan) for t in tied] if known else []
    names.sort(key=lambda name: not name.chain)
    rows = _rows(best, fitted) if known else _free_rows(free, fitted)
    rows = tuple(_spread(r, parity, plan.lines) for r, parity in zip(rows, found.parities, strict=True))
    if found.shared is not None:
        rows = (rows[0], np.roll(rows[0], -found.shared, axis=0))
    count = sum(p.seen.rows.size for p in fitted.fields) * fitted.fields[0].lines.codes.shape[1]
    data = fitted.fields[0].lines
    swing = 255 * (data.high - data.low)
    confidence = confidence_of(
        ratio if known else None,
        total(best) / _variance(fitted),
        _doubt(tied, fitted),
        capture.along.likeness,
    )
    first = names[0] if names else None
    measured = f"measured file={plan.mode.family}-box.json"
    kinds = first.method if first and first.method else "unknown"
    return Identification(
        method=kinds,
        methods=tuple(dict.fromkeys(n.label for n in names)),
        chains=tuple(dict.fromkeys(n.chain for n in names if n.chain)),
        lines_in=plan.lines,
        lines_out=lines or fitted.fields[0].lines.lines,
        phase=first.phase if first else None,
        step=best[0].step,
        kernel=_kernel(free),
        encoding=_encoding(tied, fitted, known),
        flicker_taps=first.flicker_taps if first else "",
        field_relation=relation,
        along=capture.along,
        tone=capture.tone,
        residual=swing * float(np.sqrt(total(best) / count)),
        confidence=confidence,
        chain=first.chain if first and first.chain else measured,
        mode=plan.mode.name,
        places=tuple(p.seen.place for p in fitted.fields),
        rows=rows,
        distance=distance,
        misfit_ratio=ratio,
        condition=max(f.condition for f in free),
        frames=capture.frames,
        captured=captured,
        page=plan.page,
        aspect=plan.aspect,
        notes=capture.notes,
    )


def confidence_of(ratio: float | None, unexplained: float, doubt: float, likeness: float) -> float:
    """Return 0..1: fit * clarity * agreement * likeness.

    - fit: 1 when the named answer explains the lines as well as any kernel can, 1/2 at twice the misfit
      (`ratio`); 1/4 when no name fits (None)
    - clarity: from 1, when nothing of the lines' variance is left unexplained, to 0 when a quarter is
    - agreement: from 1, when all methods that cannot be told apart have the same weights, to 0 when
      theirs differ by 0.25 (sum of differences per line: `doubt`)
    - likeness: correlation of the bars with the chart's
    """
    fit = 0.25 if ratio is None else 1 / max(ratio, 1.0)
    clarity = np.clip(1 - 4 * unexplained, 0.0, 1.0)
    agreement = np.clip(1 - doubt / _MOST_DOUBT, 0.0, 1.0)
    return float(np.clip(fit * clarity * agreement * likeness, 0.0, 1.0))


def _variance(fitted: Fitted) -> float:
    """Return the sum of squares there is to explain."""
    values = [p.lines.values("code")[p.seen.rows] for p in fitted.fields]
    return sum(float(np.var(v)) * v.size for v in values)


def _tied(fitted: Fitted) -> list[tuple[Trial, ...]]:
    """Return the methods the capture cannot tell from the best one, simplest first.

    Among equally simple ones exact twins stand in the dictionary's order, others by their misfit.
    """
    least = total(fitted.joint[0])
    count = sum(p.seen.rows.size for p in fitted.fields) * fitted.fields[0].lines.codes.shape[1]
    limit = least * (1 + max(_TOLERANCE, _TOLERANCE_VARIANCES / count))
    tied = [trials for trials in fitted.joint if total(trials) <= limit]
    order = {method: number for number, method in enumerate(methods())}
    twins, group, highest = {}, 0, 0.0
    for trials in tied:  # least misfit first
        if total(trials) > highest * _TWIN:
            group, highest = group + 1, total(trials)
        twins[id(trials)] = group

    def simplicity(trials: tuple[Trial, ...]) -> tuple[int, int, int, bool]:
        method: Method = trials[0].method
        return (_boxes(method), twins[id(trials)], order[method], trials[0].domain == "light")

    return sorted(tied, key=simplicity)


def _boxes(method: Method) -> int:
    """Return how far a method is from the simplest one, which drops lines."""
    if method.base.kind in ("window", "point-box", "keys"):
        return 4
    if method.taps is None:
        return 1 if method.mixes else 0
    return 2 if len(method.weights) < 3 else 3


def _doubt(tied: list[tuple[Trial, ...]], fitted: Fitted) -> float:
    """Return by how much the weights of methods that cannot be told apart differ from the first one's."""
    best, others = _rows(tied[0], fitted), [_rows(trials, fitted) for trials in tied[1:]]
    apart = [[np.abs(a - b).sum(axis=1).mean() for a, b in zip(best, rows, strict=True)] for rows in others]
    return max((float(np.mean(a)) for a in apart), default=0.0)


def _distance(fitted: Fitted, best: tuple[Trial, ...], free: tuple[FreeForm, ...]) -> float:
    """Return the mean sum of differences of weights between the answer and the free kernel."""
    found = []
    for prepared, trial, kernel in zip(fitted.fields, best, free, strict=True):
        seen = prepared.seen
        dense = trial.method.matrix(
            len(prepared.lines.codes), prepared.lines.lines, trial.step, trial.phase
        ).toarray()
        columns = seen.nearest[:, None] + np.arange(-seen.reach, seen.reach + 1)
        inside = (columns >= 0) & (columns < dense.shape[1])
        own = np.where(inside, dense[seen.rows[:, None], np.clip(columns, 0, dense.shape[1] - 1)], 0.0)
        weights = kernel.window / kernel.window.sum(axis=1, keepdims=True)
        found.append(float(np.abs(own - weights).sum(axis=1).mean()))
    return float(np.mean(found))


def _distance_error(free: tuple[FreeForm, ...]) -> float:
    """Return the distance that the free kernel's own errors alone would give."""
    return float(np.mean([_MEAN_OF_NORMAL * np.mean(f.errors) * f.window.shape[1] for f in free]))


def _encoding(tied: list[tuple[Trial, ...]], fitted: Fitted, known: bool) -> str:
    """Return what the box mixes; lines that are only chosen look alike in both."""
    if known and any(_chooses(trials, fitted) for trials in tied):
        return "undecidable"
    domains = {trials[0].domain for trials in (tied if known else fitted.joint[:1])}
    return domains.pop() if len(domains) == 1 else "undecidable"


def _chooses(trials: tuple[Trial, ...], fitted: Fitted) -> bool:
    method = trials[0].method
    return method.base.kind == "line-drop" and len(method.weights) == 1


def _rows(best: tuple[Trial, ...], fitted: Fitted) -> tuple[NDArray, ...]:
    return tuple(
        t.method.matrix(len(p.lines.codes), p.lines.lines, t.step, t.phase).toarray()
        for t, p in zip(best, fitted.fields, strict=True)
    )


def _free_rows(free: tuple[FreeForm, ...], fitted: Fitted) -> tuple[NDArray, ...]:
    return tuple(
        rows_at(kernel, p.seen.place, p.lines.lines, len(p.lines.codes))
        for kernel, p in zip(free, fitted.fields, strict=True)
    )


def _spread(rows: NDArray, parity: int | None, frame_lines: int) -> NDArray:
    """Return weights over frame lines from weights over one field's lines."""
    if parity is None:
        return rows
    wide = np.zeros((len(rows), frame_lines))
    wide[:, parity::2] = rows
    return wide


def _kernel(free: tuple[FreeForm, ...]) -> tuple[tuple[float, float, float], ...]:
    """Return the taps of the first field's free kernel, those that are not negligible, in order."""
    kernel = free[0]
    order = np.argsort(kernel.offsets)
    return tuple((float(kernel.offsets[i]), float(kernel.weights[i]), float(kernel.errors[i])) for i in order)


def with_operator(found: Identification, folder: str) -> Identification:
    """Return an answer whose chain, when no name fits, reads the operator file that a folder will hold.

    Parameters:  folder : with forward slashes, as a chain names files
    """
    if not found.undecided:
        return found
    return replace(found, chain=Chain(Measured(file=f"{folder}/{OPERATOR}")).text)
