"""Everything that was found in some records of one signal, as data."""

from __future__ import annotations

from dataclasses import dataclass

from scalesim.core.sync import SyncStandard
from scalesim.jobs.trace.excerpts import LineExcerpt, VerticalExcerpt
from scalesim.jobs.trace.landed import OnTrace
from scalesim.jobs.trace.levels import ChannelLevels, Trim
from scalesim.signal.waveform.timing import Timing
from scalesim.signal.waveform.verdict import Verdict


@dataclass(frozen=True)
class Record:
    """A record: its file, samples, rate and length; what it holds, or `why` it tells nothing."""

    name: str
    samples: int
    mhz: float
    ms: float
    lines: int = 0
    verticals: int = 0
    fields: int = 0
    why: str = ""


@dataclass(frozen=True, eq=False)
class Found:
    """What the records tell.

    Parameters:
        name : of the file; verdict, records : see there
        timing : of the record with most fields, None when none holds sync; timings : of all that do
        standard : the system, None for neither; levels : of every channel, from the record `levels_from`
        trim : that brings the highest level down, None when none is over
        doubts : likely mistakes of the measurement; verticals, line : parts to look at
        load, probe : as they were told; notes : how files were read
        landed : what each display given makes of the sync
    """

    name: str
    verdict: Verdict
    records: tuple[Record, ...]
    timing: Timing | None = None
    timings: tuple[Timing, ...] = ()
    standard: SyncStandard | None = None
    levels: tuple[ChannelLevels, ...] = ()
    levels_from: str = ""
    trim: Trim | None = None
    doubts: tuple[str, ...] = ()
    verticals: tuple[VerticalExcerpt, ...] = ()
    line: tuple[LineExcerpt, ...] = ()
    load: str = "75"
    probe: str = "1"
    notes: tuple[str, ...] = ()
    landed: tuple[OnTrace, ...] = ()

    @property
    def main(self) -> ChannelLevels | None:
        """The channel whose levels stand for the signal: the highest picture, else the sync."""
        pictures = [each for each in self.levels if each.peak_mv is not None]
        if pictures:
            return max(pictures, key=lambda each: each.peak_mv or 0.0)
        return self.levels[0] if self.levels else None

    @property
    def sync(self) -> ChannelLevels | None:
        """The channel whose sync was measured."""
        return next((each for each in self.levels if each.kind != "picture"), None)
