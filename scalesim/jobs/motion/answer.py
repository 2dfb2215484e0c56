"""What `motion` answers with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from scalesim.jobs.motion import figures, tables, words
from scalesim.jobs.motion.found import Found
from scalesim.jobs.motion.rates import pattern_of
from scalesim.jobs.predict.clips import clip_keys, clip_part
from scalesim.plot import Plot
from scalesim.result import ClipTold, File, Part, Result, Table, cautions


@dataclass(frozen=True, eq=False)
class MotionFound(Found, Result):
    """What was found, and how it is told; a `Result`. `clips` is the marked one, once it is written."""

    clips: tuple[ClipTold, ...] = ()

    kind = "motion"

    @property
    def title(self) -> str:
        """What there is of each kind."""
        return words.title(self)

    @property
    def undecided(self) -> bool:
        """True when the chart is not in the capture, or none of its pictures can be read."""
        return not self.told

    def sentences(self) -> list[str]:
        """Return what was found."""
        return [*words.sentences(self), *cautions(self.clips)]

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
        if self.by_kind:
            shown.append(Part("What moves", items=(tables.kinds_table(self),), anchor="kinds"))
        if self.events:
            shown.append(
                Part("Event by event", tables.said_of(self), tables.event_tables(self), anchor="events")
            )
        if self.clips:
            shown.append(clip_part(self.clips, {}))
        shown.append(Part("What cannot be told", tables.limits_of(self), anchor="limits", quiet_text=True))
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
        counts = self.counts
        why: dict[str, str] = {}
        keys: dict[str, Any] = {
            "capture": self.capture,
            "source": self.source or None,
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
            **tables.clock_keys(self.clocks, self.passing, self.rate),
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
        keys["by_kind"] = self.by_kind
        if not self.told:
            told = dict.fromkeys(told)
            why |= dict.fromkeys(told, words.why_not(self))
        else:
            why |= tables.clock_reasons(self.clocks, self.passing)
        if not self.source:
            why["source"] = "the counter chart was played"
        clips = clip_keys(self.clips, {})
        return {**keys, **told, **clips, "notes": list(self.notes), **({"why": why} if why else {})}
