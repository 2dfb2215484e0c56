"""Which part of a cycle a field is looked for in."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync_wave import Wave

AHEAD, AFTER = 0.25, 0.25
"""Shares of a field, before and after its unmodified vertical sync, in which its begin is looked for."""

NEAR_LINES = (8.0, 14.0)
"""A begin farther before or after that vertical sync was not made by it."""


def window(wave: Wave, edges_us: NDArray, field: int) -> slice:
    """Return the intervals of a field's window, in the second of two cycles for the first field."""
    begin = wave.verticals_us[field]
    if begin - AHEAD * wave.field_us < edges_us[0]:
        begin += wave.period_us
    first = int(np.searchsorted(edges_us, begin - AHEAD * wave.field_us))
    first += first % 2  # from a pulse on
    last = int(np.searchsorted(edges_us, begin + AFTER * wave.field_us))
    return slice(first, last)


def since_line(wave: Wave, time_us: NDArray | float, field: int) -> NDArray | float:
    """Return a time since the begin of the line in which the field's unmodified vertical sync begins."""
    away = np.asarray(time_us) - wave.lines_us[field] + wave.period_us / 2
    return np.asarray(np.mod(away, wave.period_us) - wave.period_us / 2)


def are_near(wave: Wave, since_us: NDArray | float) -> NDArray:
    """Tell which of such times are near vertical sync."""
    lines = np.asarray(since_us) / wave.line_us
    return np.asarray((-NEAR_LINES[0] <= lines) & (lines <= NEAR_LINES[1]))


def lines_between(wave: Wave, edges_us: NDArray, field: int) -> slice:
    """Return intervals of some lines far from any vertical sync, before a field's window."""
    begin = wave.verticals_us[field]
    if begin - 0.5 * wave.field_us < edges_us[0]:
        begin += wave.period_us
    middle = begin - 0.4 * wave.field_us
    first = int(np.searchsorted(edges_us, middle))
    last = int(np.searchsorted(edges_us, middle + 20 * wave.line_us))
    return slice(first + first % 2, max(first + first % 2 + 2, last))
