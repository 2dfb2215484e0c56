"""The dials of a box: which values a key can be set to, step by step; and ranges of values to try.

A range is exact: ``-4:4:0.125`` is -4, -3.875 … 4, both ends included, worked out in fractions so that
the 0.1 steps of a menu come out as the decimals they are.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from scalesim.chain.keys import find_key, with_stage_keys
from scalesim.errors import ParameterError
from scalesim.schema import Param, convert
from scalesim.stages import Stage

MOST_STEPS = 1_000_000
"""More values than this in one range is a slip of the finger, whatever they are for."""

_EXACT = Param("exact")


@dataclass(frozen=True)
class Dial:
    """A control of a box: a key of the chain and the values its steps give, in the order of the dial.

    Parameters:
        key : the key's address, such as "position.lines"
        steps : the values, each different, as the stage holds them
        label : what the box calls it; free text
    """

    key: str
    steps: tuple[Any, ...]
    label: str = ""

    def step_of(self, value: Any) -> int | None:
        """Return the index of a value on the dial, None when it is not one of its steps."""
        for index, step in enumerate(self.steps):
            if same_value(step, value):
                return index
        return None

    def presses(self, before: Any, after: Any) -> int | None:
        """Return how many steps up (negative: down) lead from one value to another; None off the dial."""
        first, last = self.step_of(before), self.step_of(after)
        return None if first is None or last is None else last - first


def same_value(a: Any, b: Any) -> bool:
    """Return True for equal values; numbers within 1e-9 of each other count as equal."""
    numbers = all(isinstance(v, int | float | Fraction) and not isinstance(v, bool) for v in (a, b))
    return bool(abs(a - b) <= 1e-9) if numbers else bool(a == b)


def make_dial(stages: Sequence[Stage], key: str, steps: Iterable[Any], label: str = "") -> Dial:
    """Return the dial after its key and every step are checked against the chain.

    Raises: ParameterError naming the dial and the value
    """
    return Dial(key, settled(stages, key, steps, f"dial {key}"), label)


def settled(stages: Sequence[Stage], key: str, values: Iterable[Any], place: str) -> tuple[Any, ...]:
    """Return the values as the stage holds them, repeated ones once.

    Raises: ParameterError for no values, or one the stage does not accept
    """
    found = find_key(stages, key)
    out: dict[Any, None] = {}
    for value in values:
        try:
            changed = with_stage_keys(stages, {key: value})
        except ParameterError as error:
            raise ParameterError(f"{place}: {error}") from None
        out[getattr(changed[found.stage], found.key)] = None
    if not out:
        raise ParameterError(f"{place}: has no values; give at least one")
    return tuple(out)


def spaced(first: Any, last: Any, step: Any, place: str) -> list[float]:
    """Return first, first + step … up to last, which is included when the steps meet it (within 1e-9).

    Parameters:  first, last, step : numbers, or texts such as "0.125" or "1/8"
    Raises: ParameterError for what is no finite number, a step of 0, a range that runs backwards, or
        more than `MOST_STEPS` values
    """
    a, b, by = (exact(value, place) for value in (first, last, step))
    if by == 0:
        raise ParameterError(f"{place}: step is 0; give the distance of the values, such as 1/8")
    if by < 0 or b < a:
        low, high = sorted((a, b))
        raise ParameterError(
            f"{place}: {_said(a)}:{_said(b)}:{_said(by)} runs backwards; write "
            f"{_said(low)}:{_said(high)}:{_said(abs(by))}"
        )
    count = int((b - a + Fraction(1, 10**9)) / by) + 1
    if count > MOST_STEPS:
        raise ParameterError(
            f"{place}: {_said(a)}:{_said(b)}:{_said(by)} has {count} values; at most {MOST_STEPS} "
            "(a larger step, or a shorter range)"
        )
    return [float(a + index * by) for index in range(count)]


def exact(value: Any, place: str) -> Fraction:
    """Return a number as the fraction its decimals say: 0.1 is 1/10.

    Raises: ParameterError for anything but a finite number of ordinary size
    """
    return convert(place, value, _EXACT)


def range_of(steps: Sequence[Any]) -> tuple[float, float, float] | None:
    """Return (first, last, step) when they give exactly these steps, else None."""
    if len(steps) < 4 or not all(isinstance(step, int | float) and step is not True for step in steps):
        return None
    place = "range"
    step = exact(steps[1], place) - exact(steps[0], place)
    if step <= 0 or spaced(steps[0], steps[-1], step, place) != [float(value) for value in steps]:
        return None
    return float(steps[0]), float(steps[-1]), float(step)


def _said(number: Fraction) -> str:
    return f"{float(number):g}"
