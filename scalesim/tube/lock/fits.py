"""The reverse question: which circuits and which changes of sync fit what was seen on some displays.

A change fits when for every display there is a kind of circuit that draws what was seen there, at some
values of its usual ranges at which it locks on the standard signal. Displays may have any kind, each its
own, and are taken to interlace the standard signal, but for those that were seen to draw so with every
source.

Definition of this project.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from scalesim.core.sync import SyncStandard
from scalesim.core.sync_wave import UNCHANGED, SyncChange, Wave, interlaced_wave
from scalesim.tube.lock.landings import Outcome
from scalesim.tube.lock.ranges import Spread, spreads_of
from scalesim.tube.lock.typical import CHANGES, TYPICAL, Change

Seen = Literal["one", "two", "uneven", "rolls"]
OF_SEEN: dict[Seen, Outcome] = {"one": "one set", "two": "two sets", "uneven": "uneven", "rolls": "no lock"}
LEAST_SHARE = 0.01
"""Of the ranges: what a smaller part of them gives is a narrow band that nobody is likely to meet."""
LARGE_SHARE = 0.25


@dataclass(frozen=True)
class Observation:
    """What was seen on a display: only after a "cold" start, "sometimes", or with every source ("always")."""

    label: str
    seen: Seen
    when: Literal["", "cold", "sometimes", "always"] = ""


@dataclass(frozen=True)
class Fit:
    """A change of sync that explains every observation: label -> (kind, share of its ranges), most first."""

    change: Change
    kinds: Mapping[str, tuple[tuple[str, float], ...]]

    @property
    def least(self) -> float:
        """The share of the ranges of the best kind of the display that is explained worst."""
        return min(own[0][1] for own in self.kinds.values())


def fits_of(
    observations: Sequence[Observation],
    standard: SyncStandard,
    advance: Callable[[str], None] = lambda _: None,
) -> list[Fit]:
    """Return the changes that explain what was seen, those with large shares first."""
    found = []
    usual = spreads_by_kind(standard)
    for change in CHANGES:
        advance(change.words)
        spreads = spreads_by_kind(standard, change.stage.change())
        kinds = {each.label: _kinds(each, spreads, usual) for each in observations}
        if all(kinds.values()):
            found.append(Fit(change, kinds))
    return sorted(found, key=lambda fit: -fit.least)


def _kinds(
    seen: Observation, spreads: Mapping[str, tuple[Spread, ...]], usual: Mapping[str, tuple[Spread, ...]]
) -> tuple[tuple[str, float], ...]:
    """Return the kinds that draw what was seen, with the share of their ranges that does."""
    wanted = OF_SEEN[seen.seen]
    found = []
    for name, own in spreads.items():
        if not _usual(seen, usual[name][0]):
            continue
        share = own[0].shares.get(wanted, 0.0)
        if seen.when == "cold":
            other = 1 - own[-1].shares.get(wanted, 0.0) if len(own) > 1 else 0.0
            share = min(share, other)
        elif seen.when == "sometimes":
            share = (
                min(share, 1 - share) if len(own) == 1 else min(share, 1 - own[-1].shares.get(wanted, 0.0))
            )
        if share >= LEAST_SHARE:
            found.append((name, share))
    return tuple(sorted(found, key=lambda each: -each[1]))


def _usual(seen: Observation, standard: Spread) -> bool:
    """Tell whether a kind draws a standard signal as the display is taken to, or was said to."""
    if seen.when == "always":
        return standard.shares.get(OF_SEEN[seen.seen], 0.0) > 0.5
    return standard.shares.get("two sets", 0.0) > 0.5


@lru_cache(maxsize=128)
def spreads_by_kind(
    standard: SyncStandard, change: SyncChange = UNCHANGED
) -> Mapping[str, tuple[Spread, ...]]:
    """Return name -> outcomes over the usual ranges, one for each history, of every typical circuit."""
    wave = interlaced_wave(standard, change)
    return {name: spreads_of(wave, circuit) for name, circuit in TYPICAL.items()}


@dataclass(frozen=True)
class Reading:
    """What an oscilloscope shows of a sync at a display's input.

    Parameters:
        leads : per field, lines from the last begin of a line to the leading edge of vertical sync, 0..1
        lines : of each field, from one vertical sync to the next
        widest_us : the longest pulse; equalising : whether there are equalising pulses
        odd_us : widths of pulses that are none of the standard's, before vertical sync
    """

    leads: tuple[float, ...]
    lines: tuple[float, ...]
    widest_us: float
    equalising: bool
    odd_us: tuple[float, ...]

    def alike(self, other: Reading) -> bool:
        """Tell whether a record of 5 MS/s would not tell them apart."""
        near = np.abs(np.subtract(self.leads, other.leads)) < 0.02
        return (
            bool(np.all(near | (np.abs(np.subtract(self.leads, other.leads)) > 0.98)))
            and abs(self.widest_us - other.widest_us) < 1
            and self.equalising == other.equalising
            and len(self.odd_us) == len(other.odd_us)
            and bool(np.all(np.abs(np.subtract(self.odd_us, other.odd_us)) < 1))
        )


def reading_of(wave: Wave, standard: SyncStandard) -> Reading:
    """Return what an oscilloscope would show of a sync."""
    width = wave.end_us - wave.begin_us
    known = (standard.sync.us, standard.equalising.us)
    plain = np.min([np.abs(width - each) for each in known], axis=0) < 0.3
    broad = width > 0.35 * wave.line_us
    begins, odd = [], set()
    for vertical in wave.verticals_us:
        near = np.abs(wave.begin_us - vertical) < 4 * wave.line_us
        first = float(wave.begin_us[near & broad][0])
        # a short pulse that runs into vertical sync is its first part
        before = near & ~broad & ~plain & (wave.begin_us < first)
        joined = before & (first - wave.end_us < standard.serration.us + 0.5) & (width > 5.0)
        begins.append(float(wave.begin_us[joined][0]) if joined.any() else first)
        odd |= {round(float(each), 1) for each in width[before & ~joined]}
    lengths = np.diff([*begins, begins[0] + wave.period_us]) / wave.line_us
    leads = tuple(round(float(each / wave.line_us) % 1.0, 3) % 1.0 for each in begins)
    equal = bool((np.abs(width - standard.equalising.us) < 0.3).any())
    return Reading(
        leads, tuple(float(each) for each in lengths), float(width.max()), equal, tuple(sorted(odd))
    )


def told_apart(fits: Sequence[Fit], standard: SyncStandard) -> list[list[Fit]]:
    """Return the fits in groups that the composite sync at a display's input tells apart."""
    groups: list[tuple[Reading, list[Fit]]] = []
    for fit in fits:
        reading = reading_of(interlaced_wave(standard, fit.change.stage.change()), standard)
        own = next((members for known, members in groups if known.alike(reading)), None)
        if own is None:
            groups.append((reading, [fit]))
        else:
            own.append(fit)
    return [members for _, members in groups]
