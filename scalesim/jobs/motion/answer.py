"""What `motion` answers with."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from scalesim.jobs.motion import figures, tables, words
from scalesim.jobs.motion.events import KINDS, Event, events_of
from scalesim.jobs.motion.rates import Rate, Roll, pattern_of, roll_of, source_rate
from scalesim.jobs.motion.timeline import UNREAD, Timeline
from scalesim.plot import Plot
from scalesim.result import File, Part, Result, Table


@dataclass(frozen=True, eq=False)
class MotionFound(Result):
    """What a capture shows of the source's pictures; a `Result`.

    Parameters:
        capture : its name
        timeline : what every picture shows
        rate : captured pictures a second, fields counted singly
        scan : "progressive", or the earlier field of interlaced captures
        marked : whether the capture says that it has fields
        found : whether the chart was found; turned : by how many degrees the picture must be turned to find
            it
    """

    capture: str
    timeline: Timeline
    rate: float
    scan: str
    marked: bool
    found: bool
    turned: int = 0
    notes: tuple[str, ...] = field(default=())

    kind = "motion"
    title = "Motion: torn, repeated and dropped pictures"

    @property
    def undecided(self) -> bool:
        """True when the chart is not in the capture."""
        return not self.found

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
    def field_pairs(self) -> tuple[int, int]:
        """In how many frames both fields show one source picture, of how many."""
        line, same, pairs = self.timeline, 0, 0
        for k in range(1, len(line)):
            if line.frames[k] == line.frames[k - 1] and UNREAD not in (line.first[k], line.first[k - 1]):
                pairs += 1
                same += line.first[k] == line.first[k - 1]
        return same, pairs

    def rates(self) -> dict[str, Rate]:
        """Return kind -> rate, of what a box does."""
        kinds = ("torn", "repeated", "dropped", "out of order", "mixed")
        return {kind: Rate(self.counts[kind], self.seconds) for kind in kinds}

    def sentences(self) -> list[str]:
        """Return what was found."""
        return list(words.sentences(self))

    def remarks(self) -> list[str]:
        """Return how the capture was read."""
        return list(self.notes)

    def table(self) -> Table:
        """Return how often."""
        return tables.rates_table(self)

    def figures(self) -> tuple[Plot, ...]:
        """Return the strip over time."""
        return figures.plots(self) if self.found else ()

    def parts(self) -> list[Part]:
        """Return what the page shows."""
        shown: list[Part] = []
        if self.found:
            shown.append(Part("Over time", items=self.figures(), anchor="time"))
        shown.append(Part("How often", tables.HOW_OFTEN, (self.table(),), anchor="rates"))
        if self.events:
            shown.append(
                Part("Event by event", tables.said_of(self), tables.event_tables(self), anchor="events")
            )
        shown.append(Part("What cannot be told", tables.LIMITS, anchor="limits", quiet_text=True))
        return shown

    def files(self) -> dict[str, File]:
        """Return every event, and what every line shows, as CSV."""
        if not self.found:
            return {}
        return {
            "events": File("events.csv", lambda _: tables.events_csv(self)),
            "lines": File("lines.csv", lambda _: tables.lines_csv(self)),
        }

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        counts, why = self.counts, {}
        keys: dict[str, Any] = {
            "capture": self.capture,
            "frames": self.timeline.frames[-1] + 1 if len(self.timeline) else 0,
            "pictures": len(self.timeline),
            "scan": "progressive" if self.scan == "progressive" else "interlaced",
            "picture_rate_hz": self.rate,
            "lines": self.timeline.lines,
        }
        told = {
            "repeated": counts["repeated"],
            "dropped": counts["dropped"],
            "torn": [tables.place(e, "line") for e in self.events if e.kind == "torn"],
            "tear_rate_hz": self.rates()["torn"].per_second,
            "out_of_order": counts["out of order"],
            "mixed": counts["mixed"],
            "fields_mixed": counts["fields mixed"],
            "unread": counts["unread"],
            "jumps": counts["jump"],
            "repeats": [tables.place(e, "source") for e in self.events if e.kind == "repeated"],
            "drops": [tables.place(e, "source", "count") for e in self.events if e.kind == "dropped"],
            "mixtures": [
                tables.place(e, "source", "other", "weight")
                for e in self.events
                if e.kind in ("mixed", "fields mixed")
            ],
            "source_rate_hz": None if self.passing is None else self.passing[0],
            "rates": {
                kind.replace(" ", "_"): dict(
                    zip(("per_s", "low", "high", "n"), (r.per_second, *r.interval, r.count), strict=True)
                )
                for kind, r in self.rates().items()
            },
            "patterns": tables.patterns(
                [pattern_of(kind, self.events, self.rate) for kind in ("torn", "repeated", "dropped")]
            ),
        }
        if not self.found:
            told = dict.fromkeys(told)
            why = dict.fromkeys(told, words.NOT_FOUND)
        elif self.passing is None:
            why["source_rate_hz"] = "fewer than 60 pictures follow each other without a jump"
        return {**keys, **told, "notes": list(self.notes), **({"why": why} if why else {})}
