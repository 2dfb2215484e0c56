"""Trace: levels, lines and fields of a sync or video signal from an oscilloscope's records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite, isnan

from scalesim.core.sync import SyncStandard, sync_standard
from scalesim.core.trace import Trace
from scalesim.errors import NotMeasurable, ParameterError
from scalesim.jobs.trace.answer import Record, Traced
from scalesim.jobs.trace.excerpts import line_excerpts, vertical_excerpts
from scalesim.jobs.trace.landed import landings_on
from scalesim.jobs.trace.levels import ChannelLevels, channel_levels, doubts, trim_of
from scalesim.jobs.trace.planned import Planned
from scalesim.jobs.trace.roles import WITH_SYNC, Assigned, assigned
from scalesim.signal.waveform.timing import Timing
from scalesim.signal.waveform.together import verdict_together
from scalesim.signal.waveform.verdict import Verdict
from scalesim.tube.display import Display

MOST_RECORDS = 64


def trace(
    files: Sequence[Trace] = (),
    display: Sequence[Display] = (),
    *,
    columns: str | None = None,
    load: str = "75",
    probe: str = "1",
    rate: float | None = None,
    plan: bool = False,
    points: int | None = None,
) -> Traced | Planned:
    """Return what the records of one signal tell.

    Parameters:
        files : records; several short ones are taken together
        display : displays, whose vertical circuits tell where they land the fields
        columns : what columns hold, such as "csync=2,red=3"; None guesses
        load : "75" measured on a terminated line, "open" on none, which halves the levels
        probe : "10" where a 10:1 probe was not told to the oscilloscope
        rate : millions of samples a second of a file without time
        plan : tell how to record instead; points : that the oscilloscope exports
    Raises: ParameterError for columns that are not there, or a record whose rate is not known
    """
    if plan:
        return Planned(points)
    if not files:
        raise ParameterError("trace: no file was given; name the CSV of an oscilloscope, or ask for --plan")
    if len(files) > MOST_RECORDS:
        raise ParameterError(f"trace: {len(files)} files; give at most {MOST_RECORDS} records of one signal")
    factor = (10.0 if probe == "10" else 1.0) * (0.5 if load == "open" else 1.0)
    read = [_read(each, columns, rate, factor) for each in files]
    notes = tuple(note for each in read for note in (*each.trace.notes, *each.notes))
    records = tuple(each.record for each in read)
    held = [each for each in read if each.found is not None]
    name = files[0].name if len(files) == 1 else f"{len(files)} records"
    if not held:
        landed = landings_on(display or (), None)
        return Traced(name, Verdict("unknown", read[0].record.why, ""), records, notes=notes, landed=landed)
    verdict = verdict_together([each.timing for each in held])
    main = max(
        held, key=lambda each: (len(each.timing.fields), len(each.timing.verticals), each.timing.length_us)
    )
    finest = min(held, key=lambda each: (each.timing.interval_us, -each.timing.length_us))
    standard = _standard(main.timing, verdict)
    levels = _levels(finest.found, standard)
    lines_from = finest.found
    assert main.found is not None and lines_from is not None
    return Traced(
        name,
        verdict,
        records,
        timing=main.timing,
        timings=tuple(each.timing for each in held),
        standard=standard,
        levels=levels,
        levels_from=finest.trace.name if len(held) > 1 else "",
        trim=trim_of(levels),
        doubts=tuple(doubts(levels, load=load, probe=probe)),
        verticals=vertical_excerpts([each.found for each in held if each.found is not None]),
        line=line_excerpts(lines_from, levels),
        load=load,
        probe=probe,
        notes=notes,
        landed=landings_on(display or (), main.timing),
    )


@dataclass(frozen=True, eq=False)
class _Read:
    trace: Trace
    record: Record
    found: Assigned | None
    notes: tuple[str, ...]

    @property
    def timing(self) -> Timing:
        assert self.found is not None
        return self.found.timing


def _read(trace: Trace, columns: str | None, rate: float | None, factor: float) -> _Read:
    interval = trace.interval_s
    notes: tuple[str, ...] = ()
    if rate is not None:
        if isfinite(interval) and abs(interval * rate * 1e6 - 1) > 0.01:
            notes = (f"{trace.name}: --rate {rate:g} MS/s is used, the file says {1e-6 / interval:.4g}",)
        interval = 1e-6 / rate
    if isnan(interval):
        raise ParameterError(
            f"trace: {trace.name} has no time column and no sample interval; say --rate in MS/s (10 for ten "
            "million samples a second), or export the time column"
        )
    trace = replace(trace, interval_s=interval)
    record = Record(trace.name, trace.samples, 1e-6 / interval, trace.seconds * 1000)
    try:
        found = assigned(trace, interval * 1e6, columns, factor)
    except NotMeasurable as error:
        return _Read(trace, replace(record, why=str(error)), None, notes)
    timing = found.timing
    seen = replace(
        record, fields=len(timing.fields), verticals=len(timing.verticals), lines=timing.grid.lines
    )
    return _Read(trace, seen, found, (*notes, *found.notes))


def _standard(timing: Timing, verdict: Verdict) -> SyncStandard | None:
    rate = timing.field_rate_hz
    if rate is None:  # a short record: 525 lines have six broad pulses, 625 five, and their lines differ
        rate = 60.0 if timing.line_rate_hz > 15_680 else 50.0
    return sync_standard(timing.line_rate_hz, rate)


def _levels(found: Assigned | None, standard: SyncStandard | None) -> tuple[ChannelLevels, ...]:
    if found is None:
        return ()
    made = []
    for channel in found.channels:
        if channel.role == "vsync":
            continue
        has_sync = channel is found.sync or channel.role in WITH_SYNC
        levels = channel_levels(channel, found, standard, has_sync=has_sync)
        if levels is not None:
            made.append(levels)
    return tuple(made)
