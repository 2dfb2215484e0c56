"""Flicker of thin white lines after every filter, on every landing, from the taps by hand.

Nothing alternates but what the taps leave, so each peak is written out below. Light is code^2.4 (the
sign kept), L(x) for short. Painted, a line has its light at its landing and half of it on the frame
lines above and below. On fields half a line apart the flicker of frame line y is so

    F(y) = |L(y) - (L(y-1) + L(y+1)) / 2|

with the light of the woven, filtered frame (a definition of this project: `metrics.flicker.percent`).
On one set of lines it is |L(2k) - L(2k+1)| with pair=down and |L(2k) - L(2k-1)| with pair=up.

The code values after a filter, with the white line on line 100 (or 100 and 101):

=============  ==========================  ============================
taps           one line: 98 … 102          two lines: 98 … 103
=============  ==========================  ============================
1              0, 0, 1, 0, 0               0, 0, 1, 1, 0, 0
1/6/1          0, 1/8, 3/4, 1/8, 0         0, 1/8, 7/8, 7/8, 1/8, 0
1/2/1          0, 1/4, 1/2, 1/4, 0         0, 1/4, 3/4, 3/4, 1/4, 0
1/1/1          0, 1/3, 1/3, 1/3, 0         0, 1/3, 2/3, 2/3, 1/3, 0
-1/2/6/2/-1    -1/8, 1/4, 3/4, 1/4, -1/8   -1/8, 1/8, 1, 1, 1/8, -1/8
1/2/2/2/1      1/8, 1/4, 1/4, 1/4, 1/8     1/8, 3/8, 1/2, 1/2, 3/8, 1/8
paired         0, 0, 1/2, 1/2, 0           0, 0, 1, 1, 0, 0
=============  ==========================  ============================
"""

from __future__ import annotations

import numpy as np
import pytest
from metrics.evidence import evidence_of, grey

from scalesim.metrics.flicker.percent import flicker_map


def L(code: float) -> float:
    """Return the light of a code value, white 1, named as in the text above."""
    return abs(code) ** 2.4 * (1 if code >= 0 else -1)


INTERLACED = {
    # taps: (one line, at line 100; two lines, at line 100)
    "1": (1.0, 1 - 1 / 2),
    "1/6/1": (L(3 / 4) - L(1 / 8), L(7 / 8) - (L(7 / 8) + L(1 / 8)) / 2),
    "1/2/1": (L(1 / 2) - L(1 / 4), L(3 / 4) - (L(3 / 4) + L(1 / 4)) / 2),
    # three equal lines: line 100 sees its like on both sides, 99 sees black on one: half its light
    "1/1/1": (L(1 / 3) / 2, L(2 / 3) - (L(2 / 3) + L(1 / 3)) / 2),
    "-1/2/6/2/-1": (L(3 / 4) - L(1 / 4), 1 - (1 + L(1 / 8)) / 2),
    # one line: at 99, between 1/8 and 1/4; two lines: at 100, between 3/8 and its like
    "1/2/2/2/1": (L(1 / 4) / 2 - L(1 / 8) / 2, L(1 / 2) - (L(1 / 2) + L(3 / 8)) / 2),
    # two lines of 1/2: line 100 sees its like below and black above
    "paired": (L(1 / 2) / 2, 1 / 2),
}
ONE_SET_DOWN = {
    # scan line 50 is frame lines 100 and 101, 49 is 98 and 99
    "1": (1.0, 0.0),
    "1/6/1": (L(3 / 4) - L(1 / 8), L(1 / 8)),
    "1/2/1": (L(1 / 2) - L(1 / 4), L(1 / 4)),
    "1/1/1": (L(1 / 3), L(1 / 3)),
    "-1/2/6/2/-1": (L(3 / 4) - L(1 / 4), L(1 / 8) - L(-1 / 8)),
    "1/2/2/2/1": (L(1 / 4) - L(1 / 8), L(3 / 8) - L(1 / 8)),
    "paired": (0.0, 0.0),
}
ONE_SET_UP = {
    # scan lines are frame lines 99 and 100, 101 and 102, so two lines are split between two of them
    "1": (1.0, 1.0),
    "1/6/1": (L(3 / 4) - L(1 / 8), L(7 / 8) - L(1 / 8)),
    "1/2/1": (L(1 / 2) - L(1 / 4), L(3 / 4) - L(1 / 4)),
    "1/1/1": (L(1 / 3), L(2 / 3) - L(1 / 3)),
    "-1/2/6/2/-1": (L(3 / 4) - L(1 / 4), 1 - L(1 / 8)),
    "1/2/2/2/1": (L(1 / 4) - L(1 / 8), L(1 / 2) - L(3 / 8)),
    "paired": (L(1 / 2), 1.0),
}
LANDINGS = {
    "interlace": INTERLACED,
    "interlace, field-only": ONE_SET_DOWN,
    "interlace, field-only pair=up": ONE_SET_UP,
}


def peak(taps: str, landing: str, *lit: int) -> float:
    """Return the largest flicker of white lines, as a share of white."""
    frame = np.zeros(480)
    frame[list(lit)] = 1.0
    evidence = evidence_of(grey(frame, 8), f"flicker-filter taps={taps}, {landing}")
    return float(flicker_map(evidence.pictures, evidence.raster).max()) / 100


@pytest.mark.parametrize("taps", INTERLACED)
@pytest.mark.parametrize("landing", LANDINGS)
def test_peaks(landing: str, taps: str) -> None:
    """One and two white lines against the values written out above."""
    one, two = LANDINGS[landing][taps]
    assert peak(taps, landing, 100) == pytest.approx(one, abs=2e-6)
    assert peak(taps, landing, 100, 101) == pytest.approx(two, abs=2e-6)


def test_in_percent() -> None:
    """The figures of two lines, interlaced, as numbers: what the formulas come to, from a table of x^2.4.

    (1/4)^2.4 = 0.035897, (3/4)^2.4 = 0.501357, (1/3)^2.4 = 0.071599, (2/3)^2.4 = 0.377904,
    (1/8)^2.4 = 0.006801.
    """
    percent = {taps: 100 * two for taps, (_, two) in INTERLACED.items()}
    assert percent["1/2/1"] == pytest.approx((50.1357 - 3.5897) / 2, abs=2e-4)
    assert percent["1/1/1"] == pytest.approx((37.7904 - 7.1599) / 2, abs=2e-4)
    assert percent["-1/2/6/2/-1"] == pytest.approx((100 - 0.6801) / 2, abs=2e-4)


def test_filtering_code_values_is_not_filtering_light() -> None:
    """1/2/1 in light leaves nothing of one line, 1/2 against 1/4 + 1/4; in code values it leaves 15 %."""
    assert peak("1/2/1", "interlace", 100) == pytest.approx(0.1536, abs=1e-4)


def test_other_taps_are_noticed() -> None:
    """No two filters share both peaks on a landing, so a wrong filter cannot pass for another."""
    for expected in LANDINGS.values():
        assert len({(round(one, 4), round(two, 4)) for one, two in expected.values()}) == len(expected)
