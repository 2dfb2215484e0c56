"""The strip over time: where each torn picture is torn, and when pictures are repeated, dropped or mixed."""

from __future__ import annotations

import numpy as np

from scalesim.jobs.motion.events import Event
from scalesim.jobs.motion.found import Found
from scalesim.jobs.motion.timeline import AHEAD, BACK, UNREAD
from scalesim.plot import Axis, Panel, Plot, Series

MOST = 1500
"""Marks of a kind: more would lie on each other, and make a page heavy."""
_ROWS = ("repeated", "dropped", "out of order", "mixed", "fields mixed", "unread", "jump")


def plots(found: Found) -> tuple[Plot, ...]:
    """Return the strip."""
    end = max(found.timeline.seconds[-1], 1 / found.rate)
    panels, seen = [], []
    if found.counts["torn"]:
        panels.append(_tears(found, end))
        seen.append("Each dot is a tear: the line at which one source picture ends and the next begins.")
    panels.append(_rows(found, end))
    seen.append("Each stroke below is an event of the kind beside it; rows without strokes had none.")
    lag = _lag(found, end)
    if lag is not None:
        panels.append(lag)
        seen.append(
            "The lowest panel shows by how many source pictures the capture is ahead of its own mean pace: "
            "steps up are drops, steps down repeats."
        )
    return (
        Plot(
            "strip",
            "Events over time",
            " ".join(seen),
            tuple(panels),
            size=(1180, 200 * len(panels) + 90),
            wide=True,
        ),
    )


def _time(end: float, *, label: bool = True) -> Axis:
    return Axis("time, s" if label else "", 0.0, end, grid=True)


def _tears(found: Found, end: float) -> Panel:
    torn = _thinned([event for event in found.events if event.kind == "torn" and event.line is not None])
    dots = Series(
        tuple(event.seconds for event in torn),
        tuple(float(event.line or 0) for event in torn),
        role=0,
        size=4.0,
    )
    what = "field line" if found.scan != "progressive" else "line"
    return Panel(
        _time(end), Axis(f"{what} of the tear", 0, found.timeline.lines, grid=True, downward=True), (dots,)
    )


def _rows(found: Found, end: float) -> Panel:
    """Return a row of strokes for every kind of event; the first two always, others where there are some."""
    kinds = [kind for row, kind in enumerate(_ROWS) if row < 2 or found.counts[kind]]
    series = []
    for row, kind in enumerate(kinds):
        events = _thinned([event for event in found.events if event.kind == kind])
        if events:
            at = tuple(event.seconds for event in events)
            series.append(Series(at, (float(row),) * len(at), style="ticks", role=row, size=14.0))
    if not series:
        series.append(Series((None,), (None,)))
    ticks = tuple((float(row), f"{kind} ({found.counts[kind]})") for row, kind in enumerate(kinds))
    return Panel(_time(end), Axis("", -0.6, len(kinds) - 0.4, ticks=ticks, downward=True), tuple(series))


def _lag(found: Found, end: float) -> Panel | None:
    """Return how far the count is ahead of a steady pace, over the longest run without a jump."""
    first = np.array(found.timeline.first, np.int64)
    seconds = np.array(found.timeline.seconds)
    read = np.flatnonzero(first != UNREAD)
    if len(read) < 3:
        return None
    steps = np.diff(first[read])
    cuts = np.flatnonzero((steps > AHEAD) | (steps < -BACK)) + 1
    run = max(np.split(read, cuts), key=len)
    if len(run) < 3 or seconds[run[-1]] <= seconds[run[0]]:
        return None
    # Against pictures, not stamps: the rate of the pictures is even, stamps are rounded.
    pace = (first[run[-1]] - first[run[0]]) / (run[-1] - run[0])
    ahead = first[run] - first[run[0]] - pace * (run - run[0])
    if np.ptp(ahead) < 1e-6:
        return None
    keep = np.unique(np.linspace(0, len(run) - 1, min(len(run), MOST)).round().astype(int))
    line = Series(
        tuple(map(float, seconds[run][keep])), tuple(map(float, ahead[keep])), style="line", role=0, size=1.2
    )
    return Panel(_time(end), Axis("ahead, source pictures", grid=True), (line,))


def _thinned(events: list[Event]) -> list[Event]:
    """Return at most `MOST` of some events, evenly chosen."""
    if len(events) <= MOST:
        return events
    return [events[k] for k in np.linspace(0, len(events) - 1, MOST).round().astype(int)]
