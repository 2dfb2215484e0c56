"""Tables and files of a capture's motion."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from io import StringIO
from typing import Any

from scalesim.jobs.motion.clock import Clocks
from scalesim.jobs.motion.events import Event
from scalesim.jobs.motion.found import Found
from scalesim.jobs.motion.rates import Pattern
from scalesim.result import Table

MOST_ROWS = 60
HOW_OFTEN = (
    "A rate is a count over the time of the pictures that could be read. Low and high hold the true rate "
    "with 95 % confidence if events come by chance (Poisson); what comes in a pattern is known better than "
    "that.",
)
LIMITS = (
    "A tear less than 2.5 lines from the picture's edge, or from another tear, is not told from a misread "
    "line.",
    "A mixture in which one source picture has less than 8 % is taken for the other alone; in a strongly "
    "compressed capture (H.264 at a constant rate factor of 28) mixtures below 20 % may be missed too. "
    "Weights are of code values, not of light.",
    "The count is told up to 4096, 68 s at 60 Hz: a freeze or a jump by whole multiples of that is not seen.",
    "What the capture device itself repeats, drops or mixes cannot be told from what the box does: capture "
    "the source directly, once, to know.",
)
LIMITS_OF_SOURCE = (
    "A tear is seen only where the two source pictures differ above and below it: at least 2 % of what "
    "changes must lie on each side. Where lines are alike in both, events.csv and result.json tell between "
    "which lines the tear may lie.",
    "Where little moves before a still background, a tear beside it looks like a repeat or a drop of a "
    "picture.",
    "A mixture in which one source picture has less than 20 % is taken for the other alone.",
    LIMITS[-1],
    "The counter chart tells all of this exactly, in still pictures too: scalesim chart counter.",
)
_KIND_COLUMNS = ("source", "frames", "torn", "torn, % of frames", "repeated", "dropped")
_TITLES = {
    "torn": "torn",
    "repeated": "repeated",
    "dropped": "dropped (source pictures)",
    "out of order": "out of order",
    "mixed": "mixed",
}
_COLUMNS = ("event", "frame", "field", "time_s", "source", "other", "line", "low", "high", "weight", "count")


def rates_table(found: Found) -> Table:
    """Return how often each kind of event happens."""
    rows = []
    for kind, rate in found.rates().items():
        low, high = rate.interval
        rows.append(
            (_TITLES[kind], str(rate.count), f"{rate.per_second:.3g}", f"{low:.3g}", f"{high:.3g}")
            if found.found
            else (_TITLES[kind], "?", "?", "?", "?")
        )
    unit = "field" if found.scan != "progressive" else "frame"
    title = f"Events in {found.seconds:.1f} s, {found.rate:.3f} {unit}s a second"
    return Table(
        title, ("event", "n", "a second", "low", "high"), tuple(rows), ("left", *["right"] * 4), head=0
    )


def kinds_table(found: Found) -> Table:
    """Return how often pictures are torn, repeated and dropped by what the source does."""
    rows = []
    for kind, own in found.by_kind.items():
        share = "hardly seen" if kind == "still" else f"{100 * own['torn'] / max(own['pictures'], 1):.1f}"
        told = (own["torn"], share, own["repeated"], own["dropped"])
        rows.append((kind, str(own["pictures"]), *map(str, told)))
    return Table("By what moves in the source", _KIND_COLUMNS, tuple(rows), ("left", *["right"] * 5), head=0)


def limits_of(found: Found) -> tuple[str, ...]:
    """Return what cannot be told."""
    return LIMITS_OF_SOURCE if found.source else LIMITS


def said_of(found: Found) -> tuple[str, ...]:
    """Return what to know of the list of events."""
    many = len(found.events) > MOST_ROWS
    first = f"The first {MOST_ROWS} of {len(found.events)} events. " if many else ""
    counted = (
        "Frames and source pictures are counted from 0; events.csv has all events, lines.csv what every line"
    )
    return (f"{first}{counted} shows.",)


def event_tables(found: Found) -> tuple[Table, ...]:
    """Return the first events as a table."""
    fields = found.scan != "progressive"
    columns = ("event", "frame", *(("field",) if fields else ()), "time, s", "what")
    rows = []
    for event in found.events[:MOST_ROWS]:
        parity = ("" if event.parity is None else ("top", "bottom")[event.parity],) if fields else ()
        rows.append((event.kind, str(event.frame), *parity, f"{event.seconds:.3f}", _told(event)))
    align = ("left", "right", *(("left",) if fields else ()), "right", "left")
    return (Table("Events", columns, tuple(rows), align),)


def _told(event: Event) -> str:
    """Return what happened, in words."""
    if event.kind == "torn":
        low, high = event.between or (event.line, event.line)
        unsure = f", between {low:.0f} and {high:.0f}" if low != high else ""
        return f"source {event.source} above line {event.line:.1f}{unsure}, {event.other} below"
    if event.kind in ("mixed", "fields mixed") and event.weight is not None:
        return f"{1 - event.weight:.2f} of source {event.source} and {event.weight:.2f} of {event.other}"
    if event.kind == "dropped":
        last = (event.source or 0) + event.count - 1
        many = f"source {event.source} to {last} are never shown"
        return many if event.count > 1 else f"source {event.source} is never shown"
    if event.kind == "jump":
        return f"from source {event.source} to {event.other}"
    if event.kind == "unread":
        return f"{event.count} could not be read"
    return f"source {event.source}"


def place(event: Event, *facts: str) -> dict[str, Any]:
    """Return where an event is, for the document: its frame, its field if it has one, and some facts."""
    found: dict[str, Any] = {"frame": event.frame}
    if event.parity is not None:
        found["parity"] = event.parity
    for fact in facts:
        value = getattr(event, fact)
        found[fact] = round(value, 3) if isinstance(value, float) else value
    if event.between is not None:
        found |= {"low": event.between[0], "high": event.between[1]}
    return found


def clock_keys(clocks: Clocks | str, counted: tuple[float, int] | None, rate: float) -> dict[str, Any]:
    """Return the source's rate for the document: by the tears where they tell it, else by counting.

    Errors are two standard errors of the tears, and a picture over the run of counting.
    """
    if not isinstance(clocks, Clocks):
        return {
            "source_rate_hz": None if counted is None else counted[0],
            "source_rate_error_hz": None if counted is None else rate / counted[1],
            "source_rate_by": None if counted is None else "count",
            "rate_apart": None,
        }
    return {
        "source_rate_hz": clocks.source_hz,
        "source_rate_error_hz": 2 * clocks.apart_error_hz,
        "source_rate_by": "tears",
        "rate_apart": {
            "hz": clocks.apart_hz,
            "error_hz": 2 * clocks.apart_error_hz,
            "ppm": clocks.ppm,
            "error_ppm": 2e6 * clocks.error,
            "drift_us_per_s": clocks.drift_us_per_s,
            "drift_error_us_per_s": 2 * clocks.drift_error_us_per_s,
            "n": clocks.tears,
            "seconds": clocks.seconds,
            "blanking": "measured" if clocks.measured else "taken as usual",
        },
    }


def clock_reasons(clocks: Clocks | str, counted: tuple[float, int] | None) -> dict[str, str]:
    """Return why the source's rate is not told."""
    if isinstance(clocks, Clocks):
        return {}
    short = "fewer than 60 pictures follow each other without a jump"
    keys = () if counted is not None else ("source_rate_hz", "source_rate_error_hz", "source_rate_by")
    return {**dict.fromkeys(keys, short), "rate_apart": clocks}


def patterns(found: Iterable[Pattern | None]) -> list[dict[str, Any]]:
    """Return patterns for the document."""
    return [
        {
            "kind": each.kind,
            "n": each.count,
            "every": each.every,
            "every_s": each.every / each.rate,
            "least": each.low,
            "most": each.high,
            "even": each.even,
        }
        for each in found
        if each is not None
    ]


def events_csv(found: Found) -> str:
    """Return every event, a row each."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for event in found.events:
        parity = "" if event.parity is None else ("top", "bottom")[event.parity]
        lines = (event.line, *(event.between or (event.line, event.line)))
        numbers = (event.source, event.other, *map(_rounded, lines), _rounded(event.weight), event.count)
        writer.writerow(
            [event.kind, event.frame, parity, f"{event.seconds:.6f}"]
            + ["" if value is None else value for value in numbers]
        )
    return text.getvalue()


def lines_csv(found: Found) -> str:
    """Return which source picture every line shows: a row for each run of lines of each picture."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(("frame", "field", "time_s", "from_line", "to_line", "source", "second", "second_weight"))
    line = found.timeline
    for picture in range(len(line)):
        parity = ("", "top", "bottom")[line.parities[picture] + 1]
        head = (line.frames[picture], parity, f"{line.seconds[picture]:.6f}")
        for part in line.of(picture):
            second = ("", "") if part.second is None else (part.second, _rounded(part.weight))
            writer.writerow((*head, _rounded(part.top), _rounded(part.bottom), part.number, *second))
    return text.getvalue()


def _rounded(value: float | None) -> str | None:
    return None if value is None else f"{value:.3f}".rstrip("0").rstrip(".")
