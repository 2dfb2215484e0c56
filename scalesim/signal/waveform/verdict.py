"""Interlaced, progressive, or neither; which mode of the trade that is, and how sure it is.

Each field's lines are looked at alone. A field whose lines end near a half makes the next one start half a
line off: interlaced. Whole lines, though they alternate between 262 and 263, are progressive.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import erf, sqrt
from typing import Literal

from scalesim.core.mode import MODES, Mode
from scalesim.signal.waveform.fields import Field
from scalesim.signal.waveform.pace import Pace, pace_of
from scalesim.signal.waveform.timing import Timing

Answer = Literal["interlaced", "progressive", "neither", "unknown"]

NEAR = 0.1
"""Of a line: an offset nearer to 0 or 1/2 than this is that; between them it is neither."""
LIMIT = 0.25
_BETWEEN_SAMPLES = 0.3
"""Of the interval: error of an edge that is steeper than it, anywhere between two samples (1 / root 12)."""
MOST_RAGGED = 2
"""A sync processor may add a pulse of its own before vertical sync; noise adds many."""
RATE_NEAR = 0.03
WOULD_TELL = (
    "one record of 50 ms or more (60 ms where fields are 50 a second) at 2 MS/s or more, which is 100 000 "
    "points or more; it then holds two whole fields"
)


@dataclass(frozen=True)
class Verdict:
    """What the sync is.

    Parameters:
        answer : see `Answer`; why : of "unknown" and "neither"; would_tell : what would settle it
        offset, error : of successive fields in lines, their mean where they agree, and where they start early
            and late in turn how far the two kinds lie apart; None without a field
        lines : of each whole field, as counted; pace : how they follow each other, None without
        mode : nearest mode of the trade, None for none
        line_ppm, field_ppm, lines_off : how far the record is from that mode
        confidence : 0..1, the chance that every field's offset lies on its side of the limit at 1/4 line, its
            error being normal; 0 for unknown
    """

    answer: Answer
    why: str = ""
    would_tell: str = ""
    offset: float | None = None
    error: float | None = None
    lines: tuple[float, ...] = ()
    mode: Mode | None = None
    line_ppm: float | None = None
    field_ppm: float | None = None
    lines_off: float | None = None
    confidence: float = 0.0
    pace: Pace | None = None


def verdict_of(timing: Timing) -> Verdict:
    """Return the verdict of one record."""
    fields = timing.fields
    if not fields:
        return Verdict("unknown", _without_fields(timing), WOULD_TELL)
    offsets = [field.offset for field in fields]
    errors = [max(field.error, _least_error(timing)) for field in fields]
    lines = tuple(field.lines for field in fields)
    worst = max(errors)
    if worst > LIMIT / 2.5:
        return Verdict("unknown", f"the edges scatter by {worst:.2f} of a line", WOULD_TELL, lines=lines)
    ragged = max(each.ragged for each in timing.verticals)
    odd = _odd_fields(fields)
    if ragged > MOST_RAGGED:
        odd = "noise tears vertical sync apart; use the bandwidth limit, or more of the screen"
    if odd:
        return Verdict("unknown", odd, WOULD_TELL, lines=lines)
    halves = [abs(offset - 0.5) < NEAR for offset in offsets]
    wholes = [abs(offset) < NEAR for offset in offsets]
    answer: Answer = "interlaced" if all(halves) else "progressive" if all(wholes) else "neither"
    confidence = min(_chance(offset, error) for offset, error in zip(offsets, errors, strict=True))
    pace = pace_of(offsets, max(worst, _BETWEEN_SAMPLES * timing.interval_us / timing.grid.period_us))
    mode = nearest_mode(timing, answer)
    why = "" if answer != "neither" else _neither(pace, timing.grid.period_us)
    return Verdict(
        answer,
        why,
        "",
        pace.least,
        pace.error,
        lines,
        mode,
        *_deviations(timing, mode),
        confidence,
        pace,
    )


def _least_error(timing: Timing) -> float:
    """Return the error of an offset that samples alone leave, in lines: edges lie anywhere between two."""
    return 0.1 * timing.interval_us / timing.grid.period_us


def _without_fields(timing: Timing) -> str:
    seen, ms = len(timing.verticals), timing.length_us / 1000
    if seen == 0:
        return f"the record of {ms:.3g} ms holds no vertical sync"
    return f"the record of {ms:.3g} ms holds one vertical sync, and a field lasts from one to the next"


def _odd_fields(fields: Sequence[Field]) -> str:
    """Return why the fields are no fields: two vertical syncs too near, or one missed."""
    shortest, longest = min(f.lines for f in fields), max(f.lines for f in fields)
    if shortest < 100:
        return f"two vertical syncs are {shortest:.1f} lines apart, too near for a field"
    if longest > 1.6 * shortest:
        return (
            f"fields of {shortest:.1f} and {longest:.1f} lines follow each other: a vertical sync is missing"
        )
    return ""


def _neither(pace: Pace, line_us: float) -> str:
    if pace.how == "uneven":
        return f"fields start between {pace.low:.3f} and {pace.high:.3f} line apart from each other"
    turns = ", in turn before and after" if pace.how == "in turn" else ""
    apart = f"{pace.least:.3f} line ({abs(pace.least) * line_us:.1f} µs)"
    return f"fields start {apart} apart{turns}, neither 0 nor 1/2"


def _chance(offset: float, error: float) -> float:
    """Return the chance that an offset lies on its side of the nearest limit."""
    distance = min(abs(offset - LIMIT), abs(offset - (1 - LIMIT)), abs(offset + LIMIT))
    return 0.5 * (1 + erf(distance / (sqrt(2) * max(error, 1e-6))))


def nearest_mode(timing: Timing, answer: Answer) -> Mode | None:
    """Return the mode whose scan, lines and line rate are nearest; None when none is near."""
    if answer not in ("interlaced", "progressive") or not timing.fields:
        return None
    counts = [field.lines for field in timing.fields]
    mean = sum(counts) / len(counts)
    if max(counts) - min(counts) > 0.5:  # fields of 262 and 263 lines in turn are no mode of the table
        return None
    found = [
        mode
        for mode in MODES.values()
        if mode.interlaced == (answer == "interlaced")
        and abs(float(mode.lines_per_picture) - mean) < 0.6
        and abs(float(mode.line_rate) / timing.line_rate_hz - 1) < RATE_NEAR
    ]
    return min(
        found,
        key=lambda m: (
            round(abs(float(m.lines_per_picture) - mean), 1),
            abs(float(m.line_rate) - timing.line_rate_hz),
        ),
        default=None,
    )


def _deviations(timing: Timing, mode: Mode | None) -> tuple[float | None, float | None, float | None]:
    if mode is None or timing.field_rate_hz is None:
        return None, None, None
    mean = sum(field.lines for field in timing.evened) / len(timing.evened)
    return (
        1e6 * (timing.line_rate_hz / float(mode.line_rate) - 1),
        1e6 * (timing.field_rate_hz / float(mode.rate) - 1),
        mean - float(mode.lines_per_picture),
    )
