"""Tone from a grey ramp: what a capture's path did to the levels, and its inverse.

The model is ``captured = lift + gain * level**gamma`` on code values, fitted to the steps of the ramp
that are not clipped.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LIMITED_AS_FULL = (219 / 255, 16 / 255)
"""Gain and lift when limited-range codes (black 16, white 235) are shown as full-range ones."""
FULL_AS_LIMITED = (255 / 219, -16 / 219)
"""Gain and lift when full-range codes are stretched as if they were limited-range ones."""

_SETTLED = 1e-12
"""Relative changes at which the fit stops: nothing is to be seen of where it started."""


@dataclass(frozen=True)
class Tone:
    """captured = lift + gain * level**gamma, code values.

    Parameters:
        lift, gain, gamma : of the model
        residual : rms misfit of the steps, code values
        floor, ceiling : captured values at and beyond which the steps are clipped; -inf and inf if none is
    """

    lift: float = 0.0
    gain: float = 1.0
    gamma: float = 1.0
    residual: float = 0.0
    floor: float = -np.inf
    ceiling: float = np.inf

    def level(self, captured: NDArray) -> NDArray:
        """Return the chart's levels of captured values; the slope goes on straight below 2 % of level."""
        x = (np.asarray(captured) - self.lift) / self.gain
        low = 0.02
        edge = low**self.gamma
        slope = self.gamma * low ** (self.gamma - 1)
        return np.where(x > edge, np.maximum(x, edge) ** (1 / self.gamma), low + (x - edge) / slope)

    def range_mistake(self) -> str | None:
        """Return "limited shown as full" or "full stretched as limited" when gain and lift say so."""
        if abs(self.gamma - 1) > 0.03:
            return None
        for name, (gain, lift) in (
            ("limited shown as full", LIMITED_AS_FULL),
            ("full stretched as limited", FULL_AS_LIMITED),
        ):
            if abs(self.gain - gain) < 0.02 and abs(self.lift - lift) < 0.012:
                return name
        return None


def fit_tone(levels: NDArray, captured: NDArray, darkest: float, brightest: float) -> Tone:
    """Fit the tone of a ramp.

    Parameters:
        levels : (n,) levels drawn, 0..1
        captured : (n,) what the capture shows of them, code values; NaN where a step is out of the picture
        darkest, brightest : smallest and largest value anywhere in the capture, where clipping would sit
    Returns: the `Tone`; with fewer than 5 usable steps, the identity with an infinite residual
    """
    clipped_low = captured < darkest + 0.006
    clipped_high = captured > brightest - 0.006
    # one step at an end is just the darkest; two alike are clipped
    low_end = clipped_low.sum() > 1 or darkest <= 0.003
    high_end = clipped_high.sum() > 1 or brightest >= 0.997
    usable = np.isfinite(captured)
    if low_end:
        usable &= ~clipped_low
    if high_end:
        usable &= ~clipped_high
    if usable.sum() < 5:
        return Tone(residual=float("inf"))
    tone = _fitted(levels[usable], captured[usable])
    return Tone(
        *tone,
        floor=float(darkest) if low_end else -np.inf,
        ceiling=float(brightest) if high_end else np.inf,
    )


def _fitted(x: NDArray, y: NDArray) -> tuple[float, float, float, float]:
    """Return (lift, gain, gamma, residual) of the least-squares fit, gamma within 0.3 .. 3."""
    from scipy.optimize import least_squares

    fit = least_squares(
        lambda tone: tone[0] + tone[1] * x ** tone[2] - y,
        x0=(0.0, 1.0, 1.0),
        bounds=((-np.inf, -np.inf, 0.3), (np.inf, np.inf, 3.0)),
        **dict.fromkeys(("ftol", "xtol", "gtol"), _SETTLED),
    )
    lift, gain, gamma = (float(value) for value in fit.x)
    return lift, gain, gamma, float(np.sqrt(np.mean(fit.fun**2)))
