"""How often, and whether in a pattern: rates with their intervals, and the distances between events."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from statistics import median

import numpy as np

from scalesim.jobs.motion.events import Event
from scalesim.jobs.motion.timeline import UNREAD, Timeline, is_jump
from scalesim.signal.counts import poisson_limits

FEW = 4
"""Events from which on a distance between them is called a pattern."""
_EVEN = 0.1
"""How far the middle half of the distances may lie from their median, of it, to be called even."""


@dataclass(frozen=True)
class Rate:
    """`count` events in `seconds`; per second, and its 95 % interval."""

    count: int
    seconds: float

    @property
    def per_second(self) -> float:
        """Events per second."""
        return self.count / self.seconds if self.seconds else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """Return the least and the most rate that the count is likely with, 95 %."""
        low, high = poisson_limits(self.count)
        return (low / self.seconds, high / self.seconds) if self.seconds else (0.0, 0.0)


@dataclass(frozen=True)
class Pattern:
    """Distances between the events of a kind.

    Parameters:
        every : their mean, in pictures, if all are alike, which `even` tells; else their median
        low, high : the least and the greatest; count : of events; rate : pictures a second
    """

    kind: str
    count: int
    every: float
    low: int
    high: int
    even: bool
    rate: float


def pattern_of(kind: str, events: list[Event], rate: float) -> Pattern | None:
    """Return how the events of a kind follow each other; None when there are fewer than two."""
    at = sorted({event.picture for event in events if event.kind == kind})
    if len(at) < 2:
        return None
    apart = np.diff(at)
    middle = float(median(apart.tolist()))
    quarter, three = np.percentile(apart, (25, 75))
    slack = max(1.0, _EVEN * middle)
    even = (
        len(at) >= FEW
        and max(middle - quarter, three - middle) <= slack
        and apart.max() <= 1.5 * middle + 1
        and apart.min() >= middle / 1.5 - 1
    )
    every = float(apart.mean()) if even else middle
    return Pattern(kind, len(at), every, int(apart.min()), int(apart.max()), bool(even), rate)


@dataclass(frozen=True)
class Roll:
    """How a tear moves: `lines` from one torn picture to the next, down is positive, over `pairs` of them."""

    lines: float
    spread: float
    pairs: int


def roll_of(events: list[Event], height: int) -> Roll | None:
    """Return how tears move from picture to picture, where at least `FEW` neighbours are torn."""
    at = {event.picture: event.line for event in events if event.kind == "torn" and event.line is not None}
    moves = [at[k + 1] - line for k, line in at.items() if k + 1 in at]
    if len(moves) < FEW or not height:
        return None
    wrapped = (np.array(moves) + height / 2) % height - height / 2
    quarter, middle, three = np.percentile(wrapped, (25, 50, 75))
    spread = float(three - quarter)
    # The mean, since places are whole lines where a box keeps lines: a slow tear moves by one now and then.
    near = wrapped[np.abs(wrapped - middle) <= 3 * spread + 2]
    return Roll(float(near.mean()), spread, len(moves))


def source_rate(timeline: Timeline) -> tuple[float, int] | None:
    """Return the source pictures that pass a second of the capture's clock, and over how many it shows.

    The longest run without a jump: (last number - first number) / (time between them). It is known to about
    one source picture over the run. None for fewer than 60 pictures.
    """
    best: tuple[int, int] | None = None
    begun: int | None = None
    before: int | None = None
    for picture in timeline.read():
        if before is None or is_jump(timeline.first[picture] - timeline.first[before]):
            begun = picture
        before = picture
        if begun is not None and (best is None or picture - begun > best[1] - best[0]):
            best = (begun, picture)
    if best is None or best[1] - best[0] < 60:
        return None
    seconds = timeline.seconds[best[1]] - timeline.seconds[best[0]]
    if seconds <= 0:
        return None
    return (timeline.first[best[1]] - timeline.first[best[0]]) / seconds, best[1] - best[0]


def steps_of(timeline: Timeline) -> dict[int, int]:
    """Return step -> how many neighbouring pictures, both read, are so many source pictures apart."""
    first = np.array(timeline.first, np.int64)
    read = (first[1:] != UNREAD) & (first[:-1] != UNREAD)
    steps, counts = np.unique((first[1:] - first[:-1])[read], return_counts=True)
    return {int(step): int(count) for step, count in zip(steps, counts, strict=True) if not is_jump(step)}


@dataclass(frozen=True)
class Standstill:
    """Captured pictures from `first` on that show one source picture, `count` of them."""

    first: int
    count: int


LONG = 10
"""Captured pictures of one source picture that are called a standstill."""


def standstill_of(timeline: Timeline) -> Standstill | None:
    """Return the longest time that one source picture is shown, None where it is no standstill."""
    longest = max(_stays(timeline), key=lambda each: each.count, default=None)
    return longest if longest is not None and longest.count >= LONG else None


LONGEST_TURN = 6
_IN_TURN, _TURNS = 0.95, 3


def cadence_of(timeline: Timeline) -> tuple[tuple[int, ...], int] | None:
    """Return for how many captured pictures source pictures stay, in turn, and over how many of them.

    The shortest turn of at most `LONGEST_TURN`, whose first is the least; None for one picture each, and
    where they stay in no such turn.
    """
    stays = [each.count for each in _stays(timeline)][1:-1]  # the first and the last may be cut
    for turn in range(1, LONGEST_TURN + 1):
        if len(stays) < max(_TURNS * turn, 2 * LONGEST_TURN):
            return None
        alike = np.mean([one == other for one, other in zip(stays, stays[turn:], strict=False)])
        if alike >= _IN_TURN:
            middle = len(stays) // 2
            own = stays[middle : middle + turn]
            first = min(own[k:] + own[:k] for k in range(turn))
            return (tuple(first), len(stays)) if first != [1] else None
    return None


def _stays(timeline: Timeline) -> list[Standstill]:
    """Return every source picture's stay: captured pictures in a row that show it alone, in order."""
    found: list[Standstill] = []
    whole = [k for k in timeline.read() if k not in timeline.parts]
    begun = whole[0] if whole else 0
    for one, two in pairwise([*whole, -1]):
        if two != one + 1 or timeline.first[two] != timeline.first[one]:
            found.append(Standstill(begun, one - begun + 1))
            begun = two
    return found
