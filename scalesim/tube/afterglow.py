"""Afterglow: how much of each field's light falls into the time a shutter is open.

A phosphor dot is lit for an instant, once a field, and then its light dies away exponentially:
exp(-t / tau) / tau of the whole, with tau = t10 / ln 10 for a decay to 10 % in t10. Red, green and blue
have each their own. The beam goes down the screen in the active part of the field, so a short
shutter sees a band. Common practice for the exponential, no published source: real phosphors have a
weak, longer tail.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from scalesim.errors import ParameterError, ShapeError
from scalesim.tube.screen import Screen

ACTIVE_SHARE = 0.92
"""Share of a field in which the beam draws: 240 of 262.5 lines are 0.914, 288 of 312.5 are 0.922."""

_NOTHING = 1e-7


def time_constant(decay_ms: float) -> float:
    """Return tau in seconds of a decay to 10 % in `decay_ms`."""
    return decay_ms / 1000.0 / math.log(10.0)


def lit_times(screen: Screen) -> NDArray:
    """Return when in its field each dot row is lit, as a share of the field; (height,) float64."""
    first, last = screen.cut.lines
    rows = first + (last - first) * (np.arange(screen.height) + 0.5) / screen.height
    return ACTIVE_SHARE * rows / screen.raster.lines


def open_share(lit_s: NDArray, opens_s: float, closes_s: float, tau_s: NDArray) -> NDArray:
    """Return the share of the light of an instant's flash that falls between two times; 0..1.

    Parameters:  lit_s, tau_s : seconds, of shapes that broadcast
    """
    before = np.exp(-np.maximum(opens_s - lit_s, 0.0) / tau_s)
    share: NDArray = before - np.exp(-np.maximum(closes_s - lit_s, 0.0) / tau_s)
    return share


def exposure(
    fields: Iterable[NDArray],
    rate: Fraction | float,
    seconds: float,
    decay_ms: tuple[float, float, float],
    *,
    start_s: float = 0.0,
    lit: NDArray | None = None,
) -> NDArray:
    """Return the mean light over the time a shutter is open.

    Parameters:
        fields : (rows, dots, 3) light of each field over its own time, as `Screen.field` gives it; field
            k begins k / rate after the start. May be endless; read no further than needed
        rate : fields per second, Hz
        seconds : how long the shutter is open, above 0
        decay_ms : to 10 %, of red, green and blue, as `Display.decay_ms`
        start_s : when it opens; what was lit before field 0 is not known, so open it some fields in
        lit : (rows,) when in its field each row is lit, as `lit_times` gives it; None lights all at once
            as the field begins
    Returns: (rows, dots, 3) float32; a steady picture under a long shutter gives its own light
    Raises: ParameterError for a time or rate out of range, ShapeError when the fields end too early
    """
    _check(rate, seconds, decay_ms, start_s)
    closes = start_s + seconds
    tau = np.array([time_constant(value) for value in decay_ms])
    total: NDArray | None = None
    field_s = 1.0 / float(rate)
    gain = field_s / seconds
    shown = 0
    for shown, light in enumerate(fields, start=1):
        begins = (shown - 1) * field_s
        if total is None:
            total = np.zeros(light.shape, dtype=np.float32)
        times = begins + field_s * (np.zeros(len(light)) if lit is None else lit)
        share = gain * open_share(times[:, None], start_s, closes, tau)
        if share.max() > _NOTHING:
            total += light * share[:, None, :].astype(np.float32)
        if begins + field_s >= closes:
            return total
    raise ShapeError(
        f"afterglow: the shutter closes at {closes:g} s and the {shown} fields end at {shown * field_s:g} s; "
        "give more fields or open it sooner"
    )


def _check(
    rate: Fraction | float, seconds: float, decay_ms: tuple[float, float, float], start_s: float
) -> None:
    for key, value, zero in (
        ("rate", rate, False),
        ("seconds", seconds, False),
        ("start_s", start_s, True),
        *(("decay_ms", part, False) for part in decay_ms),
    ):
        if not math.isfinite(value) or value < 0 or (value == 0 and not zero):
            limit = "0 or more" if zero else "above 0"
            raise ParameterError(f"afterglow: {key} is {value!r}; it must be a finite number {limit}")
