"""Several short records of one signal taken together: what they decide, and what they cannot."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from scalesim.signal.waveform.timing import Timing
from scalesim.signal.waveform.verdict import NEAR, WOULD_TELL, Verdict, verdict_of

ONE_SOURCE = 1e-3
"""Line rates further apart than this are not of one signal."""


def verdict_together(timings: Sequence[Timing]) -> Verdict:
    """Return the verdict of records of one signal, each of which may be too short alone.

    A record that holds two vertical syncs decides. Without one, vertical syncs that begin at a line and
    others that begin half a line off are the two fields of an interlaced signal. Only one kind decides
    nothing: an oscilloscope may have stopped at the same field every time.
    """
    alone = [verdict_of(timing) for timing in timings]
    decided = [verdict for verdict in alone if verdict.answer != "unknown"]
    rates = [timing.line_rate_hz for timing in timings]
    if max(rates) / min(rates) - 1 > ONE_SOURCE:
        both = f"{min(rates):.0f} and {max(rates):.0f} Hz"
        said = f"the records have line rates of {both}, so they are of two signals"
        return Verdict("unknown", said, "records of one signal")
    if len({verdict.answer for verdict in decided}) > 1:
        said = "the records disagree: " + " and ".join(sorted({verdict.answer for verdict in decided}))
        return Verdict("unknown", said, WOULD_TELL)
    if decided:
        return max(decided, key=lambda verdict: len(verdict.lines))
    if len(timings) == 1:
        return _hinted(timings[0], alone[0])
    return _by_phase(timings)


def _phases(timings: Sequence[Timing]) -> tuple[list[float], list[float]]:
    """Return phases of vertical syncs near a line's beginning, and near its middle."""
    phases = [each.phase for timing in timings for each in timing.verticals if each.ragged <= 2]
    return (
        [p for p in phases if min(p, 1 - p) < NEAR],
        [p for p in phases if abs(p - 0.5) < NEAR],
    )


def _hinted(timing: Timing, verdict: Verdict) -> Verdict:
    _, halves = _phases([timing])
    if len(timing.verticals) == 1 and halves and not timing.separate:
        more = (
            f"{verdict.why}; it begins {halves[0]:.3f} line after the begin of one, near the half that every "
            "second field of an interlaced signal has, but that alone does not tell"
        )
        return Verdict("unknown", more, verdict.would_tell, lines=verdict.lines)
    return verdict


def _by_phase(timings: Sequence[Timing]) -> Verdict:
    wholes, halves = _phases(timings)
    count = len(wholes) + len(halves)
    if wholes and halves:
        at_line = float(np.mean([(p + 0.5) % 1 - 0.5 for p in wholes]))
        offset = float(np.mean(halves)) - at_line
        error = max(timing.grid.jitter_us / timing.grid.period_us for timing in timings)
        return Verdict("interlaced", offset=offset, error=error, confidence=0.95)
    if not count:
        return Verdict("unknown", f"none of the {len(timings)} records holds a vertical sync", WOULD_TELL)
    what, near = ("beginning", [(p + 0.5) % 1 - 0.5 for p in wholes]) if wholes else ("middle", halves)
    most = max(abs(p - (0.0 if wholes else 0.5)) for p in near)
    where = f"within {max(most, 0.001):.3f} line of the {what} of a line"
    return Verdict(
        "unknown",
        f"all {count} vertical syncs in {len(timings)} records begin {where}; the oscilloscope may have "
        "stopped at the same field every time",
        f"{WOULD_TELL}; or more short records, triggered by hand",
    )
