"""Pads between 75 ohms and 75 ohms against worked values.

Source: 0.9 V into 75 ohms to 0.7 V, K = 9/7, 20 log10(7/9) = -2.1829 dB. The ohms are the textbook formulas
by hand; losses and return losses of rounded values are those of ngspice 39 (.op) and scikit-rf 2.2.0.
E96 has 96 values, each 10^(k/96) rounded to three figures, and E24 its own table: IEC 60063.
"""

from __future__ import annotations

from math import inf

import numpy as np
import pytest

from scalesim.signal.waveform.pads import DECADE, Kind, Series, exact_pad, standard_pad

EXACT = {
    ("T", 9 / 7): (9.375, 295.3125, 9.375),
    ("pi", 9 / 7): (600, 19.0476, 600),
    ("L", 9 / 7): (16.6667, 262.5),
    ("T", 1 / 0.7): (13.235, 205.882, 13.235),
    ("pi", 1 / 0.7): (425, 27.321, 425),
    ("L", 1 / 0.7): (22.5, 175),
    ("T", 2.0): (25, 100, 25),
    ("pi", 2.0): (225, 56.25, 225),
    ("L", 2.0): (37.5, 75),
}


@pytest.mark.parametrize(("kind", "ratio"), EXACT)
def test_exact_values(kind: Kind, ratio: float) -> None:
    pad = exact_pad(kind, ratio)
    assert pad.ohms == pytest.approx(EXACT[kind, ratio], abs=6e-4)
    assert pad.db == pytest.approx(-20 * np.log10(ratio), abs=1e-9)
    assert pad.return_in_db == inf


def test_an_l_is_matched_at_its_source_only() -> None:
    assert exact_pad("L", 9 / 7).return_out_db == pytest.approx(26.1, abs=0.05)


@pytest.mark.parametrize(
    ("kind", "series", "ohms", "db", "loss"),
    [("T", "E24", (9.1, 300, 9.1), -2.1341, 56.9), ("pi", "E96", (604, 19.1, 604), -2.1787, 60.6)],
)
def test_standard_values(kind: Kind, series: Series, ohms: tuple[float, ...], db: float, loss: float) -> None:
    pad = standard_pad(kind, 9 / 7, series)
    assert pad.ohms == ohms
    assert pad.db == pytest.approx(db, abs=6e-5) and pad.return_in_db == pytest.approx(loss, abs=0.05)


@pytest.mark.parametrize("kind", ["T", "pi", "L"])
def test_nodal_analysis_agrees(kind: Kind) -> None:
    """The same network solved as equations of currents: 1.8 V behind 75 ohms, 75 ohms at the end."""
    pad = standard_pad(kind, 9 / 7, "E24")
    arms = {"T": "s p s", "pi": "p s p", "L": "s p"}[kind].split()
    nodes = 1 + arms.count("s")
    currents, given = np.zeros((nodes, nodes)), np.zeros(nodes)
    currents[0, 0] += 1 / 75
    given[0] = 1.8 / 75
    at = 0
    for arm, ohms in zip(arms, pad.ohms, strict=True):
        if arm == "p":
            currents[at, at] += 1 / ohms
        else:
            currents[at : at + 2, at : at + 2] += np.array([[1, -1], [-1, 1]]) / ohms
            at += 1
    currents[at, at] += 1 / 75
    assert np.linalg.solve(currents, given)[at] == pytest.approx(0.9 * pad.factor, rel=1e-9)


def test_the_series_are_whole() -> None:
    assert len(DECADE["E24"]) == 24 and len(DECADE["E96"]) == 96
    assert {1.0, 3.32, 9.76} <= set(DECADE["E96"]) and {2.7, 3.3, 4.7, 8.2} <= set(DECADE["E24"])


@pytest.mark.parametrize("kind", ["T", "pi", "L"])
@pytest.mark.parametrize("series", ["", "E24", "E96"])
@pytest.mark.parametrize("ratio", [1.05, 9 / 7, 1 / 0.7, 2.0, 5.0])
def test_scikit_rf_agrees(kind: Kind, series: Series, ratio: float) -> None:
    """Its cascade of resistors as scattering matrices: gain and both return losses."""
    rf = pytest.importorskip("skrf", reason="needs scikit-rf")
    pad = standard_pad(kind, ratio, series) if series else exact_pad(kind, ratio)
    frequency = rf.Frequency(1, 6, 2, "MHz")
    line = rf.media.DefinedGammaZ0(frequency, z0=75, gamma=1j * frequency.w / 3e8)
    whole = None
    for place, ohms in enumerate(pad.ohms):
        across = place in {"T": (1,), "pi": (0, 2), "L": (1,)}[kind]
        part = line.shunt(line.resistor(ohms) ** line.short()) if across else line.resistor(ohms)
        whole = part if whole is None else whole**part
    assert whole is not None
    assert whole.s_db[0, 1, 0] == pytest.approx(pad.db, abs=1e-6)
    for own, port in ((pad.return_in_db, 0), (pad.return_out_db, 1)):
        theirs = -20 * np.log10(max(abs(whole.s[0, port, port]), 1e-12))
        assert theirs > 110 if own == inf else theirs == pytest.approx(own, abs=1e-4)
