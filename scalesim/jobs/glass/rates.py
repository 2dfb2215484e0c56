"""At which field rate a film explains itself, and whether another rate would leave a second set unseen.

A tube whose fields come an even number to a frame shows one parity in frame after frame, whether it has one
set of lines or two. "One set" is then only known where the field rate is: by what the user says, or because
bands of light run over the frames, which stand still where fields and frames go together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from scalesim.jobs.glass.steady import Part
from scalesim.signal.glass.exposure import unknown
from scalesim.signal.glass.film import Rows
from scalesim.signal.glass.timing import Timed, timed

OTHER_RATE, USUAL_RATE = 50.0, 59.94
APART = 0.05
"""Least cost of two sets over one at every rate that may be, for "one set"."""
LOCKED = 0.005
"""Pairs of fields a frame off a whole number: bands move by a tenth of a frame in ten frames at most."""
BANDS = 8
RUNNING = 0.1
"""rms step of a band's light from frame to frame, natural log, from which bands run over the frames."""


def timed_at(part: Part, field_rate: float, shutter: float | None) -> Timed:
    """Return what a part's timing says, at the field rate that explains it best.

    The rate is taken as given where it is not the usual one; else 50 a second is tried as well.
    """
    rates = (field_rate, OTHER_RATE) if field_rate == USUAL_RATE else (field_rate,)
    told = [_timed(part, rate, shutter) for rate in rates]
    best = max(told, key=lambda each: (each.landing.sets == "two", each.landing.confidence))
    if best.landing.sets != "one":
        return best
    hidden = [each.rate for each in told if each.difference > -APART]
    if running(part.rows):
        hidden = [rate for rate in hidden if not locked(rate, part.rate)]
    if not hidden:
        return best
    other = 50 if hidden[0] > 55 else 60
    reason = (
        f"at {part.rate:.2f} frames a second a tube of {hidden[0]:g} fields a second shows much the same "
        "parity of field in frame after frame, so that a second set would not be seen; film at 60 or 50 a "
        f"second, or give --field-rate {other} where the tube draws about {other} fields"
    )
    return replace(best, landing=unknown(reason))


def _timed(part: Part, rate: float, shutter: float | None) -> Timed:
    return timed(
        part.rows,
        part.reader.lines,
        part.reader.places,
        rate=rate,
        field_lines=262.5 if rate > 55 else 312.5,
        shutter=shutter,
        pitch=part.measured.period,
    )


def locked(rate: float, frames: float) -> bool:
    """Tell whether an even number of fields goes to a frame, so that bands of light stand still."""
    pairs = rate / frames / 2
    return round(pairs) > 0 and abs(pairs - round(pairs)) < LOCKED


def running(rows: Sequence[Rows]) -> bool:
    """Tell whether bands of light run over the frames, as they do where fields and frames are out of step.

    The light of `BANDS` parts of the rows, each of its frame's mean, is compared from frame to frame.
    """
    if len(rows) < 3:
        return False
    parts = np.array([[p.sum() for p in np.array_split(each.weight, BANDS)] for each in rows])
    lit = parts.mean(axis=0) > 0.1 * parts.mean()
    if lit.sum() < 3:
        return False
    share = np.log(np.maximum(parts[:, lit], 1e-9))
    share -= share.mean(axis=1, keepdims=True)
    return bool(np.sqrt(np.mean(np.diff(share, axis=0) ** 2)) > RUNNING)
