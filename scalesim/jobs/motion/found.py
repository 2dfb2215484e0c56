"""What a capture shows of the source's pictures, as data: counts, rates, how a tear moves."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from scalesim.jobs.motion.clock import Clocks, clocks_of
from scalesim.jobs.motion.events import KINDS, Event, events_of
from scalesim.jobs.motion.rates import Rate, Roll, roll_of, source_rate
from scalesim.jobs.motion.timeline import UNREAD, Timeline
from scalesim.signal.played.kinds import KINDS as KINDS_OF_MOTION


@dataclass(frozen=True, eq=False)
class Found:
    """What a capture shows of the source's pictures.

    Parameters:
        capture : its name
        timeline : what every picture shows
        rate : captured pictures a second, fields counted singly
        scan : "progressive", or the earlier field of interlaced captures
        marked : whether the capture says that it has fields
        swapped : whether the fields count in the other order than the capture is marked with
        source : name of the clip that was played, "" for the counter chart
        kinds : of each source picture, the kind of motion that leads to it, a number in `played.kinds.KINDS`
        found : whether the chart, or the source, was found; turned : by how many degrees the picture must be
            turned to find
            it
    """

    capture: str
    timeline: Timeline
    rate: float
    scan: str
    marked: bool
    found: bool
    turned: int = 0
    swapped: bool = False
    source: str = ""
    kinds: bytes = b""
    notes: tuple[str, ...] = field(default=())

    @cached_property
    def told(self) -> bool:
        """Whether anything can be told: it was found, and a picture of it could be read."""
        return self.found and next(self.timeline.read(), None) is not None

    @cached_property
    def events(self) -> list[Event]:
        """All events in the order of time."""
        return events_of(self.timeline) if self.found else []

    @cached_property
    def counts(self) -> dict[str, int]:
        """Kind -> how many: pictures torn (not tears), source pictures dropped, pictures unread."""
        counts = dict.fromkeys(KINDS, 0)
        for event in self.events:
            counts[event.kind] += event.count
        counts["torn"] = len({event.picture for event in self.events if event.kind == "torn"})
        return counts

    @property
    def seconds(self) -> float:
        """Time of the pictures that could be read."""
        return (len(self.timeline) - self.counts["unread"]) / self.rate if self.rate else 0.0

    @cached_property
    def roll(self) -> Roll | None:
        """How the tear moves from picture to picture."""
        return roll_of(self.events, self.timeline.lines)

    @cached_property
    def passing(self) -> tuple[float, int] | None:
        """Source pictures a second by the capture's clock, and over how many pictures."""
        return source_rate(self.timeline)

    @cached_property
    def clocks(self) -> Clocks | str:
        """How far the source's clock is from the capture's, by where tears lie, or why they do not tell."""
        return clocks_of(self.events, self.timeline.lines, self.rate)

    @cached_property
    def field_pairs(self) -> tuple[int, int]:
        """In how many frames both fields show one source picture, of how many."""
        line, same, pairs = self.timeline, 0, 0
        for k in range(1, len(line)):
            if line.frames[k] == line.frames[k - 1] and UNREAD not in (line.first[k], line.first[k - 1]):
                pairs += 1
                same += line.first[k] == line.first[k - 1]
        return same, pairs

    @cached_property
    def by_kind(self) -> dict[str, dict[str, int]]:
        """Kind of motion of the source -> pictures, torn and repeated ones, drops; {} for the chart."""
        counts: dict[str, dict[str, int]] = {}
        if not self.kinds:
            return counts
        for picture in self.timeline.read():
            self._counted(counts, self.timeline.last[picture], "pictures")
        torn = {event.picture: event.other for event in self.events if event.kind == "torn"}
        for number in torn.values():
            self._counted(counts, number or 0, "torn")
        for event in self.events:
            if event.kind in ("repeated", "dropped"):
                self._counted(counts, event.source or 0, event.kind, event.count)
        return {kind: counts[kind] for kind in KINDS_OF_MOTION if kind in counts}

    def _counted(self, counts: dict[str, dict[str, int]], number: int, what: str, many: int = 1) -> None:
        kind = KINDS_OF_MOTION[self.kinds[min(max(number, 0), len(self.kinds) - 1)]]
        own = counts.setdefault(kind, dict.fromkeys(("pictures", "torn", "repeated", "dropped"), 0))
        own[what] += many

    def rates(self) -> dict[str, Rate]:
        """Return kind -> rate, of what a box does."""
        kinds = ("torn", "repeated", "dropped", "out of order", "mixed")
        return {kind: Rate(self.counts[kind], self.seconds) for kind in kinds}
