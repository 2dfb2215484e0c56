"""Identify: what a box does to lines, from a capture of the kernel chart played through it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.charts.layout import Layout, layout
from scalesim.core.encoding import luma
from scalesim.errors import NotIdentifiable, ParameterError
from scalesim.jobs.identify.identification import OPERATOR, Identification
from scalesim.jobs.identify.noticed import beyond_chart, unlike_fields
from scalesim.jobs.identify.operator import measured_chain
from scalesim.signal.kernel.candidates import Candidate, candidates, in_order
from scalesim.signal.kernel.capture import WOVEN_FROM, Capture, read_capture
from scalesim.signal.kernel.confidence import confidence_of
from scalesim.signal.kernel.evidence import evidence, free_rows
from scalesim.signal.kernel.field_identity import Fitted
from scalesim.signal.kernel.freeform import FreeForm
from scalesim.signal.kernel.sources import Explained, best_source

__all__ = ["Identification", "Scan", "identify", "with_operator"]

Scan = Literal["progressive", "interlaced"]

_MOST_LINES = 1.25
"""A box may give so many times the captured lines: the capture may have cut some off."""
_AMBIGUOUS = (
    "taken as two fields: frames of a still do not show whether {lines} lines are sent as fields or as one "
    "progressive picture; --scan progressive says otherwise"
)
_STRAIGHT = (
    "taken as one progressive picture of {lines} lines, because the chart's own lines come through; --scan "
    "interlaced says otherwise"
)

_LOOKS_WOVEN = (
    "it looks like two woven fields, not one picture: so read, {name} reproduces the capture; "
    "--scan interlaced reads it so"
)
_MARKED = (
    "taken as one progressive picture of {lines} lines, as the clip is marked; --scan interlaced says "
    "otherwise"
)
_HELD = (
    "the filter never sharpens a line past its own value, which no fixed weights say: the name is that of "
    "its linear part"
)


def identify(
    captures: Sequence[NDArray],
    chart_mode: str,
    *,
    page: str = "luma",
    aspect: str = "full",
    lines: int | None = None,
    scan: Scan | None = None,
    marked: Scan | None = None,
) -> Identification:
    """Return what a box does to lines.

    Parameters:
        captures : one or more frames of one still capture, (lines, samples, 3) float code values 0..1
        chart_mode : mode the kernel chart was played in, such as "720p60"
        page, aspect : of the chart that was played
        lines : lines of one field, or of the progressive picture, that the box gives, when known: the whole
            captured frame's number says that it is progressive
        scan : how the box sends its lines; None: from 400 captured lines on as two fields, unless `marked`
            says progressive or the chart's own progressive lines come through one for one
        marked : how the captured clip is marked; believed only where the lines could be either
    Raises: ShapeError when the captures' sizes disagree or no chart can be in them; NotIdentifiable, with
        what to do, when the capture shows no readable chart, or `lines` contradicts it; ParameterError as
        the chart says, or when `lines` and `scan` contradict each other
    """
    plan = layout(chart_mode, page=page, aspect=aspect)
    scan = _scan(captures, lines, scan)
    seen = _seen(captures, plan, {"progressive": False, "interlaced": True, None: None}[scan])
    note = _as_one_picture(seen, plan, marked) if scan is None else ""
    if note:
        seen = _seen(captures, plan, woven=False)
    elif scan is None and marked is None and seen.capture.woven and _either(seen.tied[0]):
        note = _AMBIGUOUS
    _refuse_lines(lines, seen.found.fitted)
    if scan == "progressive" and len(captures[0]) >= WOVEN_FROM:
        answer = _identification(seen, plan, lines, captures, ())
        return _or_woven(answer, captures, plan) if answer.undecided else answer
    count = seen.capture.fields[0].lines * (2 if seen.capture.woven else 1)
    return _identification(seen, plan, lines, captures, (note.format(lines=count),) if note else ())


def _or_woven(answer: Identification, captures: Sequence[NDArray], plan: Layout) -> Identification:
    """Return an answer without a name, for one picture, that says whether two woven fields have one."""
    try:
        seen = _seen(captures, plan, woven=True)
    except NotIdentifiable:
        return answer
    best = seen.tied[0]
    weighed = evidence(seen.tied, seen.found.fitted, plan, seen.capture.fields[0])
    if not weighed.reproduced:
        return answer
    note = _LOOKS_WOVEN.format(name=best.named.label)
    doubt = 1 - confidence_of(weighed, best.joint.relation.name)
    return replace(answer, notes=(*answer.notes, note), confidence=min(answer.confidence, doubt))


@dataclass(frozen=True)
class _Seen:
    """A capture, what explains it, and the methods that it cannot tell apart."""

    capture: Capture
    found: Explained
    tied: tuple[Candidate, ...]


def _seen(captures: Sequence[NDArray], plan: Layout, woven: bool | None) -> _Seen:
    capture = read_capture(captures, plan, woven)
    found = best_source(capture, plan)
    return _Seen(capture, found, candidates(found, plan, capture.fields[0], woven=capture.woven))


def _scan(captures: Sequence[NDArray], lines: int | None, scan: Scan | None) -> Scan | None:
    """Return how the lines are sent, as far as it was said."""
    tall = len(captures[0]) if len(captures) else 0
    if scan == "interlaced" and tall < WOVEN_FROM:
        return None  # one field a frame
    if lines is None or tall < WOVEN_FROM:
        return scan
    told: Scan = "progressive" if lines > tall / 2 * _MOST_LINES else "interlaced"
    if scan is not None and scan != told:
        raise ParameterError(
            f"lines: {lines} lines of a field or picture in a capture of {tall} lines is {told}, but scan "
            f"says {scan}; give one of the two"
        )
    return told


def _refuse_lines(lines: int | None, fitted: Fitted) -> None:
    """Raise when the box is said to give fewer lines than the capture shows, or far more."""
    if lines is None:
        return
    prepared = fitted.fields[0]
    shown = int(np.ptp(prepared.seen.rows)) + 1 if prepared.seen.rows.size else 0
    most = round(_MOST_LINES * prepared.lines.lines)
    if shown > lines or lines > most:
        raise NotIdentifiable(
            f"lines: {lines} lines of a field or picture were said, but the capture has "
            f"{prepared.lines.lines} of which at least {shown} show the chart; give {shown} to {most}, or "
            "leave it out"
        )


def _as_one_picture(seen: _Seen, plan: Layout, marked: Scan | None) -> str:
    """Return why two captured fields are taken as one progressive picture, or ""."""
    if not seen.capture.woven or marked == "interlaced" or not _either(seen.tied[0]):
        return ""
    best = seen.tied[0]
    straight = best.chooses and abs(best.joint.trials[0].step - 2) < 1e-3
    if straight and not plan.mode.interlaced and seen.found.source == "frame":
        return _STRAIGHT
    return _MARKED if marked == "progressive" else ""


def _either(best: Candidate) -> bool:
    """True when the two fields could as well be one progressive picture: no filter against flicker."""
    return best.joint.relation.name == "half-line" and best.named.flicker_taps in ("1", "")


def _identification(
    seen: _Seen, plan: Layout, lines: int | None, captures: Sequence[NDArray], notes: tuple[str, ...]
) -> Identification:
    capture, found, tied = seen.capture, seen.found, seen.tied
    best, weighed = tied[0], evidence(tied, found.fitted, plan, capture.fields[0])
    known, relation = weighed.reproduced, best.joint.relation
    fields = in_order(found.fitted, best.joint)
    names = tied if known else ()
    first = best.named if known else None
    return Identification(
        method=first.method if first and first.method else "unknown",
        methods=tuple(dict.fromkeys(one.named.label for one in names)),
        same_lines=tuple(dict.fromkeys(one.named.label for one in names[1:] if one.same_lines(best))),
        chains=tuple(dict.fromkeys(one.named.chain for one in names if one.named.chain)),
        lines_in=plan.lines,
        lines_out=lines or fields[0].lines.lines,
        phase=first.phase if first else None,
        step=best.joint.trials[0].step,
        kernel=_kernel(weighed.free[0]),
        encoding=_encoding(tied if known else tied[:1]),
        flicker_taps=first.flicker_taps if first else "",
        field_relation=relation.name,
        along=capture.along,
        tone=capture.tone,
        residual=weighed.residual,
        confidence=confidence_of(weighed, relation.name),
        chain=first.chain if first and first.chain else f"measured file={plan.mode.family}-box.json",
        mode=plan.mode.name,
        places=tuple(p.seen.place for p in fields),
        rows=_rows(found, best, best.rows if known else free_rows(weighed.free, fields), plan),
        distance=weighed.distance,
        doubt=weighed.doubt if known else 0.0,
        misfit_ratio=weighed.ratio,
        condition=max(f.condition for f in weighed.free),
        frames=capture.frames,
        captured=_captured(captures, capture, relation.name),
        page=plan.page,
        aspect=plan.aspect,
        notes=(
            *capture.notes,
            *notes,
            *((_HELD,) if known and best.joint.trials[0].held else ()),
            *(unlike_fields(best.joint.trials, fields) if known else ()),
            *beyond_chart(capture.along, fields),
        ),
    )


def _rows(found: Explained, best: Candidate, rows: Sequence[NDArray], plan: Layout) -> tuple[NDArray, ...]:
    """Return the weights of each field's lines over the lines of the frame, the upper field first."""
    parities = found.parities[::-1] if best.joint.relation.reversed else found.parities
    spread = tuple(_spread(r, p, plan.lines) for r, p in zip(rows, parities, strict=True))
    if found.shared is None:
        return spread
    return spread[0], np.roll(spread[0], -found.shared, axis=0)


def _captured(captures: Sequence[NDArray], capture: Capture, relation: str) -> NDArray:
    """Return the luma of the mean of the frames that were used, swapped fields put right."""
    used = [captures[k] for k in capture.frames.used] or list(captures)
    mean = luma(np.asarray(np.mean(used, axis=0, dtype=np.float32)))
    if relation != "swapped":
        return mean
    pairs = mean[: len(mean) // 2 * 2]
    return np.stack([pairs[1::2], pairs[0::2]], axis=1).reshape(pairs.shape)


def _encoding(tied: Sequence[Candidate]) -> str:
    """Return what the box mixes; lines that are only chosen look alike in both."""
    if any(one.chooses for one in tied):
        return "undecidable"
    domains = {one.joint.trials[0].domain for one in tied}
    return domains.pop() if len(domains) == 1 else "undecidable"


def _spread(rows: NDArray, parity: int | None, frame_lines: int) -> NDArray:
    """Return weights over frame lines from weights over one field's lines."""
    if parity is None:
        return rows
    wide = np.zeros((len(rows), frame_lines))
    wide[:, parity::2] = rows
    return wide


def _kernel(kernel: FreeForm) -> tuple[tuple[float, float, float], ...]:
    """Return the taps of a free kernel in order."""
    order = np.argsort(kernel.offsets)
    return tuple((float(kernel.offsets[i]), float(kernel.weights[i]), float(kernel.errors[i])) for i in order)


def with_operator(found: Identification, folder: str) -> Identification:
    """Return an answer whose chain, when no stages give it, reads the operator file that a folder will hold.

    Parameters:  folder : with forward slashes, as a chain names files
    """
    if not found.undecided:
        return found
    return replace(found, chain=measured_chain(found, f"{folder}/{OPERATOR}").text)
