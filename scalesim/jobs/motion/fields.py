"""Fields that a vertical filter mixed after they were woven: told by both showing the same two pictures.

A filter of taps 1/2/1 over the lines of a woven frame leaves each line half of its own field and half of the
other: both fields then show one even mixture, and which field is which cannot be had any more. With less of
the other field, as of taps 1/6/1, each field's own picture is the one with more weight.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from scalesim.signal.counter.picture import Part
from scalesim.signal.counter.stream import Shown

_COMPLEMENTS = 0.12
"""How far the weights of the two fields may be from adding up to the whole."""
_EVEN = 0.1
"""A weight nearer to one half than this does not tell which field is which."""


def told_apart(pictures: Iterable[Shown]) -> Iterator[tuple[Shown, bool]]:
    """Yield the pictures, and whether each is a mixture of the fields of its own frame.

    Fields that are mixed evenly come as one picture, without a parity.
    """
    waiting: Shown | None = None
    for shown in pictures:
        if waiting is not None and waiting.frame == shown.frame:
            yield from _pair(waiting, shown)
            waiting = None
            continue
        if waiting is not None:
            yield waiting, False
        waiting = shown if shown.parity is not None else None
        if waiting is None:
            yield shown, False
    if waiting is not None:
        yield waiting, False


def _pair(one: Shown, other: Shown) -> Iterator[tuple[Shown, bool]]:
    first, second = _mixture(one), _mixture(other)
    if (
        first is None
        or second is None
        or first.numbers != second.numbers
        or abs(first.weight + second.weight - 1) > _COMPLEMENTS
    ):
        yield from ((one, False), (other, False))
    elif abs(first.weight - 0.5) < _EVEN:
        yield replace(one, parity=None), True
    else:
        yield from ((one, True), (other, True))


def _mixture(shown: Shown) -> Part | None:
    """Return the mixture that is all of a field, None when it is not one."""
    parts = shown.seen.parts
    return parts[0] if len(parts) == 1 and parts[0].second is not None else None
