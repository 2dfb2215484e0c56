"""Clocks against worked values, NumPy's own timelines, and facts of the trade.

Values marked C were computed with fractions apart from this project (drift ``d = |fs - fd|/fs``, wrap
``1/|fs - fd|``). Facts of the trade are common practice, no published source.
"""

from __future__ import annotations

from fractions import Fraction
from math import lcm

import numpy as np
import pytest

from scalesim.core.clocks import Pair, rate_of, there_and_back
from scalesim.core.slip import SlipLaw
from scalesim.errors import ParameterError

F5994 = Fraction(60000, 1001)
P262 = Fraction(13_500_000, 858 * 262)
P263 = Fraction(13_500_000, 858 * 263)
P312 = Fraction(13_500_000, 864 * 312)
P313 = Fraction(13_500_000, 864 * 313)
VIC1 = Fraction(25_175_000, 800 * 525)


@pytest.mark.parametrize(
    ("source", "output", "drift", "wrap"),
    [
        (Fraction(60), F5994, 999.001, 16.6833),
        (F5994, P262, 1908.397, 8.7421),
        (F5994, P263, 1901.141, 8.7754),
        (Fraction(60), P262, 907.489, 18.3657),
        (Fraction(50), P312, 1602.564, 12.4800),
        (Fraction(50), P313, 1597.444, 12.5200),
        (F5994, VIC1, 6.944, 2402.4),
    ],
)
def test_standard_pairs(source: Fraction, output: Fraction, drift: float, wrap: float) -> None:
    """C: the table of standard pairs, to its last digit."""
    pair = Pair(source, output)
    assert abs(float(pair.drift_us_per_s)) == pytest.approx(drift, abs=6e-4)
    assert pair.wrap_s is not None and float(pair.wrap_s) == pytest.approx(wrap, rel=6e-6)


@pytest.mark.parametrize(
    ("drift", "wrap"), [(1, 16683.3), (10, 1668.33), (20, 834.167), (50, 333.667), (100, 166.833)]
)
def test_any_drift_wraps_a_frame(drift: float, wrap: float) -> None:
    """Common practice, no published source: 10 µs/s wraps a 59.94 Hz frame in 1668 s, and so on."""
    output = F5994 * (1 - Fraction(drift) / 1_000_000)
    assert float(Pair(F5994, output).wrap_s or 0) == pytest.approx(wrap, rel=3e-6)


@pytest.mark.parametrize(
    ("source", "output"), [(50, 60), (60, 50), (24, 60), (60, F5994), (25, 50), (59, 61)]
)
def test_repeats_drops_and_judder_by_counting(source: Fraction, output: Fraction) -> None:
    """A timeline in NumPy: the newest whole picture at each output instant, counted and measured."""
    pair = Pair(Fraction(source), Fraction(output))
    count = 1001 * 24
    at = np.array([k * int(pair.source * 1001) for k in range(count)], dtype=np.int64)
    whole = int(pair.output * 1001)
    shown = at // whole
    seconds = count / float(pair.output)
    repeats = (np.diff(shown) == 0).sum() / seconds
    drops = np.maximum(np.diff(shown) - 1, 0).sum() / seconds
    assert repeats == pytest.approx(float(pair.repeats_per_s), abs=2 / seconds)
    assert drops == pytest.approx(float(pair.drops_per_s), abs=2 / seconds)
    age = (at % whole) / whole * 1000 / float(pair.source)
    assert pair.judder_rms_ms == pytest.approx(age.std(), rel=2e-3)
    assert pair.judder_peak_ms == pytest.approx(np.ptp(age), rel=2e-3)


def test_three_two_pattern() -> None:
    """Common practice: 24 pictures a second in 60 Hz are shown 3, 2, 3, 2 times."""
    law = SlipLaw(Fraction(24, 60), 2, whole=True)
    shown = [int(law.shown(k)[0]) for k in range(20)]
    assert np.bincount(shown).tolist() == [3, 2] * 4


@pytest.mark.parametrize("output", [Fraction(60), P262, P263])
def test_the_tear_takes_one_wrap_to_roll_through(output: Fraction) -> None:
    """The tear's line over time, from the law of every line: it moves at the told speed and sense."""
    pair = Pair(F5994, output)
    law = SlipLaw(pair.ratio, 4000, start=Fraction(1, 2))
    lines = [law.tears(k) for k in range(60)]
    places = np.array([each[0] / 4000 for each in lines if each])
    speed = np.polyfit(np.arange(len(places)), places, 1)[0] * float(output)
    assert len(places) == 60 and speed == pytest.approx(float(pair.tear_heights_per_s), rel=0.02)
    assert abs(1 / speed) == pytest.approx(float(pair.wrap_s or 0), rel=0.025)


def test_a_box_locked_to_nothing_shows_nothing_to_one_frame() -> None:
    """Common practice: the age of what a free-running frame buffer shows is spread evenly over one frame."""
    pair = Pair(F5994, Fraction("59.9013"))
    age = np.array([float(k * pair.ratio % 1) for k in range(20_000)]) * 1000 / float(F5994)
    assert age.min() < 0.01 and 16.67 < age.max() < 16.6834
    assert age.std() == pytest.approx(4.81606, abs=0.03)  # worked example: T/sqrt(12) = 4816.06 µs
    assert pair.judder_rms_ms == pytest.approx(4.81606, abs=1e-4)


def test_fifty_through_sixty_and_back() -> None:
    """By hand: 0 0 1 2 3 4 | 5 ...; half a picture on, the second box takes 0 1 2 4 5: source 0 0 1 3 4."""
    there, back = Pair(Fraction(50), Fraction(60)), Pair(Fraction(60), Fraction(50))
    asked, lost, repeated = there_and_back(there, back, Fraction(1, 2))
    assert asked % 5 == 0 and lost * 5 == asked and repeated == lost
    assert there_and_back(there, back, Fraction(9, 10))[1] == 0


@pytest.mark.parametrize(
    ("text", "rate"),
    [
        ("59.94", F5994),
        ("60000/1001", F5994),
        ("59.94 Hz", F5994),
        ("720p59.94", F5994),
        ("240p", P262),
        ("50", Fraction(50)),
        ("59.9412", Fraction("59.9412")),
    ],
)
def test_rates_as_people_write_them(text: str, rate: Fraction) -> None:
    assert rate_of(text) == rate


@pytest.mark.parametrize("text", ["", "fast", "0", "-60", "nan", "inf", "1/0", "5000", "1e400"])
def test_rates_that_are_none(text: str) -> None:
    with pytest.raises(ParameterError, match="rate"):
        rate_of(text)


@pytest.mark.parametrize(
    "rates", [(60, 30, 60), (60, 50, 60), (50, 60, 50), (24, 60, 50), (60, 24, 60), (50, 25, 75)]
)
def test_what_is_lost_in_series_is_that_of_a_long_run(rates: tuple[int, int, int]) -> None:
    """A minute of two buffers by `numpy.searchsorted` on the times at which pictures begin.

    60 to 30 and back loses every second picture: a cycle that begins amid one's showings lost one of four.
    """
    source, between, output = rates
    cycle = lcm(*rates) * 60
    shown = np.arange(between * 60) * (cycle // (between * 60))  # begins in whole ticks of a minute
    held = np.searchsorted(np.arange(source * 60) * (cycle // (source * 60)), shown, side="right") - 1
    ahead = cycle // (between * 60) / 2
    taken = np.arange(output * 60) * (cycle // (output * 60)) + ahead
    last = held[np.searchsorted(shown, taken[taken < cycle], side="right") - 1]
    asked, lost, repeated = there_and_back(
        Pair(Fraction(source), Fraction(between)), Pair(Fraction(between), Fraction(output)), Fraction(1, 2)
    )
    seconds = asked / source
    assert lost / seconds == pytest.approx(source - len(set(last.tolist())) / 60, abs=0.05)
    assert repeated / seconds == pytest.approx(output - len(set(last.tolist())) / 60, abs=0.05)
