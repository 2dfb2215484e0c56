"""Clocks: drift, wrap, repeats, drops and tears from the rates of source, box and display."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from scalesim.core.clocks import Pair, rate_of
from scalesim.errors import ParameterError
from scalesim.jobs.clocks.answer import Clocked, Link


def clocks(
    *, source: str | None = None, box: str | None = None, display: str | None = None, ppm: float = 0.0
) -> Clocked:
    """Return what clocks do that are not locked to each other.

    Parameters:
        source, box, display : rates, a number of Hz or a mode; at least two, or none for the table alone
        ppm : how far each clock may be off its rate
    Raises: ParameterError for a single rate, or one that is none
    """
    named = {"source": source, "box": box, "display": display}
    given = [(role, rate_of(text, role), text.strip()) for role, text in named.items() if text is not None]
    if len(given) == 1:
        raise ParameterError(f"clocks: only {given[0][0]} is given; give two rates, or none for the table")
    links = tuple(
        Link(first[0], second[0], first[2], second[2], Pair(first[1], second[1]))
        for first, second in pairwise(given)
    )
    return Clocked(links, Fraction(repr(ppm)).limit_denominator(10**9))
