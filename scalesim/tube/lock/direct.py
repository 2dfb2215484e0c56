"""Circuits that act on the sync of each field by itself: threshold, width, clock.

A time is microseconds since the begin of the line in which the unmodified vertical sync of the field begins.
NaN means that none was found there: sync never reaches the threshold, no pulse is wide enough, or lines or
something else set the circuit off all the time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from scalesim.core.sync_wave import Wave
from scalesim.tube.lock.field_windows import are_near, lines_between, since_line, window
from scalesim.tube.lock.filter import Filtered

CREST = "line sync alone reaches the threshold"
NEVER = "sync never reaches the threshold"
EVERY = "pulses of every line are wide enough"
NARROW = "no pulse is wide enough"
SAMPLED = "a tick of the clock falls on line sync"
MISSED = "no tick of the clock falls on sync"
FAR = "it is set off far from vertical sync"


def thresholds(found: Filtered, filters: NDArray, levels: NDArray) -> NDArray:
    """Return when filtered sync first rises to a level; (points, fields), NaN for never or on lines.

    Parameters:  filters, levels : (points,) which filter of `found`, and the share of the swing
    """
    wave = found.wave
    _, high = found.crests
    times = np.full((len(levels), len(wave.verticals_us)), np.nan)
    order = np.argsort(filters, kind="stable")
    ends = np.searchsorted(filters[order], np.arange(high.shape[1] + 1))
    for field in range(len(wave.verticals_us)):
        own = window(wave, found.edges_us, field)
        reached = np.maximum.accumulate(high[own], axis=0)
        floor = high[lines_between(wave, found.edges_us, field)].max(axis=0)
        place = np.empty(len(levels), dtype=np.int64)
        for each in range(high.shape[1]):
            points = order[ends[each] : ends[each + 1]]
            place[points] = np.searchsorted(reached[:, each], levels[points])
        there = np.flatnonzero((place < len(reached)) & (levels > floor[filters]))
        at = found.crossing(place[there] + own.start, levels[there], filters[there])
        since = np.asarray(since_line(wave, at, field))
        times[there, field] = np.where(are_near(wave, since), since, np.nan)
    return times


def why_no_threshold(found: Filtered, level: float) -> str:
    """Return why one filter's voltage has no begin of a field at a level."""
    wave = found.wave
    _, high = found.crests
    for field in range(len(wave.verticals_us)):
        if level <= high[lines_between(wave, found.edges_us, field), 0].max():
            return CREST
        if level > high[window(wave, found.edges_us, field), 0].max():
            return NEVER
    return FAR


def widths(wave: Wave, least_us: NDArray) -> tuple[NDArray, list[str]]:
    """Return when sync has first lasted for each width; (widths, fields), and why not for each width.

    A pulse of a line that lasts so long is no vertical sync.
    """
    begin, end = wave.cycles(2)
    edges = np.stack([begin, end], axis=1).ravel()
    length = end - begin
    times = np.full((len(least_us), len(wave.verticals_us)), np.nan)
    why = [""] * len(least_us)
    for field in range(len(wave.verticals_us)):
        own = window(wave, edges, field)
        pulses = slice(own.start // 2, own.stop // 2)
        lines = lines_between(wave, edges, field)
        floor = length[lines.start // 2 : max(lines.start // 2 + 1, lines.stop // 2)].max()
        reached = np.maximum.accumulate(length[pulses])
        for k, least in enumerate(least_us):
            place = int(np.searchsorted(reached, least, side="right"))
            if least <= floor:
                why[k] = EVERY
            elif place == len(reached):
                why[k] = NARROW
            else:
                since = float(since_line(wave, begin[pulses][place] + least, field))
                times[k, field] = since if are_near(wave, since) else np.nan
                why[k] = why[k] or ("" if are_near(wave, since) else FAR)
    return times, why


def ticks(times: NDArray, phase_us: NDArray | float, every_us: float) -> NDArray:
    """Return the first tick at or after each time; ticks lie `phase_us` after the begin of a line."""
    return np.asarray(np.ceil((times - phase_us) / every_us - 1e-9) * every_us + phase_us)


def levels_on_ticks(wave: Wave, phase_us: float, every_us: float) -> tuple[NDArray, str]:
    """Return when a clock first ticks within sync, (fields,), and why not."""
    begin, end = wave.cycles(2)
    edges = np.stack([begin, end], axis=1).ravel()
    times = np.full(len(wave.verticals_us), np.nan)
    for field in range(len(times)):
        own, lines = window(wave, edges, field), lines_between(wave, edges, field)
        if len(_ticked(begin, end, edges, lines, phase_us, every_us)):
            return np.full_like(times, np.nan), SAMPLED
        found = _ticked(begin, end, edges, own, phase_us, every_us)
        if not len(found):
            return np.full_like(times, np.nan), MISSED
        times[field] = float(since_line(wave, found[0], field))
        if not are_near(wave, times[field]):
            return np.full_like(times, np.nan), FAR
    return times, ""


def _ticked(
    begin: NDArray, end: NDArray, edges: NDArray, part: slice, phase_us: float, every_us: float
) -> NDArray:
    """Return the ticks that fall within pulses of a part of the intervals."""
    first, last = edges[part.start], edges[min(part.stop, len(edges) - 1)]
    at = np.arange(np.ceil((first - phase_us) / every_us), np.floor((last - phase_us) / every_us) + 1)
    at = at * every_us + phase_us
    pulse = np.searchsorted(begin, at, side="right") - 1
    inside = (pulse >= 0) & (at < end[np.clip(pulse, 0, None)])
    return np.asarray(at[inside])
