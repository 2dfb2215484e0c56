"""Parts of the records to look at: the vertical syncs, and one line, thinned to what a plot can show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.trace.levels import ChannelLevels
from scalesim.jobs.trace.roles import Assigned
from scalesim.signal.waveform.baseline import Baseline, baseline_of
from scalesim.signal.waveform.fields import Vertical
from scalesim.signal.waveform.picture import ACTIVE
from scalesim.signal.waveform.windows import cut_lines

BEFORE, AFTER = 4.4, 10.4
"""Lines shown before and after a field begins."""
MOST_POINTS = 1400
_LINES_MEANT = 16


@dataclass(frozen=True, eq=False)
class VerticalExcerpt:
    """A vertical sync.

    Parameters:
        lines, mv : after it begins, and above blanking; pulses, kinds : where each begins, and its class
        bottom_mv : level of the sync tips
    """

    title: str
    lines: tuple[float, ...]
    mv: tuple[float, ...]
    pulses: tuple[float, ...]
    kinds: tuple[int, ...]
    bottom_mv: float


@dataclass(frozen=True, eq=False)
class LineExcerpt:
    """One line of a channel: us after the edge of sync, mV above blanking, and how many lines it is of."""

    name: str
    us: tuple[float, ...]
    mv: tuple[float, ...]
    lines: int


def vertical_excerpts(found: Sequence[Assigned]) -> tuple[VerticalExcerpt, ...]:
    """Return two vertical syncs, of different kinds where there are; fewer where there are no more."""
    chosen: list[tuple[Assigned, Vertical, str]] = []
    for number, each in enumerate(found, start=1):
        where = "" if len(found) == 1 else f", record {number}"
        for k, vertical in enumerate(each.timing.verticals, start=1):
            if vertical.whole:
                chosen.append((each, vertical, f"vertical sync {k}{where}"))
    if len(chosen) > 2:  # two that differ show most
        first = chosen[0]
        far = [c for c in chosen[1:] if abs((c[1].phase - first[1].phase + 0.5) % 1 - 0.5) > 0.2]
        chosen = [first, (far or chosen[1:])[0]]
    bases: dict[int, Baseline | None] = {}
    made = []
    for each, vertical, title in chosen[:2]:
        if id(each) not in bases:
            bases[id(each)] = baseline_of(each.sync.volts, each.timing)
        made.append(_vertical(each, bases[id(each)], vertical, title))
    return tuple(made)


def _vertical(found: Assigned, base: Baseline | None, vertical: Vertical, title: str) -> VerticalExcerpt:
    timing, period = found.timing, found.timing.grid.period_us
    begin_us, end_us = vertical.at_us - BEFORE * period, vertical.at_us + AFTER * period
    first = max(0, int(np.ceil(begin_us / timing.interval_us)))
    last = min(len(found.sync.volts), int(end_us / timing.interval_us))
    volts = found.sync.volts[first:last].astype(np.float64)
    if timing.pulses.inverted:
        volts = -volts
    places = ((np.arange(first, last) * timing.interval_us) - vertical.at_us) / period
    at_us = vertical.at_us + places * period
    if base is not None:
        volts = volts - np.interp(at_us, base.begins_us, base.smooth)
    places, volts = _thinned(places, volts)
    pulses = timing.pulses
    shown = (pulses.begin_us > begin_us) & (pulses.end_us < end_us)
    middles = (pulses.begin_us[shown] - vertical.at_us) / period
    return VerticalExcerpt(
        title,
        _tuple(places, 5),
        _tuple(1000 * volts, 1),
        _tuple(middles, 5),
        tuple(int(kind) for kind in timing.kinds[shown]),
        float(-1000 * pulses.amplitude),
    )


def line_excerpts(found: Assigned, levels: Sequence[ChannelLevels]) -> tuple[LineExcerpt, ...]:
    """Return one line of every channel: the mean of lines that carry its highest level, or of the first."""
    made = []
    for each in levels:
        one = _line(found, each)
        if one is not None:
            made.append(one)
    return tuple(made[:4])


def _line(found: Assigned, levels: ChannelLevels) -> LineExcerpt | None:
    timing, base = found.timing, levels.base
    period = timing.grid.period_us
    inverted = timing.pulses.inverted and levels.sync_mv is not None
    volts = -levels.channel.volts if inverted else levels.channel.volts
    cut, whole = cut_lines(volts, timing.interval_us, base.begins_us, -0.03 * period, 1.01 * period)
    if not len(cut):
        return None
    above = cut - base.smooth[whole][:, None]
    rows = np.arange(min(_LINES_MEANT, len(above)))
    if levels.white is not None:
        start = (ACTIVE[0] + 0.03) * period + levels.white.at_us
        part = slice(
            int(start / timing.interval_us),
            int((start + max(1.0, levels.white.lasts_us)) / timing.interval_us) + 1,
        )
        height = above[:, part].mean(axis=1)
        good = np.flatnonzero(
            np.abs(height - levels.white.volts) < 0.06 * abs(levels.white.volts) + 4 * base.noise
        )
        rows = good[:_LINES_MEANT] if len(good) else rows
    mean = above[rows].mean(axis=0, dtype=np.float64)
    us, mv = _thinned(np.arange(len(mean)) * timing.interval_us - 0.03 * period, 1000 * mean)
    return LineExcerpt(levels.channel.said, _tuple(us, 4), _tuple(mv, 1), len(rows))


def _thinned(x: NDArray, y: NDArray) -> tuple[NDArray, NDArray]:
    """Return at most so many points, the lowest and highest of every stretch, in their order."""
    if len(x) <= MOST_POINTS:
        return x, y
    size = -(-2 * len(x) // MOST_POINTS)
    count = len(x) // size
    parts = y[: count * size].reshape(count, size)
    ends = np.sort(np.stack([parts.argmin(axis=1), parts.argmax(axis=1)], axis=1), axis=1)
    picked = np.unique((np.arange(count)[:, None] * size + ends).ravel())
    return x[picked], y[picked]


def _tuple(values: NDArray, digits: int) -> tuple[float, ...]:
    return tuple(round(float(value), digits) for value in values)
