"""Pace: how much further in its line each field begins than the one before, evenly or by turns."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, sqrt
from typing import Literal

SAME = 0.005
"""Of a line (0.3 us): less is no difference, unless errors are smaller than a quarter of it."""
_ERRORS = 4.0
"""Errors by which readings of one value may differ."""


@dataclass(frozen=True)
class Pace:
    """How fields follow each other.

    Parameters:
        how : "even" when each begins as much further in its line as the others do, "in turn" when by turns
            one begins further by what the next one goes back, else "uneven"
        step, error : by how much, of a line, 0..1 when in turn (of the first field), and its standard error
        low, high : least and greatest of the fields' own steps
    """

    how: Literal["even", "in turn", "uneven"]
    step: float
    error: float
    low: float
    high: float

    @property
    def least(self) -> float:
        """The step where it is even; in turn how far the two kinds of fields lie apart, 0..1/2."""
        return min(self.step % 1.0, -self.step % 1.0) if self.how == "in turn" else self.step


def pace_of(offsets: Sequence[float], error: float) -> Pace:
    """Return how fields follow each other.

    Parameters:
        offsets : of successive fields, what they have over whole lines, -1/4..3/4; at least one
        error : the largest standard error of one
    """
    same = max(_ERRORS * error, SAME)
    low, high = min(offsets), max(offsets)
    if high - low <= same:
        return Pace("even", *_mean(offsets, error), low, high)
    # by turns: what one goes forward the next goes back, whole lines aside
    turned = [each if k % 2 == 0 else -each for k, each in enumerate(offsets)]
    near = [each - floor(each - turned[0] + 0.5) for each in turned]
    if max(near) - min(near) <= same:
        step, error = _mean(near, error)
        return Pace("in turn", step % 1.0, error, low, high)
    return Pace("uneven", *_mean(offsets, error), low, high)


def places_of(phases: Sequence[float], pace: Pace) -> list[float]:
    """Return where in a line fields begin, -1/2..1/2, the nearest to its begin first.

    Parameters:  phases : of successive vertical syncs, 0..1
    One place for fields that are all alike, two for those by turns, else every hundredth that is met.
    """
    same = max(SAME, _ERRORS * pace.error)
    by_turns = pace.how == "in turn" or abs(pace.step - 0.5) < same
    alike = pace.how == "even" and abs(pace.step) < same
    if pace.how == "uneven" or not (by_turns or alike):
        return sorted({_wrapped(round(each, 2)) for each in phases}, key=abs)
    kinds = (phases[::2], phases[1::2]) if by_turns and len(phases) > 1 else (phases,)
    return sorted((_middle(kind) for kind in kinds), key=abs)


def _middle(phases: Sequence[float]) -> float:
    """Return the mean of places in a line that are near each other, -1/2..1/2."""
    first = phases[0]
    return _wrapped(first + sum(_wrapped(each - first) for each in phases) / len(phases))


def _wrapped(value: float) -> float:
    return value - floor(value + 0.5)


def _mean(values: Sequence[float], error: float) -> tuple[float, float]:
    mean = sum(values) / len(values)
    spread = sqrt(sum((each - mean) ** 2 for each in values) / len(values))
    return mean, max(error / sqrt(len(values)), spread)
