"""An answer's document."""

from __future__ import annotations

from collections.abc import Mapping
from math import isfinite
from typing import Any

from scalesim.jobs.lag.device import Device
from scalesim.jobs.lag.numbers import two_digits
from scalesim.jobs.lag.totals import Total
from scalesim.signal.laglog.verdict import FEWEST

SEVERAL = "several devices: see devices"


def device_document(device: Device) -> dict[str, Any]:
    """Return one device's keys."""
    study = device.study
    found, (low, five, middle, most, high) = study.found, study.quantiles
    values = found.chosen.values if found.chosen is not None else {}
    more, purpose = study.longer
    why: dict[str, str] = {}
    if study.drift_us_per_s is None:
        why["drift_us_per_s"] = _no_drift(device)
        why["wrap_s"] = "no drift is told, so nothing wraps"
    if study.next_wrap_s is None:
        why["next_wrap_s"] = "no wrap was logged" if study.drifts else "no drift is told, so nothing wraps"
    if found.kind == "unknown":
        few = f"{study.count} readings; at least {FEWEST} tell a kind"
        why["kind"] = few if study.count < FEWEST else found.why or "too many readings fit none of the kinds"
    return {
        "device": device.label,
        "n": study.count,
        "left_out": study.left_out,
        "seconds": _plain(study.seconds),
        "rate_hz": float(device.rate),
        "frame_ms": study.frame_ms,
        "min_ms": _plain(low),
        "p5_ms": _plain(five),
        "median_ms": _plain(middle),
        "p95_ms": _plain(most),
        "max_ms": _plain(high),
        "min_frames": _plain(low / study.frame_ms),
        "p5_frames": _plain(five / study.frame_ms),
        "median_frames": _plain(middle / study.frame_ms),
        "p95_frames": _plain(most / study.frame_ms),
        "max_frames": _plain(high / study.frame_ms),
        "kind": found.kind,
        "confidence": round(found.confidence, 4),
        "runner_up": found.runner_up or None,
        "drift_us_per_s": _plain(study.drift_us_per_s),
        "drift_error_us_per_s": _plain(study.drift_error_us_per_s),
        "drift_at_most_us_per_s": _plain(study.drift_at_most_us_per_s),
        "wrap_s": _plain(study.wrap_s),
        "wrap_error_s": _plain(study.wrap_error_s),
        "wraps_seen": study.wraps_seen,
        "next_wrap_s": _plain(study.next_wrap_s),
        "next_wrap_error_s": _plain(study.next_wrap_error_s),
        "next_wrap_within_s": _plain(study.next_wrap_within_s),
        "interval_s": _plain(study.interval_s),
        "aliases_us_per_s": [_plain(each) for each in study.aliases_us_per_s],
        "alias_step_us_per_s": _plain(study.alias_step_us_per_s),
        "step_ms": study.step_ms,
        "astray": int(device.astray.sum()),
        "spread_ms": _plain(values.get("spread")),
        "levels_ms": [values["low"], values["high"]] if found.kind == "two-level" else None,
        "jumps": int(values["jumps"]) if found.kind == "two-level" else None,
        "log_more_s": round(more, 1) if purpose else 0,
        "log_more_for": purpose or None,
        "heights": [
            {"height": height, "n": count, "median_ms": _plain(median)}
            for height, (count, median) in sorted(device.heights.items())
        ],
        "middle_of_picture": device.corrected or None,
        "why": why,
    }


def document(
    devices: tuple[Device, ...], *, given: bool, direct: float | None, total: Total | None
) -> dict[str, Any]:
    """Return the document's keys: those of the only device, or those of each in `devices`."""
    each = [device_document(device) for device in devices]
    measured = any(device.measured for device in devices)
    rate_from = "given" if given else ("measured" if measured else "assumed")
    head: dict[str, Any] = {"rate_from": rate_from, "direct_ms": direct}
    if len(each) == 1:
        mine = {key: value for key, value in each[0].items() if key != "device"}
        return {**head, **mine, "devices": each, "total": None}
    keys = ("min_ms", "median_ms", "max_ms", "drift_us_per_s", "wrap_s", "kind", "confidence")
    return {
        **head,
        **dict.fromkeys(keys),
        "devices": each,
        "total": None if total is None else _total(total),
        "why": dict.fromkeys(keys, SEVERAL),
    }


def _total(total: Total) -> Mapping[str, Any]:
    return {
        "min_ms": total.least,
        "p5_ms": total.likely[0],
        "median_ms": total.likely[1],
        "p95_ms": total.likely[2],
        "max_ms": total.most,
        "beat_locked": [
            {"devices": [first, second], "levels_ms": [low, high]} for first, second, low, high in total.beats
        ],
    }


def _no_drift(device: Device) -> str:
    study = device.study
    if study.found.kind == "unknown":
        return "the kind of lag cannot be told"
    most = study.drift_at_most_us_per_s
    return "no drift shows" + (f"; one above {two_digits(most)} µs/s would have" if most is not None else "")


def _plain(value: float | None) -> float | None:
    return None if value is None or not isfinite(value) else float(f"{value:.9g}")
