"""From a fitted method to the chain that reproduces it, and to what its fields have in common."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from scalesim.chain import Chain
from scalesim.charts.layout import Layout
from scalesim.signal.kernel.dictionary import PAIR, Method
from scalesim.signal.kernel.field_identity import Fitted
from scalesim.signal.kernel.method_fit import Trial

_SAME = 0.12
"""Shares of a step by which two fields' lines may miss "same" or "half-line"."""


Parts = list[tuple[str, str]]
"""(text, label) of each stage of a chain."""


@dataclass(frozen=True)
class Named:
    """A method in the chain's words; `chain` and `method` are "" when no stages give it."""

    label: str
    method: str
    chain: str
    phase: float | tuple[float, float] | None
    flicker_taps: str


def relation_of(trials: Sequence[Trial], fitted: Fitted, parities: Sequence[int | None], known: bool) -> str:
    """Return how the fields' contents lie to each other: "same", "half-line", "progressive", "unknown"."""
    if len(fitted.fields) == 1:
        return "progressive"
    if known and not trials[0].method.base.steady:
        return _relation_of_chosen(trials, fitted, parities)
    first, second = (_look(p.seen.place, parity) for p, parity in zip(fitted.fields, parities, strict=True))
    step = first[0]
    # in the middle, where an error of the step does least
    middle = fitted.fields[0].lines.lines / 2
    apart = ((second[0] - step) * middle + second[1] - first[1]) / step
    nearest = round(2 * apart) / 2
    if abs(apart - nearest) > _SAME:
        return "unknown"
    return "same" if nearest == round(nearest) else "half-line"


def _relation_of_chosen(trials: Sequence[Trial], fitted: Fitted, parities: Sequence[int | None]) -> str:
    """Return the relation of fields whose whole lines are chosen: several phases choose the same lines."""
    step = trials[0].step
    looks = []
    for number, parity in enumerate(parities):
        low, high = drop_range(trials[number], fitted, number)
        assert low is not None and high is not None
        looks.append((low, high) if parity is None else (low + parity / 2, high + parity / 2))
    (first_low, first_high), (second_low, second_high) = looks
    low, high = (second_low - first_high) / step, (second_high - first_low) / step
    middle = (low + high) / 2
    for relation, offset in (("same", 0.0), ("half-line", 0.5)):
        if abs(middle - offset - round(middle - offset)) < 0.02:
            return relation
    for relation, offset in (("half-line", 0.5), ("same", 0.0)):
        whole = round(middle - offset) + offset
        if low < whole < high:
            return relation
    nearest = round(2 * middle) / 2
    if abs(middle - nearest) > _SAME:
        return "unknown"
    return "same" if nearest == round(nearest) else "half-line"


def _look(place: object, parity: int | None) -> tuple[float, float]:
    """Return (step, phase) in frame lines of where a field's lines look."""
    scale, offset = place.scale, place.offset  # type: ignore[attr-defined]
    return (scale, offset) if parity is None else (2 * scale, 2 * offset + parity - 0.5)


def named(
    trials: Sequence[Trial],
    fitted: Fitted,
    relation: str,
    source: str,
    parities: Sequence[int | None],
    plan: Layout,
) -> Named:
    """Return the chain of a method fitted to one or two fields."""
    first = trials[0]
    data = fitted.fields[0].lines
    phase = _reported_phase(trials, fitted)
    taps = _taps_text(first.method, relation)
    if source == "frame":
        before = [_plain("deinterlace how=weave")] if plan.mode.interlaced else []
        parts = _parts(first, relation, data.lines, len(data.codes), _snapped(first, fitted, 0))
    else:
        before = _field_parts(parities, plan.mode.interlaced)
        parts = _of_fields(trials, fitted)
    if parts is None:
        return Named(_own_label(first), "", "", phase, taps)
    chain = Chain(", ".join(text for text, _ in (*before, *parts)))
    kinds = "+".join(stage.kind for stage in chain.stages)
    label = ", ".join(label for _, label in (*before, *parts))
    return Named(label, kinds, chain.text, phase, taps)


def _field_parts(parities: Sequence[int | None], interlaced: bool) -> Parts:
    """Return what goes ahead of a scaler that works on single fields."""
    if not interlaced:
        return [_plain("interlace")]
    if len(parities) == 1 or parities[0] == parities[1]:
        return [_plain(f"keep-field parity={('top', 'bottom')[parities[0] or 0]}")]
    return []


def _of_fields(trials: Sequence[Trial], fitted: Fitted) -> Parts | None:
    """Return the scaler of single fields, one that knows where they land or one that does not."""
    first, last = trials[0], trials[-1]
    data = fitted.fields[0].lines
    if first.method.taps is not None or first.method.base.kind not in (
        "line-drop",
        "line-average",
        "resample",
    ):
        return None
    text, label = _scaler(first, data.lines, len(data.codes), first.step, _snapped(first, fitted, 0))
    aware = (first.step - 1) / 2
    apart = last.phase - first.phase
    if len(trials) == 2 and abs(apart) < abs(apart - aware):
        return [(f"{text} fields=naive", f"{label} fields=naive")]
    return [(text, label)]


def _snapped(trial: Trial, fitted: Fitted, number: int) -> float:
    """Return the phase; for chosen lines the middle of the range that gives the same lines."""
    low, high = drop_range(trial, fitted, number)
    if low is None or high is None:
        return round(trial.phase, 4)
    whole = ceil(low - 1e-9)
    return float(whole) if whole < high - 1e-9 else round((low + high) / 2, 4)


def drop_range(trial: Trial, fitted: Fitted, number: int) -> tuple[float | None, float | None]:
    """Return the range of phases that choose the same lines as the trial, or (None, None)."""
    if trial.method.base.steady:
        return None, None
    data = fitted.fields[number].lines
    step = trial.step if trial.method.taps is None else trial.step / 2
    count = data.lines if trial.method.taps is None else 2 * data.lines
    starts = np.arange(count) * step + trial.phase + 1e-9
    part = starts - np.floor(starts)
    inside = (starts >= 0) & (starts < len(data.codes))
    part = part[inside] if inside.any() else part
    return trial.phase - float(part.min()), trial.phase + 1 - float(part.max())


def _reported_phase(trials: Sequence[Trial], fitted: Fitted) -> float | tuple[float, float]:
    low, high = drop_range(trials[0], fitted, 0)
    if low is None or high is None:
        return float(trials[0].phase)
    return (round(low, 6), round(high, 6))


def _parts(trial: Trial, relation: str, lines: int, lines_in: int, phase: float) -> Parts | None:
    """Return (text, label) of each stage, or None when no stages give this method."""
    method = trial.method
    taps = method.taps
    if method.base.kind in ("point-box", "keys") or (
        method.base.kind == "window" and method.base.window == 4
    ):
        return None
    if method.base.kind == "window":
        return _window_parts(trial, relation, lines, lines_in, phase)
    if len(method.weights) > 2 and trial.domain == "light" and not trial.taps_in_code:
        return None  # no stage filters light
    if relation == "half-line":
        if taps is None and _unwidened(method):
            # a field's line is centred in a span of its step, a frame's in one of half of it
            start = phase + trial.step / 4 if method.base.kind == "resample" else phase
            return [_scaler(trial, 2 * lines, lines_in, trial.step / 2, start), _plain("interlace")]
        if taps is None or taps == PAIR:
            return None
        filters = [] if len(taps) == 1 else [_plain(f"flicker-filter taps={taps_text(taps)}")]
        return [_scaler(trial, 2 * lines, lines_in, trial.step / 2, phase), *filters, _plain("interlace")]
    if taps is None:
        return [_scaler(trial, lines, lines_in, trial.step, phase)]
    first = _scaler(trial, 2 * lines, lines_in, trial.step / 2, phase)
    if taps == PAIR:
        light = "" if trial.domain == "code" or trial.taps_in_code else " encoding=light"
        return [first, (f"line-average lines={lines}{light}", "line-average")]
    filters = [] if len(taps) == 1 else [_plain(f"flicker-filter taps={taps_text(taps)}")]
    return [first, *filters, (f"line-drop lines={lines}", "line-drop")]


def _window_parts(trial: Trial, relation: str, lines: int, lines_in: int, phase: float) -> Parts | None:
    if trial.method.taps is not None:
        return None
    ahead = (
        (f"resample lines={lines_in} phase=1/2", "resample")
        if trial.method.base.window == 2
        else _plain("flicker-filter taps=1/1/1")
    )
    start = phase + (trial.method.base.window - 1) // 2
    if relation == "half-line":
        drop = f"line-drop lines={2 * lines}{_keys(2 * lines, lines_in, trial.step / 2, start)}"
        return [ahead, (drop, "line-drop"), _plain("interlace")]
    return [ahead, (f"line-drop lines={lines}{_keys(lines, lines_in, trial.step, start)}", "line-drop")]


def _plain(text: str) -> tuple[str, str]:
    return text, text


def _unwidened(method: Method) -> bool:
    return method.base.kind == "line-drop" or (method.base.kind == "resample" and not method.base.antialias)


def _scaler(trial: Trial, lines: int, lines_in: int, step: float, phase: float) -> tuple[str, str]:
    base = trial.method.base
    label = base.kind
    if base.kind == "resample":
        label += f" kernel={base.kernel}" + ("" if base.antialias else " antialias=off")
    light = " encoding=light" if trial.domain == "light" and base.kind != "line-drop" else ""
    text = label.replace("resample", f"resample lines={lines}").replace(
        "line-average", f"line-average lines={lines}"
    )
    text = text.replace("line-drop", f"line-drop lines={lines}")
    return text + _keys(lines, lines_in, step, phase) + light, label


def _keys(lines: int, lines_in: int, step: float, phase: float) -> str:
    keys = ""
    if abs(step - lines_in / lines) > 1e-9:
        keys += f" step={_number(step, lines_in)}"
    if abs(phase) > 5e-4:
        keys += f" phase={phase:.6g}"
    return keys


def _number(step: float, lines_in: int) -> str:
    """Return a step as a fraction of the source's lines when it is one."""
    count = round(lines_in / step)
    if abs(lines_in / count - step) < 1e-9:
        return f"{lines_in}/{count}"
    return f"{step:.8g}"


def taps_text(taps: Sequence[float]) -> str:
    """Return taps as a chain writes them, 1/2/1."""
    return "/".join(f"{tap:g}" for tap in taps)


def _taps_text(method: Method, relation: str) -> str:
    if relation == "progressive" or method.taps is None:
        return "1" if relation == "half-line" else ""
    return "paired" if method.taps == PAIR else taps_text(method.taps)


def _own_label(trial: Trial) -> str:
    base = trial.method.base
    if base.kind == "window":
        own = f"mean of {base.window} whole lines"
    elif base.kind == "keys":
        own = f"cubic a={base.sharpness:g}" + ("" if base.antialias else " antialias=off")
    elif base.kind == "point-box":
        own = "mean of the whole lines whose middles lie in the span"
    else:
        own = " ".join([base.kind, base.kernel, "" if base.antialias else "antialias=off"]).strip()
    if trial.method.taps is not None:
        own += f" to twice the lines, taps {taps_text(trial.method.taps)}"
    return own
