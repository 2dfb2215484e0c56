"""An answer's document and its list of pulses."""

from __future__ import annotations

from math import isfinite
from typing import Any

import numpy as np

from scalesim.jobs.trace.found import Found
from scalesim.jobs.trace.levels import ChannelLevels, Trim
from scalesim.jobs.trace.tables import classes
from scalesim.jobs.trace.words import leads
from scalesim.signal.waveform.classes import KINDS
from scalesim.signal.waveform.timing import Timing

LANDING_WHY = "where a display draws the fields follows from its vertical circuit, of which nothing was given"
_LEVELS = ("sync_mv", "black_mv", "white_mv", "peak_mv", "overshoot_mv")


def document(found: Found) -> dict[str, Any]:
    """Return the document's keys."""
    timing, verdict = found.timing, found.verdict
    why: dict[str, str] = {} if found.landed else {"landing": LANDING_WHY}
    if verdict.why:
        why["verdict"] = verdict.why
    if not verdict.lines:
        why["lines_per_field"] = verdict.why or "short records hold no whole field"
    if verdict.mode is None:
        why["mode"] = (
            "no mode of the table has such fields" if verdict.lines else "no whole field was recorded"
        )
    main, sync = found.main, found.sync
    return {
        "record": found.name,
        "verdict": verdict.answer,
        "would_tell": verdict.would_tell,
        "confidence": round(verdict.confidence, 4),
        "line_rate_hz": None if timing is None else timing.line_rate_hz,
        "line_rate_error_ppm": None if timing is None else _ppm(timing),
        "field_rate_hz": None if timing is None else timing.field_rate_hz,
        "field_rate_error_ppm": None if timing is None else timing.field_error_ppm,
        "lines_per_field": [round(lines, 4) for lines in verdict.lines] or None,
        "half_line_offset": verdict.offset,
        "half_line_offset_error": verdict.error,
        "mode": None if verdict.mode is None else verdict.mode.name,
        "line_rate_ppm": verdict.line_ppm,
        "field_rate_ppm": verdict.field_ppm,
        "lines_off": verdict.lines_off,
        "jitter_ns": None if timing is None else 1000 * timing.grid.jitter_us,
        "jitter_peak_ns": None if timing is None else 1000 * timing.grid.jitter_peak_us,
        "inverted": None if timing is None else timing.pulses.inverted,
        "n": {
            "line_rate_hz": 0 if timing is None else timing.grid.lines,
            "lines_per_field": len(verdict.lines),
        },
        "pulses": {} if timing is None else _classes(timing),
        "fields": [] if timing is None else _fields(timing),
        "vertical_syncs": [] if timing is None else _verticals(timing),
        "sync_mv": None if sync is None else sync.sync_mv,
        "blank_mv": None if (main or sync) is None else (main or sync).blank_mv,  # type: ignore[union-attr]  # one is there
        "peak_mv": None if main is None else main.peak_mv,
        "over_mv": None if main is None else main.over_mv,
        "trim": None if found.trim is None else _trim(found.trim),
        "channels": [_channel(each) for each in found.levels],
        "doubts": list(found.doubts),
        "load": found.load,
        "probe": found.probe,
        "records": [
            {
                "name": each.name,
                "samples": each.samples,
                "samples_per_second": 1e6 * each.mhz,
                "seconds": each.ms / 1000,
                "whole_fields": each.fields,
                "vertical_syncs": each.verticals,
                "why": each.why or None,
            }
            for each in found.records
        ],
        "landing": [each.to_dict() for each in found.landed] or None,
        "why": why | _level_reasons(main, sync, found),
    }


def _ppm(timing: Timing) -> float:
    return 1e6 * timing.grid.period_error_us / timing.grid.period_us


def _level_reasons(main: ChannelLevels | None, sync: ChannelLevels | None, found: Found) -> dict[str, str]:
    missing = found.verdict.why if found.timing is None else "the record holds too few whole lines"
    why = {}
    if sync is None or sync.sync_mv is None:
        why["sync_mv"] = missing if sync is None else sync.why.get("sync_mv", missing)
    if main is None or main.peak_mv is None:
        reason = missing if main is None else main.why.get("peak_mv", missing)
        why |= {"peak_mv": reason, "over_mv": reason}
    if found.trim is None:
        why["trim"] = "no level is over what its system asks, as far as it was read"
    if found.timing is None:
        why |= dict.fromkeys(
            ("line_rate_hz", "field_rate_hz", "field_rate_error_ppm", "blank_mv"), found.verdict.why
        )
    elif found.timing.field_rate_hz is None:
        why |= dict.fromkeys(("field_rate_hz", "field_rate_error_ppm"), "the record holds no whole field")
    if found.verdict.offset is None:
        why["half_line_offset"] = found.verdict.why or "the record holds no whole field"
    return why


def _classes(timing: Timing) -> dict[str, Any]:
    return {
        name: {
            "n": len(held),
            "median_us": round(float(np.median(held)), 5),
            "low_us": round(float(np.percentile(held, 5)), 5),
            "high_us": round(float(np.percentile(held, 95)), 5),
        }
        for name, held in classes(timing)
    }


def _fields(timing: Timing) -> list[dict[str, float]]:
    return [
        {
            "at_s": each.at_us * 1e-6,
            "lines": each.lines,
            "offset": each.offset,
            "offset_error": each.error,
        }
        for each in timing.fields
    ]


def _verticals(timing: Timing) -> list[dict[str, Any]]:
    return [
        {
            "at_s": each.at_us * 1e-6,
            "lead_lines": lead,
            "lines": each.lines,
            "broad": each.broad,
            "equalising_before": each.before,
            "equalising_after": each.after,
            "other_us": [round(width, 3) for width in each.others_us],
        }
        for each, lead in zip(timing.verticals, leads(timing), strict=True)
    ]


def _channel(each: ChannelLevels) -> dict[str, Any]:
    return {
        "role": each.channel.role,
        "name": each.channel.name,
        "column": each.channel.column,
        "kind": each.kind,
        "blank_mv": each.blank_mv,
        **{key: getattr(each, key) for key in _LEVELS},
        "over_mv": each.over_mv,
        "asked_picture_mv": each.picture_mv,
        "asked_sync_mv": each.nominal_sync_mv,
        "errors": dict(each.errors),
        "noise_mv": each.noise_mv,
        "clipped": list(each.clipped),
        "why": dict(each.why),
    }


def _trim(trim: Trim) -> dict[str, Any]:
    return {
        "factor": trim.factor,
        "db": trim.db,
        "from_mv": trim.from_mv,
        "to_mv": trim.to_mv,
        "sync_mv_after": trim.sync_mv,
        "pads": [
            {
                "kind": pad.kind,
                "series": pad.series,
                "ohms": list(pad.ohms),
                "db": pad.db,
                "peak_mv": trim.from_mv * pad.factor,
                "sync_mv": None if trim.sync_mv is None else trim.sync_mv / trim.factor * pad.factor,
                "return_loss_in_db": pad.return_in_db if isfinite(pad.return_in_db) else None,
                "return_loss_out_db": pad.return_out_db if isfinite(pad.return_out_db) else None,
            }
            for pad in trim.pads
        ],
    }


def pulses_csv(timings: tuple[Timing, ...]) -> str:
    """Return every pulse: record, begin and width in us, class, line it stands in and where in that line."""
    rows = ["record,begin_us,width_us,class,line,place_in_line"]
    for number, timing in enumerate(timings, start=1):
        grid, pulses = timing.grid, timing.pulses
        at = (pulses.begin_us - grid.start_us) / grid.period_us
        lines = np.floor(at + 0.25)
        rows += [
            f"{number},{begin:.4f},{width:.4f},{KINDS[kind]},{line:.0f},{place:.5f}"
            for begin, width, kind, line, place in zip(
                pulses.begin_us, pulses.width_us, timing.kinds, lines, at - lines, strict=True
            )
        ]
    return "\n".join(rows) + "\n"
