"""How tears roll, and how far two clocks are apart by them, in sentences that say no more than the fit."""

from __future__ import annotations

from collections.abc import Iterator
from math import floor, log10

from scalesim.jobs.motion.clock import Clocks
from scalesim.jobs.motion.rates import Roll

_NEAR = 0.05
"""Difference, of the rate, up to which parts in a million and a drift mean something."""
_FAST = 0.25
"""Of the height: a tear that moves farther from picture to picture may as well have come round."""
_STANDS = 0.05
"""Lines a picture below which a tear stands."""


def roll_words(roll: Roll, unit: str, height: int) -> str:
    """Return how the tear moves from one picture, or field, of so many lines to the next."""
    if abs(roll.lines) < _STANDS and roll.spread < 2:
        return (
            f"The tear stands: from one {unit} to the next it moves {roll.lines:+.2f} lines (n {roll.pairs})."
        )
    way = "down" if roll.lines > 0 else "up"
    if roll.spread > max(4.0, abs(roll.lines)):
        return f"The tear jumps about from one {unit} to the next (n {roll.pairs})."
    if abs(roll.lines) > _FAST * height:
        near, far = ("lower", "higher") if roll.lines > 0 else ("higher", "lower")
        return (
            f"From one {unit} to the next the tear lies about {abs(roll.lines):.0f} lines {near}, or "
            f"{height - abs(roll.lines):.0f} {far}: a tear that comes round so fast shows no direction (n "
            f"{roll.pairs})."
        )
    by = f"{abs(roll.lines):.2g}" if abs(roll.lines) < 10 else f"{abs(roll.lines):.0f}"
    lines = "line" if by == "1" else "lines"
    return f"The tear rolls {way} by {by} {lines} from one {unit} to the next (n {roll.pairs})."


def clock_words(found: Clocks, unit: str) -> Iterator[str]:
    """Yield the source's rate, how far it is from the capture's, and what was taken for granted."""
    error = 2 * found.apart_error_hz
    rate = with_error(found.source_hz, error)
    told = f"n {found.tears} tears in {found.seconds:.3g} s"
    yield (
        f"By where the tears lie, source pictures pass at {rate} a second by the capture's clock, whose "
        f"{unit}s come at {found.rate:.3f}: {_apart(found, error)} ({told}; errors are two standard errors)."
    )
    if not found.measured:
        yield (
            "The tears do not pass through the whole picture, so they do not show how much of the time is "
            "blanking: 0 to 10 % is taken, and the doubt of that is in the error."
        )


def _apart(found: Clocks, error: float) -> str:
    if abs(found.apart_hz) < error:
        most = abs(found.apart_hz) + error
        drift = f"{_two(1e6 * most / found.rate)} ppm, a drift of {_two(1e6 * most / found.rate)} \u00b5s/s"
        return f"no difference shows, and one of {_two(most)} Hz ({drift}) would"
    way = "more" if found.apart_hz > 0 else "less"
    hz = f"{with_error(abs(found.apart_hz), error)} Hz {way}"
    if abs(found.ratio - 1) > _NEAR:
        return hz
    drift = with_error(abs(found.drift_us_per_s), 2 * found.drift_error_us_per_s)
    return f"{hz}, {with_error(abs(found.ppm), 2e6 * found.error)} ppm, a drift of {drift} \u00b5s/s"


def with_error(value: float, error: float) -> str:
    """Return a value and its error to the two digits of the error that mean something."""
    places = min(max(1 - floor(log10(error)), 0), 9) if error > 0 else 9
    return f"{value:.{places}f} \u00b1 {error:.{places}f}"


def _two(value: float) -> str:
    """Return a number above nothing with two digits."""
    places = min(max(1 - floor(log10(value)), 0), 9)
    return f"{value:.{places}f}"
