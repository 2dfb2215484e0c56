"""A recorded sync as a waveform that repeats, for a display's vertical circuit to act on.

Two whole fields make the cycle, as they were recorded: every pulse with its own width and place. What the
unmodified signal would have been is not known, so vertical sync counts to the nearest half line.
"""

from __future__ import annotations

import numpy as np

from scalesim.core.sync_wave import Wave
from scalesim.errors import NotMeasurable
from scalesim.signal.waveform.timing import Timing

LEAD_LINES = 30.0
"""Lines before a vertical sync that are taken along: what filters remember."""
LEAST_LEAD_LINES = 12.0


def recorded_wave(timing: Timing) -> Wave:
    """Return the sync of two fields of a record.

    Raises: NotMeasurable when it does not hold two whole fields, or sync came on two wires
    """
    if timing.separate:
        raise NotMeasurable(
            "sync came on two wires, and a vertical circuit acts on composite sync; record that"
        )
    period = timing.grid.period_us
    begins = [each.at_us for each in timing.verticals]
    lead = LEAD_LINES
    for first in range(len(begins) - 2):
        span = begins[first + 2] - begins[first]
        whole = abs(span / period - round(span / period)) < 0.1
        room = (begins[first] - timing.pulses.begin_us[0]) / period
        if whole and room >= LEAST_LEAD_LINES:
            lead = min(lead, room - 1)
            return _cycle(timing, begins[first : first + 3], lead)
    raise NotMeasurable(
        f"the record holds {max(0, len(begins) - 1)} whole fields with {LEAST_LEAD_LINES:g} lines "
        "before them; two "
        "are needed (record 60 ms)"
    )


def _cycle(timing: Timing, begins: list[float], lead: float) -> Wave:
    pulses, grid = timing.pulses, timing.grid
    origin, period = grid.start_us, grid.period_us
    lines = [(at - origin) / period for at in begins]
    # half lines to which vertical sync counts: on a line's begin, or in its middle
    halves = [round(2 * each) for each in lines]
    cycle = round(lines[2] - lines[0]) * period
    begin = begins[0] - lead * period
    kept = (pulses.begin_us >= begin) & (pulses.begin_us < begin + cycle - 0.25 * period)
    return Wave(
        np.asarray(pulses.begin_us[kept], dtype=np.float64) - origin,
        np.asarray(pulses.end_us[kept], dtype=np.float64) - origin,
        cycle,
        period,
        tuple(each * period / 2 for each in halves[:2]),
        tuple(each // 2 * period for each in halves[:2]),
        recorded=True,
    )
