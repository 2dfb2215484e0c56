"""From a fitted method to the chain that reproduces it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from scalesim.chain import Chain
from scalesim.charts.layout import Layout
from scalesim.signal.kernel.dictionary import PAIR, Method
from scalesim.signal.kernel.field_identity import Prepared
from scalesim.signal.kernel.field_lines import FieldLines
from scalesim.signal.kernel.joint import Joint, Relation
from scalesim.signal.kernel.method_fit import Trial

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


def named(
    one: Joint, fields: Sequence[Prepared], source: str, parities: Sequence[int | None], plan: Layout
) -> Named:
    """Return the chain of a method fitted to one or two fields, the upper field first.

    The phase is that of the chain's own stage.
    """
    first, relation = one.trials[0], _content(one.relation)
    data = fields[0].lines
    place = _snapped(one, len(data.codes))
    taps = _taps_text(first.method, relation)
    if source == "frame":
        before = [_plain("deinterlace how=weave")] if plan.mode.interlaced else []
        parts = _parts(first, relation, data.lines, len(data.codes), place)
    else:
        before = _field_parts(parities, plan.mode.interlaced)
        parts = _of_fields(one, data, place)
    if parts is None or (relation == "unknown" and not one.relation.naive):
        return Named(_own_label(first), "", "", one.span or place, taps)
    chain = Chain(", ".join(text for text, _ in (*before, *parts)))
    kinds = "+".join(stage.kind for stage in chain.stages)
    label = ", ".join(label for _, label in (*before, *parts))
    return Named(label, kinds, chain.text, _chain_phase(chain, one, place), taps)


def _content(relation: Relation) -> str:
    """Return the relation of fields that are in their right order."""
    return "half-line" if relation.name == "swapped" else relation.name


def _chain_phase(chain: Chain, one: Joint, place: float) -> float | tuple[float, float]:
    """Return the phase as the chain's scaler has it, or the range of it that chooses the same lines."""
    scalers = [stage for stage in chain.stages if hasattr(stage, "phase") and hasattr(stage, "step")]
    kinds = ("line-drop", "line-average", "resample")
    windowed = one.trials[0].method.base.kind == "window"
    stage = [s for s in scalers if s.kind in kinds][-1 if windowed else 0]
    own = float(stage.phase)
    if one.span is None:
        return own
    return (round(one.span[0] + own - place, 6), round(one.span[1] + own - place, 6))


def _field_parts(parities: Sequence[int | None], interlaced: bool) -> Parts:
    """Return what goes ahead of a scaler that works on single fields."""
    if not interlaced:
        return [_plain("interlace")]
    if len(parities) == 1 or parities[0] == parities[1]:
        return [_plain(f"keep-field parity={('top', 'bottom')[parities[0] or 0]}")]
    return []


def _of_fields(one: Joint, data: FieldLines, place: float) -> Parts | None:
    """Return the scaler of single fields, one that knows where they land or one that does not."""
    first = one.trials[0]
    if first.method.taps is not None or first.method.base.kind not in (
        "line-drop",
        "line-average",
        "resample",
    ):
        return None
    text, label = _scaler(first, data.lines, len(data.codes), first.step, place)
    if one.relation.naive:
        return [(f"{text} fields=naive", f"{label} fields=naive")]
    return [(text, label)]


def _snapped(one: Joint, lines_in: int) -> float:
    """Return the phase; for chosen lines a whole, half or quarter number inside their range, or the middle.

    A step that was measured leaves the ends of the range in doubt: there only its inner part counts.
    """
    if one.span is None:
        return round(one.trials[0].phase, 4)
    low, high = one.span
    edge = 0.1 * (high - low)
    if _number(one.trials[0].step, lines_in).count("/"):
        low -= edge
    for parts in (1, 2, 4):
        place = ceil(parts * (low + edge - 1e-9)) / parts
        if place < high - edge:
            return float(place)
    return round((one.span[0] + high) / 2, 6)


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
        keys += f" phase={phase:.8g}"
    return keys


def _number(step: float, lines_in: int) -> str:
    """Return a step as a fraction of the source's lines when it is one."""
    count = round(lines_in / step)
    if abs(lines_in / count - step) < 1e-9:
        return f"{lines_in}/{count}"
    return f"{step:.10g}"


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
