"""The reverse question, and the sweep that tells families apart."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.core.sync import SYNC_525
from scalesim.core.sync_wave import interlaced_wave
from scalesim.tube.lock.circuit import Circuit, Clocked, Countdown, Edge, Integrator
from scalesim.tube.lock.fits import Observation, fits_of, reading_of, told_apart
from scalesim.tube.lock.sweep import SHIFTS_US, Family, family_of, sweep
from scalesim.tube.lock.typical import CHANGES

KINDS: dict[Family, tuple[Circuit, ...]] = {
    "threshold or width": (
        *(Edge(least_width_us=width) for width in (8.0, 14.0, 20.0)),
        *(Integrator(time_constant_us=tau, threshold_v=v) for tau in (15.0, 60.0) for v in (1.7, 3.2)),
    ),
    "half-line clock": tuple(Clocked(clock_phase=phase) for phase in (0.2, 0.37, 0.5, 0.66, 0.8)),
    "whole-line clock": tuple(Clocked(clock="line", clock_phase=phase) for phase in (0.15, 0.33, 0.6, 0.9)),
    "two-field countdown": (Countdown(rule="two-field"),),
}


def test_a_sweep_by_hand() -> None:
    """A width follows: L = 1/2 - s / H. A half-line clock takes 0, 1/2 and 1. A two-field countdown stays."""
    shifts = np.array(SHIFTS_US)
    free = shifts > -27.5  # earlier, vertical sync begins within the pulse of the line, and with that
    assert sweep(Edge())[free] == pytest.approx((0.5 - shifts / SYNC_525.line_us)[free], abs=1e-6)
    assert sweep(Edge())[~free] == pytest.approx(1)
    snapped = np.unique(np.round(sweep(Clocked()), 6))
    assert set(snapped) == {0.0, 0.5, 1.0}
    assert sweep(Countdown(rule="two-field")) == pytest.approx(0.5)
    assert len(np.unique(np.round(sweep(Clocked(clock="line", clock_phase=0.25)), 6))) <= 2


@pytest.mark.slow
def test_families_are_told_apart_in_noise() -> None:
    """At least 95 % right at 0.05 line of reading noise; the circuits are none of the templates."""
    random = np.random.RandomState(2)
    right = count = 0
    for family, circuits in KINDS.items():
        for circuit in circuits:
            lines = sweep(circuit)
            for _ in range(20):
                found, away = family_of(lines + random.normal(0, 0.05, len(lines)))
                right, count = right + (found == family), count + 1
                assert set(away) == set(KINDS)
    assert count == 340 and right >= 0.95 * count


def test_much_noise_confuses_families() -> None:
    """The check above can fail: at half a line of noise a countdown is taken for others, too."""
    random = np.random.RandomState(3)
    lines = sweep(KINDS["half-line clock"][2])
    found = {family_of(lines + random.normal(0, 1.5, len(lines)))[0] for _ in range(40)}
    assert len(found) > 1


def test_readings_by_hand() -> None:
    """Leads in lines after the begin of a line, lines of the fields, other pulses."""
    by_words = {
        each.words: reading_of(interlaced_wave(SYNC_525, each.stage.change()), SYNC_525) for each in CHANGES
    }
    plain = by_words["the standard signal"]
    assert plain.leads == (0.0, 0.5) and plain.lines == pytest.approx((262.5, 262.5)) and plain.odd_us == ()
    early = by_words[CHANGES[1].words]
    assert early.leads == (0.0, 0.0) and early.lines == pytest.approx((262, 263))
    assert by_words["a 12 \u00b5s pulse half a line ahead in one field"].odd_us == (12.0,)
    quarter = by_words["vertical sync of one field 0.25 line early"]
    assert quarter.leads == pytest.approx((0.0, 0.25), abs=0.002)
    assert not by_words["equalising pulses dropped"].equalising and not plain.alike(early)
    # only the end differs: at the leading edge they cannot be told apart
    assert early.alike(by_words["only its leading edge half a line early"])


@pytest.mark.slow
def test_what_explains_the_riddle() -> None:
    """One set on A only after a cold start, two on B and C: a strict countdown, among others."""
    seen = (Observation("A", "one", "cold"), Observation("B", "two"), Observation("C", "two"))
    fits = fits_of(seen, SYNC_525)
    assert fits[0].change is CHANGES[1] and fits[0].kinds["A"] == (("strict countdown", 1.0),)
    assert "two-field countdown" in dict(fits[0].kinds["B"])
    # the standard signal explains it only if A never interlaces, which a cold start does not do
    assert CHANGES[0] not in [fit.change for fit in fits]
    always = fits_of((Observation("A", "one", "always"), Observation("B", "two")), SYNC_525)
    assert CHANGES[0] in [fit.change for fit in always]
    assert all(dict(fit.kinds["A"]).keys() == {"whole-line clock"} for fit in always)
    # nothing makes a countdown of two fields roll on a standard signal that others draw well
    groups = told_apart(fits, SYNC_525)
    assert sum(map(len, groups)) == len(fits) and len(groups) > 5
