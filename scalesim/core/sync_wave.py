"""The sync waveform of a 15 kHz raster: when sync is there and when not, as the standards or a box make it.

A waveform is a list of pulses over one cycle, which repeats: sync is 1 within a pulse and 0 elsewhere. Times
are in microseconds from the half line in which vertical sync of the first field begins in the *unmodified*
signal; whole lines begin at whole multiples of the line period.

Vertical sync is a gate between two places, in half lines. Inside it sync is there but for serrations, the gap
before each half line; before and after it equalising pulses take the place of line pulses. A box that moves
the gate by a fraction of a line leaves the pulses and serrations on the half lines of the horizontal sync.

Source: rows of half lines and widths as in `core.sync` (ITU-R BT.1700, SMPTE 170M). What a box may change is
definition of this project.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import ceil
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync import SYNC_525, SYNC_625, SyncStandard

Serrations = Literal["keep", "drop", "line-rate"]
Combine = Literal["composite", "or", "xor"]
Pair = tuple[float, float]


@dataclass(frozen=True)
class SyncChange:
    """What a box did to the sync of a raster; the pairs are for the fields of parity 0 and 1.

    Parameters:
        begin, end : lines by which vertical sync begins and ends later than the standard's, below 0 earlier
        equalising : whether there are equalising pulses; serrations : which gaps cut vertical sync
        combine : "composite", or line and vertical pulses joined by "or" or "xor"
        broad_lines : length of vertical sync in lines, None for the standard's
        extra_us, extra_lines : width of one more pulse, 0 for none, and how far ahead of vertical sync it
            begins
        inverted : whether sync is up where it ought to be down
    """

    begin: Pair = (0.0, 0.0)
    end: Pair = (0.0, 0.0)
    equalising: bool = True
    serrations: Serrations = "keep"
    combine: Combine = "composite"
    broad_lines: float | None = None
    extra_us: Pair = (0.0, 0.0)
    extra_lines: Pair = (0.5, 0.5)
    inverted: bool = False


UNCHANGED = SyncChange()


@dataclass(frozen=True, eq=False)
class Wave:
    """The pulses of one cycle.

    Parameters:
        begin_us, end_us : (pulses,) ascending, apart from each other, within one period from `begin_us[0]`
        period_us : after which they repeat; line_us : of a line
        verticals_us : per field, where vertical sync of the unmodified signal begins
        lines_us : per field, where the line begins in which that is
        recorded : the unmodified signal is not known, so landings are told but for whole lines
    """

    begin_us: NDArray
    end_us: NDArray
    period_us: float
    line_us: float
    verticals_us: tuple[float, ...]
    lines_us: tuple[float, ...]
    recorded: bool = False

    @property
    def field_us(self) -> float:
        """Mean time of a field."""
        return self.period_us / len(self.verticals_us)

    def cycles(self, count: int) -> tuple[NDArray, NDArray]:
        """Return begins and ends of the pulses of so many cycles in a row."""
        shift = np.repeat(np.arange(count) * self.period_us, len(self.begin_us))
        return np.tile(self.begin_us, count) + shift, np.tile(self.end_us, count) + shift


def standard_for(rate: float) -> SyncStandard:
    """Return the system of a raster by its pictures a second: 625 lines below 55 Hz, else 525."""
    return SYNC_525 if rate > 55 else SYNC_625


@lru_cache(maxsize=256)
def interlaced_wave(standard: SyncStandard, change: SyncChange = UNCHANGED) -> Wave:
    """Return the sync of fields: parity 0 has vertical sync at a line's begin, 1 in its middle."""
    return _wave(standard, (standard.lines, standard.lines), change)


@lru_cache(maxsize=64)
def progressive_wave(standard: SyncStandard, fields: tuple[int, ...], change: SyncChange = UNCHANGED) -> Wave:
    """Return the sync of progressive fields of so many lines each, such as (262,) or (262, 263)."""
    return _wave(standard, tuple(2 * lines for lines in fields), change)


def _wave(standard: SyncStandard, fields: tuple[int, ...], change: SyncChange) -> Wave:
    """Return the wave of fields of so many half lines each."""
    half = standard.line_us / 2
    at = np.concatenate([[0], np.cumsum(fields)])
    spans: list[tuple[NDArray, NDArray]] = [
        _field(standard, change, int(at[k]), int(at[k + 1]), min(k, 1)) for k in range(len(fields))
    ]
    begin, end = (np.concatenate(parts) for parts in zip(*spans, strict=True))
    period = float(at[-1]) * half
    begin, end = _merged(begin, end, period)
    if change.inverted:
        begin, end = end, np.append(begin[1:], begin[0] + period)
    return Wave(
        begin,
        end,
        period,
        standard.line_us,
        tuple(float(each) * half for each in at[:-1]),
        tuple(float(each - each % 2) * half for each in at[:-1]),
    )


_AHEAD = 60
"""Half lines before a vertical sync from which on pulses count to its field: more than any box moves it."""


def _field(
    standard: SyncStandard, change: SyncChange, at: int, until: int, parity: int
) -> tuple[NDArray, NDArray]:
    """Return the pulses from 30 lines before a vertical sync to 30 lines before the next."""
    half = standard.line_us / 2
    before, broad, after = standard.halves
    length = broad if change.broad_lines is None else 2 * change.broad_lines
    first = at + 2 * change.begin[parity]
    last = at + length + 2 * change.end[parity]
    grid = np.arange(at - _AHEAD, until - _AHEAD)
    line = grid % 2 == 0
    width = np.where(line, standard.sync.us, 0.0)
    if change.equalising and change.combine == "composite":
        # a gate that was moved by less than a half line leaves the rows of half lines where they are
        near = (grid >= round(first) - before) & (grid < round(last) + after)
        width = np.where(near, standard.equalising.us, width)
    if change.combine != "xor":
        width = np.where((grid >= first - 1e-9) & (grid < last - 1e-9), 0.0, width)
    kept = width > 0
    begin, end = grid[kept] * half, grid[kept] * half + width[kept]
    gate = _gate(standard, change, first, last)
    if change.combine == "xor":
        return _xor(begin, end, first * half, last * half)
    begin, end = np.concatenate([begin, gate[0]]), np.concatenate([end, gate[1]])
    if change.extra_us[parity] > 0:
        extra = first * half - change.extra_lines[parity] * standard.line_us
        begin, end = np.append(begin, extra), np.append(end, extra + change.extra_us[parity])
    return begin, end


def _gate(standard: SyncStandard, change: SyncChange, first: float, last: float) -> tuple[NDArray, NDArray]:
    """Return the pulses of vertical sync: the gate less its serrations."""
    half = standard.line_us / 2
    if change.combine == "or":
        return np.array([first * half]), np.array([last * half])
    gap = half - standard.broad.us
    ends = np.arange(ceil(first + 1e-9), ceil(last - 1e-9) + 1)  # half lines a serration may stand before
    if change.serrations == "line-rate":
        ends = ends[ends % 2 == 0]
    elif change.serrations == "drop":
        ends = ends[:0]
    begin = np.concatenate([[first * half], ends * half])
    end = np.append(ends * half - gap, last * half)
    # the last pulse ends a serration before the half line, as every one of the standard's does
    whole = abs(last - round(last)) < 1e-9
    end = np.minimum(end, last * half - gap if whole else last * half)
    kept = end > begin + 1e-9
    return begin[kept], end[kept]


def _xor(begin: NDArray, end: NDArray, first: float, last: float) -> tuple[NDArray, NDArray]:
    """Return line pulses outside the gate, and the gate less the line pulses in it."""
    edges = np.sort(np.concatenate([begin, end, [first, last]]))
    return edges[0::2], edges[1::2]


def _merged(begin: NDArray, end: NDArray, period: float) -> tuple[NDArray, NDArray]:
    """Return pulses in order, those that touch joined."""
    order = np.argsort(begin, kind="stable")
    begin, end = begin[order], np.maximum.accumulate(end[order])
    apart = np.append(True, begin[1:] > end[:-1] + 1e-9)
    ends = np.append(np.flatnonzero(apart)[1:] - 1, len(end) - 1)
    begin, end = begin[apart], end[ends]
    real = end > begin + 1e-9
    return begin[real], np.minimum(end[real], begin[0] + period)
