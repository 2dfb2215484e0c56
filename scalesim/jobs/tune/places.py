"""Where the values of a dial lie on an axis."""

from __future__ import annotations

from itertools import pairwise

from scalesim.chain.vary import Varied
from scalesim.jobs.settings.point import Point, value_text


def places_of(dial: Varied) -> tuple[float, ...]:
    """Return where the values lie: at themselves, or side by side when they are no numbers."""
    return tuple(float(value) if dial.ordered else float(k) for k, value in enumerate(dial.values))


def place_of(dial: Varied, point: Point) -> float | None:
    """Return where a setting lies, None off the axis."""
    value = point.values[dial.key]
    if dial.ordered:
        return None if value is None else float(value)
    return float(dial.values.index(value)) if value in dial.values else None


def ticks_of(dial: Varied) -> tuple[tuple[float, str], ...]:
    """Return (place, text) of values that are no numbers."""
    if dial.ordered:
        return ()
    return tuple((float(k), value_text(value)) for k, value in enumerate(dial.values))


def edges_of(dial: Varied) -> tuple[float, ...]:
    """Return the edges of cells about the values, half way between them."""
    places = places_of(dial)
    if len(places) == 1:
        return places[0] - 0.5, places[0] + 0.5
    middles = [(a + b) / 2 for a, b in pairwise(places)]
    return 2 * places[0] - middles[0], *middles, 2 * places[-1] - middles[-1]
