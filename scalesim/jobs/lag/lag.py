"""Lag: range, kind, drift and wrap of the lag in bench logs."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.core.clocks import rate_of
from scalesim.core.lag_table import LagTable
from scalesim.core.trace import Trace
from scalesim.errors import ParameterError
from scalesim.jobs.lag.answer import Device, Lagged
from scalesim.jobs.lag.heights import height_of, scan_ms, to_middle
from scalesim.jobs.lag.scoped import readings
from scalesim.signal.laglog.studied import study
from scalesim.signal.laglog.study import Study

USUAL = Fraction(60000, 1001)
OTHER = Fraction(50)
CLEARER = 20.0
"""By how much the criterion must be better at another rate before that is said."""
MOST_DEVICES = 64
MOST_MS = 600_000.0
"""Ten minutes: nobody plays through a chain of more."""


def lag(
    logs: Sequence[LagTable] = (),
    *,
    scope: Sequence[Trace] | None = None,
    rate: str | None = None,
    interval: float | None = None,
    direct: float | None = None,
    columns: str = "source=2,tube=3",
    height: str = "middle",
    total: bool = False,
) -> Lagged:
    """Return what logs of lag tell.

    Parameters:
        logs : readings; scope : an oscilloscope's records instead, or as well
        rate : of the display, a number or a mode; None takes 59.94 unless the log shows 50 Hz
        interval : s between readings of a log without times
        direct : ms that the same set-up reads without the boxes; taken off
        columns, height : of the scope's record: what its columns hold, and where the probe sat
        total : the devices are boxes of one chain
    Raises: ParameterError for a log that holds no reading, or lag the wrong way round
    """
    given = None if rate is None else rate_of(rate)
    at = height_of(height)
    tables = [(table, direct or 0.0) for table in logs]
    tables += [(readings(each, columns, given or USUAL, at, direct), 0.0) for each in scope or ()]
    if not tables:
        raise ParameterError("lag: no log was given; name a CSV of times and lags, or a record with --scope")
    parts = [part for table, off in tables for part in _devices(table, off, several=len(tables) > 1)]
    if len(parts) > MOST_DEVICES:
        few = ", ".join(f"'{part.name}'" for part in parts[:3])
        raise ParameterError(
            f"lag: {len(parts)} devices or runs ({few} …); at most {MOST_DEVICES}: leave out their column"
        )
    if total and len(parts) < 2:
        raise ParameterError(
            "lag: --total needs two devices or more; give a column of labels, or several logs"
        )
    notes = [note for table, _ in tables for note in table.notes]
    devices = []
    for part in parts:
        if part.times is None and interval is None and len(part.lags) > 1:
            raise ParameterError(
                f"lag: {part.name} has lag alone; say --interval in s between readings, or log the times"
            )
        devices.append(_device(part, given, interval, notes))
    return Lagged(
        name=tables[0][0].name if len(tables) == 1 else f"{len(tables)} logs",
        devices=tuple(devices),
        given=given is not None,
        direct_ms=direct,
        total=total,
        notes=tuple(dict.fromkeys(notes)),
    )


def _devices(table: LagTable, off: float, *, several: bool) -> list[LagTable]:
    """Return one table for each device of a log, with what a direct connection reads taken off."""
    lags = table.lags - off
    if table.labels is None:
        label = table.name.rsplit(".", 1)[0] if several else table.name
        return [LagTable(label, lags, table.unit, table.times, heights=table.heights, step=table.step)]
    found = []
    for number, name in enumerate(table.names):
        mine = table.labels == number
        label = f"{name} ({table.name})" if several else name
        times = None if table.times is None else table.times[mine]
        heights = None if table.heights is None else table.heights[mine]
        found.append(LagTable(label, lags[mine], table.unit, times, heights=heights))
    return found


def _device(table: LagTable, given: Fraction | None, interval: float | None, notes: list[str]) -> Device:
    """Return what is told of one device."""
    timed = True if table.times is None else np.isfinite(table.times)
    if not (np.isfinite(table.lags) & timed).any():
        raise ParameterError(f"lag: {table.name} holds no reading; every row is empty or no number")
    worst = float(np.nanmax(np.abs(table.lags)[np.isfinite(table.lags)]))
    if worst > MOST_MS:
        raise ParameterError(
            f"lag: {table.name}: a reading is {worst:.4g} {table.unit}; lag is at most {MOST_MS:g} (check "
            "the unit)"
        )
    rate = given or USUAL
    found, raw, corrected = _at(table, rate, interval)
    other = OTHER if rate > 55 else USUAL
    measured = False
    if found.found.kind in ("drift", "drift+jitter", "uniform") and table.unit == "ms":
        instead, raw_too, corrected_too = _at(table, other, interval)
        better = _score(found) - _score(instead)
        if better > CLEARER and instead.wraps_seen:
            if given is None:
                found, raw, corrected, rate, measured = instead, raw_too, corrected_too, other, True
            else:
                notes.append(
                    f"{table.name}: frames of {float(other):.2f} Hz fit this log better than "
                    f"{float(rate):.2f} Hz; "
                    "check --rate"
                )
    below = int((found.lags < 0).sum())
    if below > found.count / 2:
        raise ParameterError(
            f"lag: {table.name}: {below} of {found.count} readings are below 0: the display cannot be "
            "ahead of "
            "the source; swap the two, or check what was taken off"
        )
    if below:
        notes.append(f"{table.name}: {below} of {found.count} readings are below 0; look at the reference")
    _told_times(table, found, notes)
    return Device(table.name, found, rate, measured, raw, corrected)


def _score(found: Study) -> float:
    chosen = found.found.chosen
    return chosen.score if chosen is not None else float("inf")


def _at(
    table: LagTable, rate: Fraction, interval: float | None
) -> tuple[Study, dict[float, tuple[int, float]], bool]:
    """Return (study, height -> (readings, median as it was read), whether the scan was taken out)."""
    frame = float(1000 / rate)
    lags = table.lags * frame if table.unit == "frames" else table.lags
    if table.heights is None:
        return study(table.times, lags, frame, interval=interval, step=table.step), {}, False
    heights = np.where(np.isfinite(table.heights), table.heights, 0.5)
    raw = {float(h): _middle(lags[heights == h]) for h in np.unique(heights)}
    moved = study(table.times, to_middle(lags, heights, scan_ms(rate)), frame, interval=interval)
    plain = study(table.times, lags, frame, interval=interval)
    # the log itself shows whether the scan is in its readings: they agree better with it taken out
    if _score(moved) <= _score(plain):
        return moved, raw, True
    return plain, raw, False


def _middle(lags: NDArray) -> tuple[int, float]:
    kept = lags[np.isfinite(lags)]
    return len(kept), float(np.median(kept)) if len(kept) else float("nan")


def _told_times(table: LagTable, found: Study, notes: list[str]) -> None:
    if found.left_out:
        rows = "1 row holds" if found.left_out == 1 else f"{found.left_out} rows hold"
        ending = "is" if found.left_out == 1 else "are"
        what = "reading" if table.times is None else "time or no reading"
        notes.append(f"{table.name}: {rows} no {what} and {ending} left out")
    if table.times is not None and (np.diff(table.times[np.isfinite(table.times)]) < 0).any():
        notes.append(f"{table.name}: times run back; the rows were put in order")
    if found.count > 2:
        steps = np.diff(found.times)
        usual = float(np.median(steps))
        gaps = int((steps > 5 * usual).sum()) if usual > 0 else 0
        if gaps:
            told = "1 gap," if gaps == 1 else f"{gaps} gaps, the longest"
            notes.append(
                f"{table.name}: {told} {float(steps.max()):.4g} s where readings are usually {usual:.4g} s "
                "apart"
            )
