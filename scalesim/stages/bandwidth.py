"""A stage for the analogue path along a line: how much detail its bandwidth lets through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scalesim.core.build import filter_lines
from scalesim.core.mode import MODES, mode_name_for
from scalesim.core.operator import FieldOperator, mixing
from scalesim.core.raster import Raster
from scalesim.errors import ParameterError
from scalesim.schema import param
from scalesim.stages._base import LinearStage, stage

_SPECTRUM_POINTS = 4096
_SMALLEST_TAP = 1e-4
"""Taps below this share of the largest are left off: less than half a code of 8 bits in all."""


@stage("band-limit", example={"mhz": 4.2, "pixel_clock_mhz": 13.5})
@dataclass(frozen=True, kw_only=True)
class BandLimit(LinearStage):
    """Analogue bandwidth along a line: Butterworth magnitude without its phase.

    |H(f)| = 1 / sqrt(1 + (f / mhz)^(2 order)), -3 dB at `mhz`. Samples become frequencies by the pixel
    clock: the active samples over the active time of a line. It comes from the raster's mode; a
    custom raster needs `pixel_clock_mhz`. The line is taken to go on beyond its ends as it ends.

    Source: S. Butterworth, "On the theory of filter amplifiers", 1930, for the magnitude.
    """

    mhz: float = param(unit="MHz", above=0, at_most=1000, doc="frequency of -3 dB")
    order: int = param(4, type="whole", at_least=1, at_most=16, doc="order of the Butterworth magnitude")
    pixel_clock_mhz: float | None = param(
        None, unit="MHz", above=0, at_most=2000, doc="samples per microsecond; default from the mode"
    )

    def operator(self, before: Raster) -> FieldOperator:
        """Return the symmetric filter along the line, in code values (the voltage)."""
        cutoff = self.mhz / self.clock_mhz(before)
        taps = butterworth_taps(cutoff, self.order, before.samples)
        matrix = filter_lines(before.samples, tuple(taps))
        return FieldOperator((mixing(samples=matrix, encoding="code"),))

    def clock_mhz(self, before: Raster) -> float:
        """Return the samples per microsecond of the active line."""
        if self.pixel_clock_mhz is not None:
            return self.pixel_clock_mhz
        name = mode_name_for(before.lines, before.scan == "interlaced", before.rate)
        if name == "custom":
            raise ParameterError(
                f"band-limit: pixel_clock_mhz is not given and {before.describe()} is no known mode; "
                "give pixel_clock_mhz=… (13.5 for 720 samples of standard definition)"
            )
        return before.samples / active_microseconds(name)


def active_microseconds(mode: str) -> float:
    """Return the active time of a line of a mode, in microseconds."""
    from scalesim.core.mode import mode_named

    found = MODES.get(mode) or mode_named(mode)
    return float(found.samples / found.clock_hz * 1_000_000)


def butterworth_taps(cutoff: float, order: int, most: int) -> NDArray:
    """Return symmetric taps with the Butterworth magnitude, sum 1.

    Parameters:
        cutoff : -3 dB frequency in cycles per sample; above 1/2 little is left to do
        most : longest half-length worth having, in samples
    """
    frequency = np.fft.rfftfreq(_SPECTRUM_POINTS)
    response = 1.0 / np.sqrt(1.0 + (frequency / cutoff) ** (2 * order))
    impulse = np.fft.irfft(response, _SPECTRUM_POINTS)[: min(most, _SPECTRUM_POINTS // 2)]
    length = int(np.nonzero(np.abs(impulse) >= _SMALLEST_TAP * impulse[0])[0][-1]) + 1
    half = impulse[:length]
    taps = np.concatenate([half[:0:-1], half])
    return taps / taps.sum()
