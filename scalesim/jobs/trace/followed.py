"""How fields follow each other, in words: their lines, and how far that is from whole lines or a half."""

from __future__ import annotations

from scalesim.signal.waveform.pace import SAME, places_of
from scalesim.signal.waveform.timing import Timing
from scalesim.signal.waveform.verdict import Verdict

_ERRORS = 3.0
"""Errors by which a step may be off whole lines or a half without being said to be."""
_PLACED = 0.01
"""Of a line, 0.6 us: vertical sync so near to where the standard has it is said to be nowhere else."""
_MOST_PLACES = 6


def counted(verdict: Verdict) -> str:
    """Return how many lines fields have: "262.5", "262 and 263"; to thousandths where they are no halves."""
    lines, pace = verdict.lines, verdict.pace
    if pace is None or pace.how == "even":
        over = 0.0 if pace is None else pace.step
        return " and ".join(_lines(whole + over) for whole in sorted({round(each - over) for each in lines}))
    if pace.how == "in turn":
        return " and ".join(_lines(sum(own) / len(own)) for own in (lines[::2], lines[1::2]))
    return f"{_lines(min(lines))} to {_lines(max(lines))}"


def followed(verdict: Verdict, timing: Timing | None) -> str:
    """Return how many lines the fields of a verdict have, and what that is over whole lines or a half."""
    pace, count = verdict.pace, len(verdict.lines)
    assert pace is not None and timing is not None
    each = f"each of {count} whole fields" if count > 1 else "the one whole field in the record"
    if verdict.answer == "neither":
        return f"{verdict.why} ({count} whole fields)"
    asked = 0.5 if verdict.answer == "interlaced" else 0.0
    lines = counted(verdict)
    if pace.how == "uneven":
        most = max(abs(pace.low - asked), abs(pace.high - asked))
        return f"{count} whole fields have {lines} lines, up to {_size(most, timing)} off {_rule(asked)}"
    off = pace.step - asked
    off -= round(off)
    error = max(pace.error, 0.001)
    if pace.how == "in turn":
        turns = "less and more" if off < 0 else "more and less"
        said = (
            f"{count} whole fields have {lines} lines in turn, {_size(abs(off), timing, error)} "
            f"{turns} than {_rule(asked)}"
        )
        return said if asked else f"{said}{_mean(timing)}"
    if abs(off) > max(_ERRORS * pace.error, SAME):
        way = "more" if off > 0 else "less"
        return f"{each} has {lines} lines, {_size(abs(off), timing, error)} {way} than {_rule(asked)}"
    step = f"({round(off + asked, 3) + 0.0:.3f} \u00b1 {error:.3f} line)"
    if asked:
        return f"{each} has {lines} lines, so the next starts half a line off {step}"
    whole = len({round(each) for each in verdict.lines}) == 1
    have = f"{each} has {lines} lines" if whole else f"{count} whole fields have {lines} lines in turn"
    same = f"every field starts where in its line the one before did {step}"
    return f"{have}, so {same}{'' if whole else _mean(timing)}"


def begins(verdict: Verdict, timing: Timing) -> list[str]:
    """Return where in a line vertical sync begins, as a sentence; none where that is the standard's place.

    The standard's: at the begin of a line, and in interlaced signals in its middle by turns.
    """
    if verdict.pace is None:
        return []
    places = places_of([each.phase for each in timing.verticals], verdict.pace)
    asked = (0.0, 0.5) if verdict.answer == "interlaced" else (0.0,)
    off = max(min(abs(abs(place) - each) for each in asked) for place in places)
    if off < _PLACED:
        return []
    told = [_place(place, timing) for place in places[:_MOST_PLACES]]
    more = f" and at {len(places) - _MOST_PLACES} more places" if len(places) > _MOST_PLACES else ""
    turns = ", in turn" if len(places) == 2 and verdict.pace.how != "uneven" else ""
    count = len(timing.verticals)
    return [f"Vertical sync begins {' and '.join(told)}{more}{turns} (n {count})."]


def _lines(value: float) -> str:
    half = round(2 * value) / 2
    return f"{half:g}" if abs(value - half) < SAME else f"{value:.3f}"


def _rule(asked: float) -> str:
    return "a half over whole lines" if asked else "whole lines"


def _size(off: float, timing: Timing, error: float | None = None) -> str:
    known = "" if error is None else f" \u00b1 {error:.3f}"
    return f"{off:.3f}{known} line ({off * timing.grid.period_us:.1f} \u00b5s)"


def _place(place: float, timing: Timing) -> str:
    if abs(place) < SAME:
        return "at the begin of a line"
    if abs(abs(place) - 0.5) < SAME:
        return "in the middle of a line"
    what, off = ("begin", place) if abs(place) < 0.26 else ("middle", place % 1.0 - 0.5)
    return f"{_size(abs(off), timing)} {'after' if off > 0 else 'before'} the {what} of a line"


def _mean(timing: Timing) -> str:
    """Return that the mean of long and short fields misleads, where it is near a half."""
    mean = sum(each.lines for each in timing.evened) / len(timing.evened)
    return f"; their mean of {mean:.1f} would look interlaced and is not" if _is_half(mean) else ""


def _is_half(mean: float) -> bool:
    return abs(mean % 1.0 - 0.5) < 0.05
