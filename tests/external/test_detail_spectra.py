"""Detail kept and false detail against closed forms for linear chains.

A texture of random phase has a spectrum P and nothing that foretells one frequency from another. A chain's
output line r holds taps; their discrete Fourier transform, referred to the place the line looks at, is
a_r(v). Over the q lines after which the taps repeat,

- mean over r of a_r is what stays at its own frequency: the response H,
- the other terms of the Fourier series in r move the frequency by m/q cycle per output line, and whole
  cycles per line are not told apart: folded, they are the aliases.

So kept^2 = sum |H|^2 P / sum P and false^2 = sum of the folded rest / sum P over the band, both divided by
the response at low frequencies. Source: sampling theory (periodically time-varying filters), e.g. Vaidyanathan,
"Multirate Systems and Filter Banks", 1993, ch. 4 and 10, from memory. How got: NumPy's FFT of the rows of the
chain's matrix; nothing of the measure's own windows, columns or fits.
"""

from __future__ import annotations

from math import gcd

import numpy as np
import pytest
from external.chains import Array
from metrics.evidence import evidence_of

from scalesim.metrics import Evidence, measure

CHAINS = {
    "drop": "line-drop lines=240 phase=1",
    "average": "line-average lines=240",
    "average, drop": "line-average lines=480, line-drop lines=240",
    "linear 1/2": "resample lines=240 kernel=linear antialias=off phase=0.5",
    "Lanczos-3": "resample lines=240 kernel=lanczos3",
    "one set": "line-average lines=480, interlace, field-only pair=down",
    "one set 1/2/1": "line-average lines=480, flicker-filter taps=1/2/1, interlace, field-only pair=down",
    "480i": "line-average lines=480, interlace",
    "480i 1/2/1": "line-average lines=480, flicker-filter taps=1/2/1, interlace",
}
LINES = 720
SPECTRA = {"even": 0.0, "falling": 1.0, "steep": 2.0}
"""Powers of 1/v by which the spectrum falls above a fiftieth of a cycle per source line."""


def power(fall: float) -> Array:
    """Return P at the frequencies of an FFT over the lines."""
    return (1 + (np.abs(np.fft.fftfreq(LINES)) * 50) ** 2) ** (-fall / 2)


def texture(fall: float, samples: int = 240, seed: int = 0) -> Array:
    """Return a grey texture of random phase, faint enough for light and code values to mix alike."""
    white = np.random.RandomState(seed).normal(size=(LINES, samples))
    waves = np.fft.fft(white, axis=0) * np.sqrt(power(fall))[:, None]
    grey = np.fft.ifft(waves, axis=0).real
    grey *= 0.012 / grey.std()
    return np.repeat((0.5 + grey)[:, :, None], 3, axis=2).astype(np.float32)


def closed_form(evidence: Evidence, fall: float) -> tuple[float, float]:
    """Return kept and false of a chain for a texture of that spectrum, from the chain's weights alone."""
    assert evidence.weights is not None
    out, spectrum = evidence.weights.shape[0], power(fall)
    repeat = out // gcd(out, LINES)
    first = out // 2 // repeat * repeat
    numbers = np.fft.fftfreq(LINES, 1 / LINES).astype(int)  # cycles per picture height, -360 .. 359
    responses = []
    for row in range(first, first + repeat):
        looks_at = evidence.lines(row + 0.5) - 0.5
        taps = np.conj(np.fft.fft(evidence.weights[row]))
        responses.append(taps * np.exp(-2j * np.pi * numbers / LINES * looks_at))
    series = np.fft.fft(np.array(responses), axis=0) / repeat
    folded = np.zeros(out)
    for moved, response in enumerate(series):
        np.add.at(folded, (numbers + moved * out // repeat) % out, np.abs(response) ** 2 * spectrum)
    band = np.arange(out // 8, out // 2 + 1)
    ends = np.ones(len(band))
    ends[[0, -1]] = 0.5
    own = np.abs(series[0, band]) ** 2 * spectrum[band]
    low = np.array([4, 8])  # cycles per picture height: the first two of a window of a quarter of it
    gain = (np.abs(series[0, low]) * spectrum[low]).sum() / spectrum[low].sum()
    whole = (ends * spectrum[band]).sum() * gain**2
    return float(np.sqrt((ends * own).sum() / whole)), float(np.sqrt((ends * (folded[band] - own)).sum() / whole))


@pytest.mark.parametrize("fall", SPECTRA)
@pytest.mark.parametrize("chain", CHAINS)
def test_linear_chains_keep_what_their_taps_say(chain: str, fall: str) -> None:
    """Both within 2 % of the closed form (and 0.002 where next to nothing is false)."""
    evidence = evidence_of(texture(SPECTRA[fall]), CHAINS[chain], "custom")
    values, why = measure(evidence, ["detail_kept", "false_detail"])
    assert not why
    kept, false = closed_form(evidence, SPECTRA[fall])
    assert values["detail_kept"] == pytest.approx(kept, rel=0.02)
    assert values["false_detail"] == pytest.approx(false, rel=0.02, abs=0.002)
