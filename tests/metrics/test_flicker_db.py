"""Weighted flicker against values derived by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import log10

import numpy as np
import pytest
from metrics.evidence import evidence_of, grey

from scalesim.core.raster import Window
from scalesim.errors import NotMeasurable
from scalesim.metrics import Evidence, key_of, measure
from scalesim.metrics.flicker.decibel import flicker_db

# S(f) / S(peak) from the published values of the model, so that nothing here runs the code under test
NTSC_FIELDS = Fraction(60000, 1001)
AT_29_97 = 27.240 / 173.107
AT_25 = 44.785 / 173.107


def alternating(
    first: float, second: float, chain: str = "interlace", rate: Fraction = NTSC_FIELDS
) -> Evidence:
    """Return evidence of fields that hold one light each, 1 being white."""
    frame = np.empty(480)
    frame[0::2], frame[1::2] = first ** (1 / 2.4), second ** (1 / 2.4)
    evidence = evidence_of(grey(frame, 16), chain)
    return replace(evidence, raster=evidence.raster.with_(rate=rate))


@pytest.mark.parametrize("chain", ["interlace", "interlace, field-only", "interlace, field-only pair=up"])
def test_ten_percent_of_contrast(chain: str) -> None:
    """Light 0.55 and 0.45 in turn: mean 0.5, contrast 10 %.

    Pulses 1.1, 0.9, 1.1, 0.9 of the mean: their Fourier series has an amplitude of 1.1 - 0.9 = 0.2 of
    the mean at half the field rate. 20 log10(0.2) = -13.98 dB, and S(29.97)/S_peak = -16.06 dB.
    """
    expected = -13.979 + 20 * log10(AT_29_97)
    # pair=up shows its first scan line in one field only: 1/480 of the light is missing, 0.02 dB
    assert flicker_db(alternating(0.55, 0.45, chain))[0] == pytest.approx(expected, abs=0.025)
    assert expected == pytest.approx(-30.04, abs=0.01)


def test_the_series_of_pulses() -> None:
    """What the test above takes from the Fourier series, found by a transform of the pulses themselves."""
    light = np.zeros(2000)
    light[0], light[1000] = 0.55, 0.45
    bins = np.abs(np.fft.rfft(light))
    assert 2 * bins[1] / bins[0] == pytest.approx(0.2)


def test_one_field_alone() -> None:
    """White and black fields: amplitude twice the mean, +6.02 dB before weighting."""
    expected = 20 * log10(2) + 20 * log10(AT_29_97)
    assert flicker_db(alternating(1.0, 0.0))[0] == pytest.approx(expected, abs=0.01)


def test_fifty_fields_flicker_more() -> None:
    """25 Hz is seen better than 29.97 Hz: S(25)/S(29.97) = 44.785/27.240, 4.32 dB."""
    slow, fast = (flicker_db(alternating(0.6, 0.4, rate=rate))[0] for rate in (Fraction(50), NTSC_FIELDS))
    assert slow - fast == pytest.approx(20 * log10(AT_25 / AT_29_97), abs=0.002)
    assert slow - fast == pytest.approx(4.32, abs=0.01)


def test_a_weighting_of_another_model_would_be_noticed() -> None:
    """-3 dB at 30 Hz, as in the table of older flicker meters (from memory), is 13 dB away."""
    weighted = flicker_db(alternating(0.55, 0.45))[0]
    assert abs(weighted - (20 * log10(0.2) - 3)) > 13


def test_one_line_of_a_grey_picture_by_hand() -> None:
    """A white line in one field of light 1/4: excess 3/4, painted 3/8, 3/4, 3/8.

    rms^2 = (9/16)(1/4 + 1 + 1/4) / rows = (27/32) / rows; mean light 1/4 + (3/4)/480.
    """
    frame = np.full(480, 0.25 ** (1 / 2.4))
    frame[100] = 1.0
    evidence = evidence_of(grey(frame, 16), "interlace")
    rows = 478  # frame lines both fields reach: 0 to 478 and 1 to 479
    rms, mean = (27 / 32 / rows) ** 0.5, 0.25 + 0.75 / 480
    assert evidence.raster.rate == 60, "a custom frame is taken at 60 Hz"
    expected = 20 * log10(rms / mean) + 20 * log10(27.156 / 173.107)
    assert flicker_db(evidence)[0] == pytest.approx(expected, abs=0.001)


def test_only_what_is_seen_counts() -> None:
    """A flickering line in the hidden part leaves a steady picture."""
    frame = np.full(480, 0.5)
    frame[2] = 1.0
    evidence = evidence_of(grey(frame, 16), "interlace")
    assert flicker_db(evidence)[0] > -80
    hidden = replace(evidence, raster=evidence.raster.with_(visible=Window(top=0.1)))
    with pytest.raises(NotMeasurable, match="steady"):
        flicker_db(hidden)


@pytest.mark.parametrize(
    ("frame", "chain", "reason"),
    [
        (np.full(480, 0.6), "interlace", "nothing alternates"),
        (np.arange(480) % 7 / 7, "line-drop lines=240", "nothing alternates"),
        (np.zeros(480), "interlace", "black"),
        (np.zeros(480), "line-drop lines=240", "black"),
    ],
)
def test_none_with_a_reason(frame: np.ndarray, chain: str, reason: str) -> None:
    """A steady or black picture has no figure, and says why."""
    values, why = measure(evidence_of(grey(frame, 16), chain), ["flicker_db"])
    assert values == {"flicker_db": None}
    assert reason in why["flicker_db"]


def test_filtering_lowers_it() -> None:
    """The picture's own mean hardly changes, its alternation does: 1/2/1 against no filter, one code."""
    frame = grey(np.random.RandomState(2).rand(480), 16)
    plain, filtered = (
        flicker_db(evidence_of(frame, c))[0] for c in ("interlace", "flicker-filter, interlace")
    )
    assert filtered < plain - 6
    assert key_of("flicker_db").better == "lower"
