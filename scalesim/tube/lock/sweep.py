"""The sweep that tells families of circuits apart: vertical sync of the second field moved in small steps.

Threshold and width follow every step (one line a line), a half-line clock takes three values, a whole-line
clock two, a two-field countdown stays. `family_of` finds the family whose curve lies nearest to what was
read.

Definition of this project.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync import SYNC_525, SyncStandard
from scalesim.core.sync_wave import SyncChange, interlaced_wave
from scalesim.tube.lock.circuit import Circuit, Clocked, Countdown, Edge, Integrator
from scalesim.tube.lock.landings import land

Family = Literal["threshold or width", "half-line clock", "whole-line clock", "two-field countdown"]
SHIFTS_US = tuple(float(each) for each in range(-30, 31))
"""Steps of the sweep, microseconds: less than 0 is earlier."""

_PHASES = 25


def sweep(
    circuit: Circuit, standard: SyncStandard = SYNC_525, shifts_us: tuple[float, ...] = SHIFTS_US
) -> NDArray:
    """Return L for every shift of the second field's unserrated vertical sync; NaN without a lock."""
    found = []
    for shift in shifts_us:
        moved = (0.0, shift / standard.line_us)
        change = SyncChange(begin=moved, end=moved, serrations="drop", equalising=False)
        lines = land(interlaced_wave(standard, change), circuit).lines
        found.append(np.nan if lines is None else lines)
    return np.array(found)


@lru_cache(maxsize=2)
def curves(standard: SyncStandard = SYNC_525) -> Mapping[Family, NDArray]:
    """Return family -> (members, shifts) L, the members of a clock at phases over its period."""
    phases = (np.arange(_PHASES) + 0.5) / _PHASES
    clocks = {
        "half-line clock": [sweep(Clocked(clock_phase=float(p)), standard) for p in phases],
        "whole-line clock": [sweep(Clocked(clock="line", clock_phase=float(p)), standard) for p in phases],
    }
    straight = [sweep(Edge(), standard), sweep(Integrator(), standard)]
    return {
        "threshold or width": np.array(straight),
        "half-line clock": np.array([each for each in clocks["half-line clock"] if np.isfinite(each).all()]),
        "whole-line clock": np.array(
            [each for each in clocks["whole-line clock"] if np.isfinite(each).all()]
        ),
        "two-field countdown": sweep(Countdown(rule="two-field"), standard)[None],
    }


def family_of(lines: NDArray, standard: SyncStandard = SYNC_525) -> tuple[Family, Mapping[Family, float]]:
    """Return the family whose curve is nearest to the readings, and the rms distance of each, lines.

    Parameters:  lines : (shifts,) L as read at `SHIFTS_US`; NaN where it was not
    """
    read = np.isfinite(lines)
    away: dict[Family, float] = {}
    for family, members in curves(standard).items():
        error = members[:, read] - lines[read]
        # which line is called 0 is the reader's choice: whole lines are taken off
        error -= np.round(np.median(error, axis=1, keepdims=True))
        away[family] = float(np.sqrt((error**2).mean(axis=1)).min())
    return min(away, key=lambda each: away[each]), away
