"""How sensitive the eye is to light that alternates: one published model of temporal sensitivity.

The model is that of display metrology (Information Display Measurements Standard, section 10.6, after
A. B. Watson and A. J. Ahumada, SID Symposium Digest 42, 2011, 957-959),

    S(f) = |148.7 [(1 + i 2 pi f tau)^-15 - 0.882 (1 + i 2 pi f 1.834 tau)^-16]|,   tau = 2.67 ms

the reciprocal of the least visible amplitude, as a share of the mean light, of a large uniform field
that alternates at f hertz. Models differ widely near the fusion frequency (at 30 Hz by more than
10 dB), so a figure weighted by this one compares only with figures weighted by this one.
"""

from __future__ import annotations

from math import log10, pi

MODEL = "Watson & Ahumada 2011 (IDMS 10.6)"
"""Name of the model, to stand beside every figure weighted by it."""

PEAK_HZ = 8.585
"""Where the sensitivity is greatest."""

_GAIN = 148.7
_INHIBITION = 0.882
_TAU = 0.00267
_TAU_RATIO = 1.834


def sensitivity(hertz: float) -> float:
    """Return S at a frequency of 0 or more: 1 / least visible share of the mean light."""
    turn = 2j * pi * hertz * _TAU
    return abs(_GAIN * ((1 + turn) ** -15 - _INHIBITION * (1 + _TAU_RATIO * turn) ** -16))


def weight_db(hertz: float) -> float:
    """Return 20 log10 of the sensitivity relative to its peak, 0 dB or less: -16.1 dB at 30 Hz."""
    return 20 * log10(sensitivity(hertz) / sensitivity(PEAK_HZ))
