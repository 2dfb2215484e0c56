"""What happened to the source's pictures on their way into a capture, from what each captured picture shows.

Definitions. A captured picture (a frame, or a field of an interlaced capture) is

- torn: it shows one source picture above a line and another below it;
- repeated: every line shows what it showed in the picture before;
- out of order: every line shows an earlier source picture than in the picture before;
- mixed: lines show a weighted mean of two source pictures; fields mixed: of the two fields of its own frame,
  which a vertical filter after weaving makes;
- unread: no number could be had from it.

A source picture is dropped when no line of the capture shows it, though earlier and later ones are shown. A
step of more than two seconds of pictures is a jump of the player, and what it passes over is not dropped.
What is missing where captured pictures were unread is not called dropped either: it may have been on them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from scalesim.jobs.motion.timeline import AHEAD, UNREAD, Timeline, is_jump
from scalesim.signal.counter.picture import Part

KINDS = ("torn", "repeated", "dropped", "out of order", "mixed", "fields mixed", "jump", "unread")
_SAME_LINE = 1.0
_SAME_WEIGHT = 0.05


@dataclass(frozen=True)
class Event:
    """An event at a captured picture.

    Parameters:
        kind : of `KINDS`; picture : which, from 0; frame, parity : of the capture, parity None for frames
        seconds : from the first frame
        source : number shown (above the tear, first dropped, before the jump)
        other : second number (below the tear, of the mixture, after the jump), None without
        line : of the tear; between : lines between which it may lie, None for that line; weight : of `other`
            in a mixture; count : source pictures dropped, pictures unread
    """

    kind: str
    picture: int
    frame: int
    parity: int | None
    seconds: float
    source: int | None = None
    other: int | None = None
    line: float | None = None
    between: tuple[float, float] | None = None
    weight: float | None = None
    count: int = 1


def events_of(timeline: Timeline) -> list[Event]:
    """Return all events in the order of time."""
    found = [*_own(timeline), *_between(timeline), *_dropped(timeline), *_unread(timeline)]
    return sorted(found, key=lambda each: (each.picture, KINDS.index(each.kind), each.line or 0))


def _event(timeline: Timeline, kind: str, picture: int, **facts: object) -> Event:
    parity = timeline.parities[picture]
    return Event(
        kind,
        picture,
        timeline.frames[picture],
        None if parity < 0 else parity,
        timeline.seconds[picture],
        **facts,  # type: ignore[arg-type]  # the fields by their names
    )


def _own(timeline: Timeline) -> Iterator[Event]:
    """Yield what can be told of pictures by themselves."""
    for picture, parts in timeline.parts.items():
        for upper, lower in pairwise(parts):
            yield _event(
                timeline,
                "torn",
                picture,
                source=upper.most,
                other=lower.most,
                line=lower.top,
                between=timeline.between.get(picture),
            )
        mixed = max((p for p in parts if p.second is not None), key=lambda p: p.bottom - p.top, default=None)
        if mixed is not None:
            kind = "fields mixed" if picture in timeline.woven else "mixed"
            yield _event(
                timeline, kind, picture, source=mixed.number, other=mixed.second, weight=mixed.weight
            )


def _between(timeline: Timeline) -> Iterator[Event]:
    """Yield what is told by a picture and the one before it."""
    before: int | None = None
    for picture in timeline.read():
        if before is not None:
            step = timeline.first[picture] - timeline.last[before]
            if is_jump(step):
                yield _event(
                    timeline, "jump", picture, source=timeline.last[before], other=timeline.first[picture]
                )
            elif picture == before + 1:
                if _same(timeline, before, picture):
                    yield _event(timeline, "repeated", picture, source=timeline.first[picture])
                elif _back(timeline, before, picture):
                    yield _event(timeline, "out of order", picture, source=timeline.first[picture])
        before = picture


def _same(timeline: Timeline, before: int, picture: int) -> bool:
    if before not in timeline.parts and picture not in timeline.parts:
        return timeline.first[before] == timeline.first[picture]
    one, other = timeline.of(before), timeline.of(picture)
    return len(one) == len(other) and all(_alike(*pair) for pair in zip(one, other, strict=True))


def _alike(one: Part, other: Part) -> bool:
    return (
        one.numbers == other.numbers
        and abs(one.top - other.top) <= _SAME_LINE
        and abs(one.weight - other.weight) <= _SAME_WEIGHT
    )


def _back(timeline: Timeline, before: int, picture: int) -> bool:
    """Tell whether a picture shows nothing but what is earlier than all of the picture before."""
    earliest = min(number for part in timeline.of(before) for number in part.numbers)
    return all(number < earliest for part in timeline.of(picture) for number in part.numbers)


def _dropped(timeline: Timeline) -> Iterator[Event]:
    """Yield the source pictures that are missing, at the picture that first shows a later one."""
    shown: set[int] = set()
    newest: int | None = None
    waiting: dict[int, tuple[int, bool]] = {}
    before: int | None = None
    for picture in timeline.read():
        numbers = [number for part in timeline.of(picture) for number in part.numbers]
        gap = before is not None and picture != before + 1
        before = picture
        if newest is not None and is_jump(min(numbers) - newest):
            yield from _runs(timeline, waiting)
            waiting, newest = {}, None
            shown = set()
        for number in numbers:
            waiting.pop(number, None)
        shown.update(numbers)
        if newest is not None and max(numbers) > newest + 1:
            missing = (n for n in range(newest + 1, max(numbers)) if n not in shown)
            waiting |= dict.fromkeys(missing, (picture, gap))
        newest = max(numbers) if newest is None else max(newest, *numbers)
        if waiting and max(waiting) < newest - AHEAD:  # what is so old will not come any more
            yield from _runs(timeline, waiting)
            waiting = {}
        if len(shown) > 4 * AHEAD:
            shown = {n for n in shown if n > newest - AHEAD}
    yield from _runs(timeline, waiting)


def _runs(timeline: Timeline, missing: dict[int, tuple[int, bool]]) -> Iterator[Event]:
    """Yield missing source pictures, those in a row as one; none where captured pictures were unread."""
    run: list[int] = []
    for number in sorted(n for n, (_, gap) in missing.items() if not gap):
        if run and (number != run[-1] + 1 or missing[number] != missing[run[-1]]):
            yield _event(timeline, "dropped", missing[run[0]][0], source=run[0], count=len(run))
            run = []
        run.append(number)
    if run:
        yield _event(timeline, "dropped", missing[run[0]][0], source=run[0], count=len(run))


def _unread(timeline: Timeline) -> Iterator[Event]:
    """Yield pictures of which nothing could be read, those in a row as one."""
    begun: int | None = None
    for picture, number in enumerate([*timeline.first, 0]):
        if number == UNREAD:
            begun = picture if begun is None else begun
        elif begun is not None:
            yield _event(timeline, "unread", begun, count=picture - begun)
            begun = None
