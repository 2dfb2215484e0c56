"""From an oscilloscope's record to readings of lag."""

from __future__ import annotations

from fractions import Fraction
from math import isnan

import numpy as np

from scalesim.core.lag_table import LagTable
from scalesim.core.trace import Trace
from scalesim.errors import NotMeasurable, ParameterError
from scalesim.jobs.lag.heights import scan_ms
from scalesim.signal.laglog.flash_pairs import paired, rises

ROLES = ("source", "tube")
SLOWEST_S = 0.001
"""Between samples: where the beam passes a photodiode it shines for 1 to 2 ms a field."""


def readings(trace: Trace, columns: str, rate: Fraction, height: float, direct: float | None) -> LagTable:
    """Return the lag of every flash, for the middle of the picture.

    Parameters:
        columns : "source=2,tube=3": numbers of columns from 1, or names of channels
        height : of the photodiode, 0 top to 1 bottom
        direct : what a direct connection reads there, ms; None takes off the scan down to that height
    Raises: ParameterError for columns that are not there, or a record in which nothing flashes
    """
    if isnan(trace.interval_s):
        raise ParameterError(f"lag: {trace.name} has no time column and no sample interval; export them")
    if trace.interval_s > SLOWEST_S:
        raise ParameterError(
            f"lag: {trace.name} has {1 / trace.interval_s:.0f} samples a second; a tube's flash lasts a few "
            f"ms at most: record {1 / SLOWEST_S:.0f} or more"
        )
    chosen = _channels(trace, columns)
    found = {}
    for role, channel in chosen.items():
        try:
            found[role] = rises(trace.channels[channel], trace.interval_s)
        except NotMeasurable as error:
            raise ParameterError(
                f"lag: {trace.name}: {role} ({channel}): {error}; record a flash on both"
            ) from None
    times, lags, missed = paired(found["source"], found["tube"])
    if not len(times):
        raise ParameterError(
            f"lag: {trace.name}: no flash of the tube follows one of the source; swap the columns?"
        )
    off = height * scan_ms(rate) if direct is None else direct
    what = (
        f"{off:.2f} ms of scan down to the probe"
        if direct is None
        else f"{off:g} ms of the direct connection"
    )
    notes = [
        *trace.notes,
        f"{trace.name}: {_flashes(len(times))} of {chosen['source']} (source) followed by {chosen['tube']} "
        "(tube); "
        f"{what} taken off",
    ]
    if missed:
        have = "has" if missed == 1 else "have"
        notes.append(
            f"{trace.name}: {_flashes(missed)} of the source {have} none on the tube before the next"
        )
    # a slope that lasts for several samples is placed between them; a steeper one is known to a sample
    step = 1000 * trace.interval_s
    return LagTable(trace.name, 1000 * lags - off, times=np.asarray(times), notes=tuple(notes), step=step)


def _flashes(count: int) -> str:
    return "1 flash" if count == 1 else f"{count} flashes"


def _channels(trace: Trace, columns: str) -> dict[str, str]:
    """Return role -> name of its channel."""
    names = list(trace.channels)
    found: dict[str, str] = {}
    for part in columns.split(","):
        role, _, word = (each.strip() for each in part.partition("="))
        if role not in ROLES or not word:
            raise ParameterError(f"columns: '{part.strip()[:40]}' is no role=column; write source=2,tube=3")
        if word in names:
            found[role] = word
        elif word.isdigit() and int(word) in trace.columns:
            found[role] = names[trace.columns.index(int(word))]
        else:
            known = ", ".join(f"{number} ({name})" for number, name in zip(trace.columns, names, strict=True))
            raise ParameterError(f"columns: {role}={word[:40]} is not in {trace.name}; it has {known}")
    if set(found) != set(ROLES) or found["source"] == found["tube"]:
        raise ParameterError("columns: name both, and apart: source=2,tube=3")
    return found
