"""What the lag of several boxes in series adds up to."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import hypot

import numpy as np

from scalesim.jobs.lag.device import Device
from scalesim.jobs.lag.numbers import ms
from scalesim.result import Table
from scalesim.signal.laglog.total import beat_locked, independent, quantiles

SHARES = (0.05, 0.5, 0.95)


@dataclass(frozen=True)
class Total:
    """The lag of a chain.

    Parameters:
        least, most : sum of the least and of the greatest readings, ms
        likely : 5 %, 50 % and 95 % of the sum where the lags know nothing of each other, ms
        beats : pairs of devices whose drifts are equal and opposite: (labels, two levels of their sum in ms)
    """

    least: float
    most: float
    likely: tuple[float, float, float]
    beats: tuple[tuple[str, str, float, float], ...]

    def table(self) -> Table:
        """Return the sums."""
        rows: list[tuple[str, ...]] = [
            ("independent boxes", *(ms(v) for v in (self.least, *self.likely, self.most)))
        ]
        for first, second, low, high in self.beats:
            rows.append((f"{first} + {second}, beating together", ms(low), "–", "–", "–", ms(high)))
        columns = ("sum of", "least ms", "5 % ms", "median ms", "95 % ms", "most ms")
        return Table("The whole chain", columns, tuple(rows), ("left", *["right"] * 5), head=0)

    def said(self) -> str:
        """Return the total as a sentence."""
        apart = (
            f"If the boxes know nothing of each other, the chain adds {ms(self.likely[0])} to "
            f"{ms(self.likely[2])} ms nine times in ten, and never less than {ms(self.least)} or more than "
            f"{ms(self.most)} ms of what was logged."
        )
        return " ".join([apart, *(self._beat(*each) for each in self.beats)])

    @staticmethod
    def _beat(first: str, second: str, low: float, high: float) -> str:
        return (
            f"{first} and {second} drift equally fast in opposite directions in these logs: together they "
            f"are {ms(low)} or {ms(high)} ms, if they stand in one chain."
        )

    def explained(self) -> tuple[str, ...]:
        """Return what the two cases are."""
        text = (
            "Independent boxes: each has its own clock, so the least lag of one may meet the greatest of "
            "another; the "
            "median and the 5 % and 95 % are those of the sum of their distributions, narrower than the "
            "sum of the ends.",
            "Beat-locked boxes: where one box drifts as much forward as the next drifts back (60 to 59.94 "
            "and back to "
            "60), both follow one beat. Their sum does not drift: it is one of two values a frame apart, "
            "and jumps "
            "when either box wraps. A box that follows the sync of the one before it has no beat of its "
            "own, and "
            "adds a constant.",
        )
        return text + tuple(self._beat(*each) for each in self.beats)


def total_of(devices: tuple[Device, ...]) -> Total:
    """Return what the devices add up to as one chain."""
    places, cumulative = independent([each.study.lags for each in devices])
    likely = quantiles(places, cumulative, SHARES)
    beats = []
    for first, second in combinations(devices, 2):
        one, two = first.study, second.study
        if not (one.drifts and two.drifts and abs(one.frame_ms - two.frame_ms) < 0.5):
            continue
        a, b = one.drift_us_per_s or 0.0, two.drift_us_per_s or 0.0
        error = hypot(one.drift_error_us_per_s or 0.0, two.drift_error_us_per_s or 0.0)
        if beat_locked(a, b, error, max(abs(a), abs(b))):
            low, high = _levels(first, second)
            beats.append((first.label, second.label, low, high))
    least = sum(each.study.quantiles[0] for each in devices)
    most = sum(each.study.quantiles[4] for each in devices)
    return Total(least, most, (likely[0], likely[1], likely[2]), tuple(beats))


def _levels(first: Device, second: Device) -> tuple[float, float]:
    """Return the two values of the sum of two fitted sawtooths that run against each other."""
    wrap = first.study.wrap_s or 1.0
    times = np.linspace(0, 3 * wrap, 3001)
    one, two = first.study.fit(times), second.study.fit(times)
    assert one is not None and two is not None
    total = one + two
    middle = (float(total.min()) + float(total.max())) / 2
    return float(np.median(total[total <= middle])), float(np.median(total[total >= middle]))
