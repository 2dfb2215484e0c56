"""band-limit against the Butterworth magnitude, and its samples' frequencies against the modes."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from scalesim.chain import Chain
from scalesim.core.raster import TOP_FIRST, Raster
from scalesim.errors import ParameterError
from scalesim.stages.bandwidth import BandLimit, active_microseconds, butterworth_taps


@pytest.mark.parametrize("cutoff", [0.05, 0.1, 0.2, 0.31, 0.42])
@pytest.mark.parametrize("order", [1, 2, 4, 8])
def test_magnitude_is_butterworths(cutoff: float, order: int) -> None:
    """Against scipy.signal.butter(analog=True), whose magnitude is 1/sqrt(1 + (f/fc)^2n): within 0.5 %."""
    from scipy import signal

    taps = butterworth_taps(cutoff, order, 2000)
    frequency = np.linspace(0, 0.45, 60)
    _, response = signal.freqz(taps, worN=2 * np.pi * frequency)
    b, a = signal.butter(order, 2 * np.pi * cutoff, analog=True)
    _, analogue = signal.freqs(b, a, worN=2 * np.pi * np.maximum(frequency, 1e-6))
    # a first-order spectrum has not ended at half the sampling rate, where a sampled filter has to
    limit = 0.02 if order == 1 else 0.005
    assert np.abs(np.abs(response) - np.abs(analogue)).max() < limit
    _, other = signal.freqs(
        *signal.butter(order + 1, 2 * np.pi * cutoff, analog=True),
        worN=2 * np.pi * np.maximum(frequency, 1e-6),
    )
    assert np.abs(np.abs(response) - np.abs(other)).max() > limit, "another order is told apart"


def test_linear_phase_and_gain() -> None:
    """Symmetric taps of sum 1: nothing moves, a flat picture stays."""
    taps = butterworth_taps(0.2, 4, 500)
    assert np.array_equal(taps, taps[::-1])
    assert taps.sum() == pytest.approx(1)


def test_pixel_clock_comes_from_the_mode() -> None:
    """720 samples of 480i or 240p last 53.33 us (CTA-861, 13.5 MHz); 640 last as long."""
    fields = Raster(240, 720, Fraction(60000, 1001), TOP_FIRST)
    assert BandLimit(mhz=4.2).clock_mhz(fields) == pytest.approx(13.5)
    assert BandLimit(mhz=4.2).clock_mhz(Raster(240, 640)) == pytest.approx(12)
    assert BandLimit(mhz=4.2).clock_mhz(Raster(720, 1280)) == pytest.approx(74.25)
    assert BandLimit(mhz=4.2, pixel_clock_mhz=10).clock_mhz(Raster(333, 100)) == 10
    assert active_microseconds("480i59.94") == pytest.approx(53.3333, abs=1e-4)


def test_a_custom_raster_needs_its_clock() -> None:
    """No mode, no frequency: refused with the remedy."""
    with pytest.raises(ParameterError, match="give pixel_clock_mhz"):
        Chain("band-limit mhz=4").resolve(Raster(333, 100))


def test_minus_three_decibels_on_a_grating() -> None:
    """A grating at the cutoff keeps 1/sqrt(2) of its contrast, one far below keeps it all."""
    raster = Raster(240, 720)
    across = np.arange(720) / 13.5
    for mhz, share in ((4.0, 2**-0.5), (0.5, 1.0)):
        line = 0.5 + 0.4 * np.cos(2 * np.pi * mhz * across)
        frame = np.broadcast_to(line[None, :, None], (240, 720, 3)).copy()
        out = Chain("band-limit mhz=4").operator(raster).phases[0](frame)[0, 100:-100, 0]
        assert np.sqrt(2) * out.std() / 0.4 == pytest.approx(share, abs=0.01)
