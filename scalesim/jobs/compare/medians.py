"""How medians are told: with their unit, on how many frames they rest, and how far a difference holds."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scalesim.jobs.compare.contest import Measure
from scalesim.jobs.compare.tables import listed
from scalesim.metrics.key import Key

AT_THIS_POSITION = "at this position"
"""Said of a difference that moving the frames by part of a scan line could turn."""


def number_of(key: Key, value: float) -> str:
    """Return a value without its unit, and as what it counts where that reads differently: "102, as 100"."""
    shown, counted = key.number(value)[0], key.number(key.merit(value))[0]
    return shown if shown == counted else f"{shown}, counted as {counted}"


def frames_word(count: int) -> str:
    """Return a number of frames in words: "1 frame", "7 frames"."""
    return f"{count} frame{'' if count == 1 else 's'}"


def labels(measures: Sequence[Measure]) -> tuple[dict[str, str], str]:
    """Return what says that values are medians: key -> words beside each, and words at the end of all.

    Where all rest on as many frames it is said at the end, "" for one frame, whose value is its own median.
    """
    counts = {measure.key.name: measure.frames for measure in measures}
    if len(set(counts.values())) > 1:
        return {name: f", median of {frames_word(count)}" for name, count in counts.items()}, ""
    count = next(iter(counts.values()), 1)
    return dict.fromkeys(counts, ""), f"; medians of {frames_word(count)}" if count > 1 else ""


def compared(measures: Sequence[Measure], own: int, other: int, beside: dict[str, str]) -> str:
    """Return measures in which one is better than another: "flicker (2.0 against 3.1 %, on 5 of 7 frames)".

    Parameters:  beside : the words of `labels`
    """
    return listed(_pair(measure, own, other, beside.get(measure.key.name, "")) for measure in measures)


def _pair(measure: Measure, own: int, other: int, label: str) -> str:
    key, values = measure.key, [measure.median(k) or 0.0 for k in (own, other)]
    one, two = (number_of(key, value) for value in values)
    unit = key.number(values[0])[1]
    won = max(measure.won(own, other), measure.won(other, own))
    on = f", on {won} of {measure.frames} frames" if won < measure.frames else ""
    merits = [key.merit(value) for value in values]
    here = f", {AT_THIS_POSITION}" if abs(merits[0] - merits[1]) < key.position_moves(measure.frames) else ""
    return f"{key.short} ({one} against {two}{f' {unit}' if unit else ''}{label}{on}{here})"


def names_of(measures: Iterable[Measure]) -> str:
    """Return what measures are called inside a sentence."""
    return listed(measure.key.short for measure in measures)
