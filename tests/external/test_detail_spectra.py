"""Detail kept and false detail against closed forms for linear chains.

A texture of random phase has a spectrum P and nothing that foretells one frequency from another. A chain's
output line r holds taps; their discrete Fourier transform, referred to the place the line looks at, is
a_r(v). Over the q lines after which the taps repeat,

- mean over r of a_r is what stays at its own frequency: the response H,
- the other terms of the Fourier series in r move the frequency by m/q cycle per output line, and whole
  cycles per line are not told apart: folded, they are the aliases.

So kept^2 = sum |H|^2 P / sum P and false^2 = sum of the folded rest / sum P over the band, both divided by
the response at low frequencies. Source: sampling theory of periodically time-varying filters, e.g.
Vaidyanathan, "Multirate Systems and Filter Banks", 1993, from memory. How got: NumPy's FFT of the rows of
the chain's matrix; nothing of the measure's own windows, columns or fits.
"""

from __future__ import annotations

from dataclasses import replace
from math import gcd

import numpy as np
import pytest
from external.chains import Array
from metrics.evidence import evidence_of

from scalesim.chain import Chain
from scalesim.core.affine import Affine
from scalesim.core.raster import Raster
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
SPECTRA = {"even": 0.0, "falling": 1.0, "steep": 2.0}
"""Powers of 1/v by which the spectrum falls above a fiftieth of a cycle per source line."""


def power(fall: float, size: int = 720) -> Array:
    """Return P at the frequencies of an FFT of `size` lines."""
    return (1 + (np.abs(np.fft.fftfreq(size)) * 50) ** 2) ** (-fall / 2)


def texture(fall: float, samples: int = 960, lines: int = 720) -> Array:
    """Return a grey texture of random phase, faint enough for light and code values to mix alike."""
    white = np.random.RandomState(0).normal(size=(lines, samples))
    waves = np.fft.fft(white, axis=0) * np.sqrt(power(fall, lines))[:, None]
    grey = np.fft.ifft(waves, axis=0).real
    grey *= 0.012 / grey.std()
    return np.repeat((0.5 + grey)[:, :, None], 3, axis=2).astype(np.float32)


def closed_form(
    weights: Array, look: Affine, spectrum: Array, band: Array, low: Array
) -> tuple[float, float]:
    """Return kept and false of an axis for a texture of that spectrum, from the weights alone.

    Parameters:
        weights, look : (out, in) of an axis, and where its middle looks at
        spectrum : P in the order of an FFT of `in`
        band, low : whole cycles per picture of the band and of what tells the gain
    """
    out, size = weights.shape
    repeat = out // gcd(out, size)
    first = out // 2 // repeat * repeat
    numbers = np.fft.fftfreq(size, 1 / size).astype(int)  # cycles per picture
    responses = []
    for row in range(first, first + repeat):
        taps = np.conj(np.fft.fft(weights[row]))
        responses.append(taps * np.exp(-2j * np.pi * numbers / size * (look(row + 0.5) - 0.5)))
    series = np.fft.fft(np.array(responses), axis=0) / repeat
    folded = np.zeros(out)
    for moved, response in enumerate(series):
        np.add.at(folded, (numbers + moved * out // repeat) % out, np.abs(response) ** 2 * spectrum)
    ends = np.ones(len(band))
    ends[[0, -1]] = 0.5
    own = np.abs(series[0, band]) ** 2 * spectrum[band]
    gain = (np.abs(series[0, low]) * spectrum[low]).sum() / spectrum[low].sum()
    whole = (ends * spectrum[band]).sum() * gain**2
    rest = folded[band % out] - own
    return float(np.sqrt((ends * own).sum() / whole)), float(np.sqrt((ends * rest).sum() / whole))


LOW = np.array([4, 8])
"""Cycles per picture of the first two frequencies of a window of a quarter of it."""


def down(evidence: Evidence, fall: float, band: Array | None = None) -> tuple[float, float]:
    """Return the closed form on the lines."""
    assert evidence.weights is not None
    out = evidence.weights.shape[0]
    band = np.arange(out // 8, out // 2 + 1) if band is None else band
    return closed_form(evidence.weights, evidence.lines, power(fall, evidence.weights.shape[1]), band, LOW)


def near(found: float | None, wanted: float, little: float = 0.003) -> None:
    """Within 2 %; `little` where little is false, for a window blurs what changes within its own bandwidth."""
    assert found == pytest.approx(wanted, rel=0.02, abs=little)


@pytest.mark.parametrize("fall", SPECTRA)
@pytest.mark.parametrize("chain", CHAINS)
def test_linear_chains_keep_what_their_taps_say(chain: str, fall: str) -> None:
    evidence = evidence_of(texture(SPECTRA[fall]), CHAINS[chain], "custom")
    values, why = measure(evidence, ["detail_kept", "false_detail"])
    assert not why
    kept, false = down(evidence, SPECTRA[fall])
    near(values["detail_kept"], kept)
    near(values["false_detail"], false)


@pytest.mark.parametrize("lines", [480, 576, 1080])
def test_so_do_other_line_counts(lines: int) -> None:
    """1080 to 240 lines looks at 4.5 source lines: the taps of every other line are alike."""
    evidence = evidence_of(texture(1.0, lines=lines), "line-average lines=240", "custom")
    values, _ = measure(evidence, ["detail_kept", "false_detail"])
    kept, false = down(evidence, 1.0)
    near(values["detail_kept"], kept)
    near(values["false_detail"], false)


@pytest.mark.parametrize(
    ("chain", "band"),
    [
        (CHAINS["average"], (30, 120)),
        (CHAINS["480i"], (30, 120)),
        ("line-average lines=576, interlace", (36, 144)),
        ("line-drop lines=288", (36, 144)),
    ],
)
def test_across_rasters_the_band_is_the_picture_s(chain: str, band: tuple[int, int]) -> None:
    """Cycles per picture height: 30 to 120, and 36 to 144 for 288 and 576 lines."""
    evidence = replace(evidence_of(texture(1.0), chain, "custom"), reference="source")
    values, _ = measure(evidence, ["detail_kept", "false_detail"])
    kept, false = down(evidence, 1.0, np.arange(band[0], band[1] + 1))
    near(values["detail_kept"], kept)
    near(values["false_detail"], false)
    assert f"{band[0]} to {band[1]} cycles per picture height" in evidence.how["detail_kept"]


ALONG = {
    "linear": "resample samples=640 kernel=linear antialias=off",
    "Lanczos-3": "resample samples=720 kernel=lanczos3",
    "band limit": "band-limit mhz=4.2 pixel_clock_mhz=18",
    "lines too": "resample samples=640 lines=240 kernel=linear antialias=off",
}


@pytest.mark.parametrize("chain", ALONG)
def test_along_the_line_too(chain: str) -> None:
    """80 to 320 cycles per picture width; what happens to the lines takes no part."""
    turned = np.ascontiguousarray(texture(1.0, samples=720, lines=960).transpose(1, 0, 2))
    evidence = evidence_of(turned, ALONG[chain], "custom")
    values, why = measure(evidence, ["detail_kept_samples", "false_detail_samples"])
    assert not why
    matrix = Chain(ALONG[chain]).operator(Raster(720, 960)).phases[0].samples
    assert matrix is not None
    kept, false = closed_form(matrix.toarray(), evidence.samples, power(1.0, 960), np.arange(80, 321), LOW)
    near(values["detail_kept_samples"], kept)
    near(values["false_detail_samples"], false, 0.01)  # the band limit ends within one bandwidth of a window
