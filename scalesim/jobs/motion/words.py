"""What a capture's motion comes to, in sentences."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise

from scalesim.jobs.motion.clock import Clocks
from scalesim.jobs.motion.clock_words import clock_words, roll_words
from scalesim.jobs.motion.events import Event
from scalesim.jobs.motion.found import Found
from scalesim.jobs.motion.rates import (
    Pattern,
    Standstill,
    cadence_of,
    pattern_of,
    standstill_of,
    steps_of,
)

NOT_FOUND = (
    "the counter chart is not in the capture: play `scalesim chart counter` through the box and capture "
    "that, or give the clip that was played with --source"
)
NOT_ALIKE = (
    "no stretch of the source clip looks like the capture: give the clip that was played, and with --chain "
    "the boxes that moved or resized its picture"
)
NOT_READ = (
    "the counter chart is in the capture, but the number of none of its pictures can be read: turn off what "
    "averages pictures over time (three or more of them are no mixture that can be told), and sharpen what "
    "blurs along the line"
)
_ONE = {
    "torn": "torn picture",
    "repeated": "repeat",
    "dropped": "drop",
    "out of order": "picture out of order",
    "mixed": "mixed picture",
}
_MOST_MIXED = 0.8


def sentences(found: Found) -> Iterator[str]:
    """Yield what was found, the most important first."""
    if not found.told:
        yield from _not_found(found)
        return
    yield _head(found)
    cadence, still = cadence_of(found.timeline), standstill_of(found.timeline)
    for kind in ("torn", "repeated", "dropped", "out of order"):
        pattern = pattern_of(kind, found.events, found.rate)
        # of repeats that follow each other a cadence or a standstill tells more than their distances do
        told = (cadence and pattern and pattern.every < 2) or (
            still and still.count > 0.8 * found.counts[kind]
        )
        if kind == "repeated" and told:
            continue
        if pattern is not None:
            yield _pattern(pattern, _unit(found))
    if cadence is not None:
        yield _stays(*cadence, _unit(found))
    if still is not None:
        yield _stands(still, found)
    if found.roll is not None:
        yield roll_words(found.roll, _unit(found), found.timeline.lines)
    yield from _by_kind(found)
    yield from _mixtures(found)
    yield from _fields(found)
    yield from _cadence(found)
    yield from _left_over(found)


def title(found: Found) -> str:
    """Return the finding in a few words: how much of each kind, in how many pictures that could be read."""
    if not found.told:
        return "What moves cannot be told from this capture"
    counts, unit = found.counts, _unit(found)
    among = count_of(len(found.timeline) - counts["unread"], unit)
    told = ("torn", "repeated", "out of order", "mixed")
    said = [f"{counts[kind]} {kind}" for kind in told if counts[kind]]
    if counts["fields mixed"]:
        said.append(f"{counts['fields mixed']} with their fields mixed")
    if counts["dropped"]:
        said.append(f"{count_of(counts['dropped'], 'source picture')} never shown")
    return f"{among}: {', '.join(said) or 'nothing torn, repeated or dropped'}"


def count_of(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def _unit(found: Found) -> str:
    return "field" if found.timeline.by_field else "frame"


def why_not(found: Found) -> str:
    """Return why nothing could be told."""
    if found.source:
        return NOT_ALIKE
    return NOT_READ if found.found else NOT_FOUND


def _not_found(found: Found) -> Iterator[str]:
    yield f"Cannot tell: {why_not(found)}."
    if found.turned:
        yield (
            f"The chart is there when the picture is turned by {found.turned} degrees"
            f"{' (or mirrored, left to right)' if found.turned == 180 else ''}: turn the capture back and "
            "give it again."
        )


def _head(found: Found) -> str:
    """Say how many pictures were torn, repeated and dropped, of how many."""
    counts, unit = found.counts, _unit(found)
    read = len(found.timeline) - counts["unread"]
    told = {"torn": "torn", "repeated": "repeating the one before", "out of order": "out of order"}
    said = [f"{counts[kind]} {state}" for kind, state in told.items() if counts[kind]]
    dropped = count_of(counts["dropped"], "source picture")
    verb = "is" if counts["dropped"] == 1 else "are"
    tail = f"{dropped} {verb} never shown" if counts["dropped"] else "every source picture is shown"
    if not said:
        return f"Of {count_of(read, unit)} that could be read none is torn, repeated or out of order; {tail}."
    return f"Of {count_of(read, unit)} that could be read: {', '.join(said)}; {tail}."


def _pattern(pattern: Pattern, unit: str) -> str:
    """Say whether events come in a pattern."""
    what = _ONE[pattern.kind]
    if pattern.even and pattern.high == 1:
        return f"There is a {what} {unit} after {unit} (n {pattern.count})."
    if pattern.even:
        return (
            f"One {what} every {_long(pattern.every, pattern.rate, unit)} (n {pattern.count}, {pattern.low} "
            f"to {pattern.high} {unit}s apart)."
        )
    many = what.replace("picture ", "pictures ", 1) if "picture " in what else f"{what}s"
    if pattern.every == 1 and pattern.count > 2:
        return (
            f"{pattern.count} {many}, most of them {unit} after {unit}; at most {pattern.high} {unit}s apart."
        )
    if pattern.count == 2:
        return f"2 {many}, {count_of(pattern.low, unit)} apart."
    return f"{pattern.count} {many} at no even distance: {pattern.low} to {pattern.high} {unit}s apart."


def _long(pictures: float, rate: float, unit: str) -> str:
    """Return a distance in pictures, and in seconds where that is easier to grasp."""
    shown = f"{pictures:.1f}".removesuffix(".0")
    return f"{shown} {unit}s, {pictures / rate:.3g} s"


def _stays(stays: tuple[int, ...], count: int, unit: str) -> str:
    """Say for how many pictures each of the source's stays."""
    if len(stays) == 1:
        return f"Every source picture stays for {count_of(stays[0], unit)} (n {count})."
    told = f"{', '.join(map(str, stays[:-1]))} and {stays[-1]}"
    return f"Source pictures stay for {told} {unit}s in turn (n {count})."


def _stands(still: Standstill, found: Found) -> str:
    seconds = still.count / found.rate
    return (
        f"The picture stands still, longest for {still.count} {_unit(found)}s ({seconds:.3g} s) from "
        f"{_unit(found)} {still.first} on."
    )


def _by_kind(found: Found) -> Iterator[str]:
    """Say in what kind of motion pictures are torn."""
    kinds = {kind: own for kind, own in found.by_kind.items() if kind != "still"}
    if found.counts["torn"] and len(kinds) > 1:
        told = [f"{kind} {own['torn']} of {own['pictures']}" for kind, own in kinds.items()]
        yield f"Torn frames by what the source does: {', '.join(told)}."
    still = found.by_kind.get("still", {}).get("pictures", 0)
    if still:
        yield (
            f"In {count_of(still, 'frame')} the source hardly changes: most tears, repeats and drops cannot "
            "be seen there, and what is missing is told where it moves again."
        )


def _mixtures(found: Found) -> Iterator[str]:
    mixed = [event for event in found.events if event.kind == "mixed" and event.weight is not None]
    if not mixed:
        return
    weights = sorted(min(event.weight or 0, 1 - (event.weight or 0)) for event in mixed)
    middle = weights[len(weights) // 2]
    share = len(mixed) / max(1, len(found.timeline) - found.counts["unread"])
    show = "shows" if len(mixed) == 1 else "show"
    lesser = f"{weights[0]:.2f}" if weights[0] == weights[-1] else f"{weights[0]:.2f} to {weights[-1]:.2f}"
    yield (
        f"{count_of(len(mixed), _unit(found))} {show} a mixture of two source pictures ({100 * share:.1f} "
        f"%); the lesser has a weight of {lesser}."
    )
    steps = Counter(
        (b.source or 0) - (a.source or 0) for a, b in pairwise(mixed) if b.picture == a.picture + 1
    )
    usual = steps.most_common(1)[0][0] if steps else 0
    if share > _MOST_MIXED and usual == 2 and middle > 0.4 and _unit(found) == "frame":
        woven = (
            "two woven fields, two" if found.source else "two"
        )  # lines are not told apart by a source clip
        yield (
            f"Each is an even mixture of two source pictures and the next of the next two: {woven} fields "
            "joined by a filter after weaving, or by a deinterlacer that blends; which cannot be told here."
        )


def _fields(found: Found) -> Iterator[str]:
    """Say what the fields of an interlaced capture show."""
    mixed = [event for event in found.events if event.kind == "fields mixed"]
    if mixed:
        least = min(min(event.weight or 0, 1 - (event.weight or 0)) for event in mixed)
        known = (
            "which field shows which cannot be told"
            if least > 0.4
            else f"each keeps its own with the greater weight, the other's is {least:.2f} or more"
        )
        yield (
            f"The fields are mixed by a filter after weaving: in {count_of(len(mixed), _unit(found))} the "
            f"lines of one field hold a part of the other's; {known}."
        )
    if found.scan == "progressive":
        return
    same, pairs = found.field_pairs
    if pairs:
        yield (
            f"The two fields of a frame show the same source picture in {same} of {pairs} frames, different "
            f"ones in {pairs - same}."
        )
    if found.swapped:
        yield (
            f"The capture is marked with the other field first, but by its count the {found.scan} field is "
            "the earlier: the mark is wrong, or the fields were swapped on the way. They are read by the "
            "count."
        )
    if not found.marked:
        yield "The capture is not marked as interlaced; its lines say that its frames are two woven fields."


def _cadence(found: Found) -> Iterator[str]:
    """Say how fast the source's pictures pass, and by which steps when not one by one."""
    unit = _unit(found)
    if isinstance(found.clocks, Clocks):
        yield from clock_words(found.clocks, unit)
    elif found.passing is not None:
        rate, pictures = found.passing
        yield (
            f"Source pictures pass at {rate:.3f} ± {found.rate / pictures:.3f} a second by the capture's "
            f"clock, whose {unit}s come at {found.rate:.3f} (over {count_of(pictures, unit)})."
        )
    if found.counts["torn"] and isinstance(found.clocks, str):
        yield (
            f"Closer than by counting the tears do not tell the rates apart: {found.clocks}. A capture of "
            "ten seconds or more in which the whole picture moves would tell, if both clocks are steady."
        )
    steps = steps_of(found.timeline)
    total = sum(steps.values())
    usual = max(steps, key=lambda step: steps[step], default=1)
    if total and (usual != 1 or steps[usual] < 0.9 * total):
        told = ", ".join(f"{step:+d} in {_share(steps[step], total)}" for step in sorted(steps)[:6])
        yield f"Steps from {unit} to {unit}, in source pictures: {told} (n {total})."


def _share(part: int, whole: int) -> str:
    """Return a share in percent: never 0 or 100 for what is not none or all."""
    percent = 100 * part / whole
    if 0 < percent < 0.5:
        return "under 1 %"
    return f"{'over 99' if 99.5 <= percent < 100 else f'{percent:.0f}'} %"


def _left_over(found: Found) -> Iterator[str]:
    counts = found.counts
    if counts["jump"]:
        yield (
            f"The count jumps {count_of(counts['jump'], 'time')}, by more than 120 pictures ahead or 8 "
            "back: the player looped or was moved. What a jump passes over is not counted as dropped."
        )
    if counts["unread"]:
        verb = "was" if counts["unread"] == 1 else "were"
        yield (
            f"{count_of(counts['unread'], _unit(found))} could not be read and {verb} left out; what is "
            "missing there is not counted as dropped."
        )


def first_of(events: list[Event], kind: str) -> Event | None:
    """Return the first event of a kind."""
    return next((event for event in events if event.kind == kind), None)
