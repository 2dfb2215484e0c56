"""The tables of an answer: timing, pulse widths, levels, pads, records."""

from __future__ import annotations

from math import isfinite

import numpy as np

from scalesim.core.sync import SyncStandard, Width
from scalesim.jobs.trace.followed import counted
from scalesim.jobs.trace.found import Found
from scalesim.jobs.trace.levels import ChannelLevels, Trim
from scalesim.jobs.trace.words import leads, rounded, signed
from scalesim.result import Cell, Table
from scalesim.signal.waveform.classes import KINDS, Kind
from scalesim.signal.waveform.timing import Timing

_CLASSES: tuple[tuple[str, Kind | None], ...] = (
    ("line", "line"),
    ("equalising", "equalising"),
    ("broad", "broad"),
    ("serration", None),
)


def main_table(found: Found) -> Table:
    """Return the main figures with their units."""
    rows: list[tuple[str, str, str]] = [("verdict", found.verdict.answer, "")]
    timing, verdict = found.timing, found.verdict
    if timing is not None:
        rows.append(("line rate", f"{timing.line_rate_hz:.3f}", "Hz"))
        if timing.field_rate_hz is not None:
            rows.append(("field rate", f"{timing.field_rate_hz:.4f}", "Hz"))
        if verdict.lines:
            rows.append(("lines of each field", counted(verdict), f"lines, n {len(verdict.lines)}"))
        if verdict.offset is not None:
            rows.append(
                ("offset of fields", rounded(verdict.offset), f"line, ± {max(verdict.error or 0, 0.001):.3f}")
            )
        rows.append(
            ("jitter of lines", f"{1000 * timing.grid.jitter_us:.1f}", f"ns rms, n {timing.grid.lines}")
        )
    if verdict.mode is not None:
        rows.append(("nearest mode", verdict.mode.name, f"{signed(verdict.line_ppm)} ppm"))
    sync, main = found.sync, found.main
    if sync is not None and sync.sync_mv is not None:
        rows.append(("sync", f"{sync.sync_mv:.1f}", "mV"))
    if main is not None and main.peak_mv is not None:
        rows += [
            ("peak above blanking", f"{main.peak_mv:.1f}", "mV"),
            ("over what is asked", f"{main.over_mv:+.1f}", f"mV of {main.picture_mv:.0f}"),
        ]
    if found.trim is not None:
        rows.append(("trim", f"{found.trim.factor:.3f}", f"of the gain, {found.trim.db:.2f} dB"))
    return Table("Trace", ("what", "value", "unit"), tuple(rows), ("left", "right", "left"))


def widths(timing: Timing, kind: Kind | None) -> np.ndarray:
    """Return the widths of a class in us; of None the gaps between broad pulses."""
    if kind is None:
        return timing.serrations_us
    return timing.pulses.width_us[timing.kinds == KINDS.index(kind)]


def asked(standard: SyncStandard, name: str) -> Width:
    """Return the width a class should have."""
    found: Width = {
        "line": standard.sync,
        "equalising": standard.equalising,
        "broad": standard.broad,
        "serration": standard.serration,
    }[name]
    return found


def classes(timing: Timing) -> list[tuple[str, np.ndarray]]:
    """Return (name, widths) of every class that occurs."""
    found = [(name, widths(timing, kind)) for name, kind in _CLASSES]
    return [(name, held) for name, held in found if len(held)]


def vertical_table(found: Found) -> Table:
    """Return every vertical sync: where in its line it begins, how long it lasts, and what is about it."""
    assert found.timing is not None
    rows = tuple(
        (
            f"{each.at_us / 1000:.3f}",
            f"{lead:.3f}",
            f"{each.lines:.2f}",
            str(each.broad),
            f"{each.before} and {each.after}",
            ", ".join(f"{width:.1f}" for width in each.others_us) or "–",
        )
        for each, lead in zip(found.timing.verticals, leads(found.timing), strict=True)
    )
    names = (
        "begins at, ms",
        "after the begin of a line, lines",
        "lasts, lines",
        "broad pulses",
        "equalising before and after",
        "other pulses before it, µs",
    )
    return Table("Vertical syncs", names, rows, ("right",) * 6, folded=True)


def width_table(found: Found) -> Table:
    """Return every class of pulse: how many, how wide, and whether the standard's tolerance holds it."""
    assert found.timing is not None
    rows = []
    for name, held in classes(found.timing):
        middle, low, high = (float(np.percentile(held, p)) for p in (50, 5, 95))
        said, verdict = "–", "–"
        if found.standard is not None:
            width = asked(found.standard, name)
            said = f"{width.us:.2f} ± {width.plus_minus:.2f}"
            error = found.timing.interval_us / 4
            verdict = "within" if width.holds(middle, error) else f"{middle - width.us:+.2f} µs off"
        rows.append((name, str(len(held)), f"{middle:.3f}", f"{low:.3f} to {high:.3f}", said, verdict))
    return Table(
        "Pulses",
        ("class", "n", "median, µs", "5 to 95 %, µs", "asked, µs", "tolerance"),
        tuple(rows),
        ("left", "right", "right", "right", "right", "left"),
        head=0,
    )


def level_table(found: Found) -> Table:
    """Return the levels of every channel."""
    rows = tuple(
        (
            each.channel.said,
            each.kind,
            *(
                _cell(each, key)
                for key in ("sync_mv", "blank_mv", "black_mv", "white_mv", "peak_mv", "overshoot_mv")
            ),
            "–" if each.over_mv is None else f"{each.over_mv:+.0f} of {each.picture_mv:.0f}",
        )
        for each in found.levels
    )
    names = ("channel", "kind", "sync", "blanking", "black", "white", "peak", "overshoot", "over")
    return Table("Levels in mV into 75 ohms", names, rows, ("left", "left", *["right"] * 7), head=0)


def _cell(each: ChannelLevels, key: str) -> str | Cell:
    value = getattr(each, key)
    if value is None:
        return Cell("–", note=each.why.get(key, ""))
    return Cell(f"{value:.0f}", quiet=f"± {max(2 * each.errors.get(key, 0.0), 1.0):.0f}")


def pad_table(trim: Trim) -> Table:
    """Return the pads with what each leaves."""
    rows = tuple(
        (
            pad.kind,
            pad.series,
            " – ".join(f"{value:g}" for value in pad.ohms),
            f"{pad.db:.2f}",
            f"{trim.from_mv * pad.factor:.0f}",
            "–" if trim.sync_mv is None else f"{trim.sync_mv / trim.factor * pad.factor:.0f}",
            _loss(pad.return_in_db),
            _loss(pad.return_out_db),
        )
        for pad in trim.pads
    )
    names = ("pad", "series", "ohms", "dB", "peak, mV", "sync, mV", "return loss in, dB", "out, dB")
    return Table("Pads between 75 ohms and 75 ohms", names, rows, ("left", "left", *["right"] * 6), head=0)


def _loss(db: float) -> str:
    return f"{db:.0f}" if isfinite(db) else "matched"


def record_table(found: Found) -> Table:
    """Return the records and what each holds."""
    rows = tuple(
        (
            each.name,
            str(each.samples),
            f"{each.mhz:.4g}",
            f"{each.ms:.4g}",
            each.why or f"{each.lines} lines, {each.verticals} vertical syncs, {each.fields} whole fields",
        )
        for each in found.records
    )
    names = ("record", "samples", "MS/s", "ms", "holds")
    return Table("Records", names, rows, ("left", "right", "right", "right", "left"), head=0)
