"""At which rate a stream's pictures come: its own statement, checked against its time stamps.

Containers round. One with whole milliseconds or nanoseconds cannot say 60000/1001, so a rate that close
to one of the trade's is taken for it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

_WHOLE = (24, 25, 30, 48, 50, 60, 100, 120)
TRADE_RATES = tuple(
    sorted({Fraction(n) for n in _WHOLE} | {Fraction(1000 * n, 1001) for n in _WHOLE if n % 25})
)
_SAME = Fraction(5, 1_000_000)
"""Relative; 59.94 is 1e-6 from 60000/1001, and whole nanoseconds are 2e-8 from it."""
_UNEVEN = 0.1
_STEADY_SHARE = 0.9


@dataclass(frozen=True)
class Timing:
    """Pictures (frames) per second, exact, sentences on how that was found, whether they come evenly."""

    rate: Fraction
    notes: tuple[str, ...] = ()
    even: bool = True


def timing_of(stamps: NDArray[np.int64], tick: Fraction, declared: Fraction | None) -> Timing:
    """Return the rate of a stream.

    Parameters:
        stamps : (pictures,) presentation times in ticks, in any order; may be empty if there are none
        tick : seconds, exact
        declared : the container's own rate, if it states one
    """
    ordered = np.sort(stamps)
    periods: NDArray[np.int64] = (ordered[1:] - ordered[:-1]).astype(np.int64)
    if len(periods) == 0 or not periods.any():
        return _untimed(declared)
    middle = float(np.median(periods))
    # A period may be one tick off by rounding at each of its ends.
    even = np.abs(periods.astype(np.float64) - middle) <= _UNEVEN * middle + 1
    uneven = int(len(periods) - even.sum())
    if even.sum() < _STEADY_SHARE * len(periods):
        return _variable(periods, tick, uneven)
    span = int(periods[even].sum())
    measured = Fraction(int(even.sum()), span) / tick
    slack = max(_SAME, Fraction(uneven + 1, span))
    rate = _taken(measured, slack, declared)
    if not uneven:
        return Timing(rate, _declared_note(declared, rate))
    worst = float(periods.max() * tick * 1000)
    note = (
        f"{uneven} of {len(periods)} intervals between pictures are not even (longest {worst:.1f} ms): "
        f"pictures were dropped or repeated; they are taken in order at {shown_rate(rate)} per second."
    )
    return Timing(rate, (note,), even=False)


def shown_rate(rate: Fraction) -> str:
    """Return a rate for reading: ``60``, ``59.94``."""
    return str(rate.numerator) if rate.denominator == 1 else f"{float(rate):.3f}".rstrip("0")


def _untimed(declared: Fraction | None) -> Timing:
    if declared:
        return Timing(_snapped(declared, _SAME))
    note = "The file does not state its rate: 60 pictures per second assumed."
    return Timing(Fraction(60), (note,))


def _variable(periods: NDArray[np.int64], tick: Fraction, uneven: int) -> Timing:
    rate = (Fraction(len(periods), int(periods.sum())) / tick).limit_denominator(100_000)
    note = (
        f"Variable rate: {uneven} of {len(periods)} intervals are off their middle by over "
        f"{_UNEVEN:.0%}; pictures are taken in order, evenly, at the mean of {shown_rate(rate)} per second."
    )
    return Timing(rate, (note,), even=False)


def _taken(measured: Fraction, slack: Fraction, declared: Fraction | None) -> Fraction:
    if declared and abs(declared / measured - 1) <= slack:
        return _snapped(declared, _SAME)
    return _snapped(measured, slack).limit_denominator(100_000)


def _snapped(rate: Fraction, slack: Fraction) -> Fraction:
    nearest = min(TRADE_RATES, key=lambda known: abs(known - rate))
    return nearest if abs(nearest / rate - 1) <= slack else rate


def _declared_note(declared: Fraction | None, rate: Fraction) -> tuple[str, ...]:
    if declared is None or abs(declared / rate - 1) < Fraction(1, 1000):
        return ()
    return (
        f"The file states {shown_rate(declared)} pictures per second, its time stamps say "
        f"{shown_rate(rate)}: the time stamps were followed.",
    )
