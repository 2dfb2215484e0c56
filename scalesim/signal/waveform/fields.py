"""Fields: from one vertical sync to the next, each counted in lines of its own, never by a mean.

A field begins at the leading edge of its first broad pulse. The other broad pulses of the same vertical sync
sharpen that edge where they stand at half lines after it. A box that moves vertical sync by a part of a line
cuts its first pulse short: a pulse that no more than a serration parts from the first broad one is its begin.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from scalesim.signal.waveform.classes import KINDS
from scalesim.signal.waveform.lines import LineGrid
from scalesim.signal.waveform.slicing import Pulses

_TOGETHER = 1.6
"""Lines: broad pulses nearer than this are of one vertical sync."""
_ON_GRID = 0.03
_LONGEST = 20.0
"""Lines of a vertical sync: anything longer is no sync of a field."""
_SERRATION = 0.082
"""Of a line, at most: 4.7 us of 63.56, and half a microsecond."""
_CUT_SHORT = 0.08
"""Of a line, at least: 5 us. A shorter piece is too like line sync to be told from it."""
_AHEAD = 6.0
"""Lines before vertical sync in which other pulses are looked for."""


@dataclass(frozen=True, eq=False)
class Vertical:
    """One vertical sync.

    Parameters:
        at_us : where it begins; error_us : standard error
        phase : where in a line that is, 0..1; broad : pulses; lines : from the first to the last edge
        before, after : equalising pulses within four lines of either side
        ragged : narrow pulses in it that are none of sync's, which noise makes of broad ones
        others_us : widths of pulses in the six lines before it that are none of sync's
        whole : the record shows it from four lines before it to its end
    """

    at_us: float
    error_us: float
    phase: float
    broad: int
    lines: float
    before: int
    after: int
    ragged: int
    whole: bool
    others_us: tuple[float, ...] = ()


@dataclass(frozen=True)
class Field:
    """From one vertical sync to the next: its lines, the error of that, and the offset it gives (0..1)."""

    at_us: float
    lines: float
    error: float

    @property
    def offset(self) -> float:
        """What is over whole lines, -1/4 to 3/4: 1/2 is interlaced, 0 progressive."""
        return float((self.lines + 0.25) % 1.0 - 0.25)


def verticals(pulses: Pulses, kinds: NDArray, grid: LineGrid) -> list[Vertical]:
    """Return every vertical sync of which the record shows the beginning."""
    broad = np.flatnonzero(kinds == KINDS.index("broad"))
    if not len(broad):
        return []
    begin, end = pulses.begin_us[broad], pulses.end_us[broad]
    breaks = np.flatnonzero(begin[1:] - end[:-1] > _TOGETHER * grid.period_us) + 1
    found = []
    for group in np.split(np.arange(len(broad)), breaks):
        made = _vertical(pulses, kinds, grid, begin[group], end[group])
        if made is not None:
            found.append(made)
    return found


def _vertical(
    pulses: Pulses, kinds: NDArray, grid: LineGrid, begin: NDArray, end: NDArray
) -> Vertical | None:
    period = grid.period_us
    begin = _from_its_begin(pulses, kinds, period, begin)
    first, last = float(begin[0]), float(end[-1])
    long = (last - first) / period
    # a record that begins in the middle of vertical sync does not show where that begins
    earlier = pulses.begin_us[pulses.begin_us < first - 0.25 * period]
    if not len(earlier) or first - earlier[-1] > 1.6 * period or long > _LONGEST:
        return None
    halves = (begin - first) * 2 / period
    on_grid = np.abs(halves - np.rint(halves)) < _ON_GRID + 2 * grid.jitter_us / period
    refined = float(np.mean(begin[on_grid] - np.rint(halves[on_grid]) * period / 2))
    is_odd = kinds == KINDS.index("odd")
    odd = pulses.begin_us[is_odd]
    others = pulses.width_us[is_odd & (pulses.begin_us > first - _AHEAD * period) & (pulses.begin_us < first)]
    equalising = pulses.begin_us[kinds == KINDS.index("equalising")]
    near = 4 * period
    return Vertical(
        refined,
        grid.jitter_us / np.sqrt(on_grid.sum()),
        float(grid.phase(refined)),
        len(begin),
        long,
        int(((equalising > first - near) & (equalising < first)).sum()),
        int(((equalising > last) & (equalising < last + near)).sum()),
        int(((odd > first - 1.2 * period) & (odd < last + 0.2 * period)).sum()),
        bool(first > 4 * period and last + period < pulses.length_us),
        tuple(float(each) for each in others),
    )


def _from_its_begin(pulses: Pulses, kinds: NDArray, period: float, begin: NDArray) -> NDArray:
    """Return the begins of the broad pulses, before them that of a first one that was cut short."""
    gap = (begin[0] - pulses.end_us) / period
    cut = (gap > 0) & (gap <= _SERRATION) & (pulses.width_us >= _CUT_SHORT * period)
    cut &= kinds == KINDS.index("odd")
    return np.concatenate([pulses.begin_us[cut][-1:], begin])


def fields_between(found: list[Vertical], grid: LineGrid) -> list[Field]:
    """Return the fields between successive vertical syncs."""
    made = []
    for one, two in pairwise(found):
        lines = (two.at_us - one.at_us) / grid.period_us
        drift = lines * grid.period_error_us / grid.period_us
        error = float(np.hypot(np.hypot(one.error_us, two.error_us) / grid.period_us, drift))
        made.append(Field(one.at_us, float(lines), error))
    return made
