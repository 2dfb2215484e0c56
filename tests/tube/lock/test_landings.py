"""Where fields land, kind by kind: rules of the trade, hand-worked values, and the memory of a countdown."""

from __future__ import annotations

import numpy as np
import pytest

from scalesim.core.sync import SYNC_525, SYNC_625, SyncStandard
from scalesim.core.sync_wave import SyncChange, interlaced_wave, progressive_wave
from scalesim.stages.resync import Resync
from scalesim.tube.lock.circuit import (
    Circuit,
    Clocked,
    Countdown,
    Edge,
    Flywheel,
    Integrator,
    Oscillator,
)
from scalesim.tube.lock.counted import countdown
from scalesim.tube.lock.filter import filtered
from scalesim.tube.lock.landings import histories, land, landings, outcome_of, pair_of
from scalesim.tube.lock.typical import TYPICAL

DIRECT = [name for name in TYPICAL if "countdown" not in name]
HALF_EARLY = SyncChange(begin=(0, -0.5), end=(0, -0.5))


def lines(
    circuit: Circuit, keys: str = "", standard: SyncStandard = SYNC_525, history: str = "cold"
) -> float | None:
    return land(interlaced_wave(standard, change(keys)), circuit, history).lines  # type: ignore[arg-type]  # a word


def change(keys: str) -> SyncChange:
    pairs = (part.split("=") for part in keys.split())
    return Resync(**dict(pairs)).change()  # type: ignore[arg-type]  # texts are settled by the schema


@pytest.mark.parametrize("standard", [SYNC_525, SYNC_625])
@pytest.mark.parametrize("name", TYPICAL)
def test_the_standard_signal_interlaces_on_all_but_a_whole_line_clock(
    name: str, standard: SyncStandard
) -> None:
    """The half-line rule: SMPTE 170M, ITU-R BT.1700 (as quoted in public extracts), and common practice."""
    circuit = TYPICAL[name]
    for history in histories(circuit):
        found = land(interlaced_wave(standard), circuit, history)
        assert found.outcome == ("one set" if name == "whole-line clock" else "two sets")
        if name != "whole-line clock":
            assert found.lines == pytest.approx(0.5, abs=0.002)


@pytest.mark.parametrize(
    ("standard", "count"), [(SYNC_525, 262), (SYNC_525, 263), (SYNC_625, 312), (SYNC_625, 313)]
)
@pytest.mark.parametrize("name", TYPICAL)
def test_fields_of_whole_lines_never_interlace(name: str, standard: SyncStandard, count: int) -> None:
    """A whole number of lines never interlaces (CTA-861's 240p, 288p). A tolerant countdown hunts."""
    circuit = TYPICAL[name]
    for history in histories(circuit):
        found = land(progressive_wave(standard, (count, count)), circuit, history)
        if name == "tolerant countdown":
            assert found.outcome in ("one set", "no lock")
        else:
            assert found.lines == pytest.approx(0, abs=1e-6)


def test_fields_that_alternate_are_interlaced_in_the_mean_alone() -> None:
    """262 and 263 lines in turn are 262.5 on average, and begin at the begin of a line every time."""
    wave = progressive_wave(SYNC_525, (262, 263))
    assert wave.field_us / wave.line_us == pytest.approx(262.5)
    for name in DIRECT[:-2]:
        assert land(wave, TYPICAL[name]).lines == pytest.approx(0, abs=1e-6)


@pytest.mark.parametrize(
    ("keys", "threshold", "widths", "snapped", "oscillator"),
    [
        ("", 0.50, (0.50, 0.50, 0.50), 0.50, 0.50),
        ("start=line-start", 1.00, (1, 1, 1), 1.00, 0.98),
        ("start=line-start moves=edge", 1.00, (1, 1, 1), 1.00, 0.98),
        ("start=0/0.5 moves=edge", 0.00, (0, 0, 0), 0.00, 0.02),
        ("start=0/-0.1", 0.52, (0.50, 0.50, 0.50), 0.50, 0.52),
        ("start=0/-0.25", 0.65, (0.75, 0.50, 0.50), 1.00, 0.76),
        ("start=0/-0.4", 0.93, (0.90, 0.90, 0.90), 1.00, 0.92),
        ("equalising=drop", 0.52, (0.50, 0.50, 0.50), 0.50, 0.52),
        ("serrations=drop", 0.50, (0.50, 0.50, 0.50), 0.50, 0.50),
        ("combine=or broad_lines=3", 0.52, (0.50, 0.50, 0.50), 0.50, 0.52),
        ("combine=or broad_lines=1", 0.52, (0.50, 0.50, 0.50), 0.50, 0.52),
        ("combine=xor broad_lines=3", 0.60, (0.57, 0.57, 0.57), 0.50, 0.59),
        ("combine=xor broad_lines=3 start=0.0315", 0.53, (0.54, 0.54, 0.54), 0.50, 0.53),
        ("combine=xor broad_lines=3 start=-0.0315", 0.60, (0.61, 0.61, 0.61), 0.50, 0.60),
        ("equalising=drop serrations=line-rate", 0.52, (0.50, 0.50, 0.50), 0.50, 0.52),
        ("combine=or broad_lines=3 start=0/-0.25", 0.80, (0.75, 0.75, 0.75), 1.00, 0.79),
        ("extra_us=0/12", 0.58, (1.00, 0.50, 0.50), 0.50, 0.98),
        ("extra_us=0/18", 0.65, (1.00, 1.00, 0.50), 1.00, 0.98),
        ("broad_lines=6", 0.50, (0.50, 0.50, 0.50), 0.50, 0.50),
    ],
)
def test_a_table_of_changes_and_kinds(
    keys: str, threshold: float, widths: tuple[float, ...], snapped: float, oscillator: float
) -> None:
    """L as an independent prototype of this project found it (525 lines): a regression, no reference.

    RC 30 us at half the swing; widths 8, 14, 20 us; a half-line clock at a quarter line; an oscillator of
    1.06 (whose values the prototype gives to within a range of 0.01).
    """
    assert lines(Integrator(), keys) == pytest.approx(threshold, abs=0.006)
    for width, wanted in zip((8.0, 14.0, 20.0), widths, strict=True):
        assert lines(Edge(least_width_us=width), keys) == pytest.approx(wanted, abs=0.006)
    assert lines(Clocked(), keys) == pytest.approx(snapped, abs=1e-6)
    assert lines(Oscillator(), keys) == pytest.approx(oscillator, abs=0.011)


def test_one_wire_several_pictures() -> None:
    """One display may pair where others interlace on the same wire (common practice, no published source)."""
    keys = "extra_us=0/12"
    assert outcome_of(lines(Edge(least_width_us=8.0), keys)) == "one set"
    assert outcome_of(lines(Edge(least_width_us=20.0), keys)) == "two sets"
    assert outcome_of(lines(Countdown(), "start=line-start")) == "one set"
    assert outcome_of(lines(Countdown(rule="two-field"), "start=line-start")) == "two sets"


def test_a_countdown_remembers() -> None:
    """Started on 262 and 263 lines a strict one follows; switched over it runs on, every second missing."""
    keys = "start=line-start"
    assert lines(Countdown(), keys, history="cold") == pytest.approx(1)
    assert lines(Countdown(), keys, history="switched") == pytest.approx(0.5)
    # 262 lines miss every time: it follows after four fields, whatever went before
    wave = progressive_wave(SYNC_525, (262, 262))
    assert land(wave, Countdown(), "switched").lines == pytest.approx(0)


def test_the_countdown_by_hand() -> None:
    """Half lines 0 and 524 of a cycle of 1050: neither field has 525; alone, every second hits."""
    asked = {"standard": 0, "cycle": 1050, "halves": 525, "window": 2, "fields_in": 8, "misses_out": 4}
    assert countdown((0, 524), rule="strict", warm=False, **asked) == ((0, 524), False)
    assert countdown((0, 524), rule="strict", warm=True, **asked) == ((0, 525), True)
    found = countdown((0, 524), rule="two-field", warm=False, **asked)
    assert found is not None and found[1] and found[0][1] - found[0][0] in (525, 525 - 1050)
    assert countdown((0, 524), rule="tolerant", warm=False, **asked) is not None
    # every field 524 half lines: a tolerant window of 2 takes them, runs at 525, and loses them again
    assert countdown((0, 524), rule="tolerant", warm=False, **{**asked, "cycle": 1048}) is None


def test_a_flywheel_settles_where_an_iteration_does() -> None:
    """Expected a field after the last, correcting a share c of the error: d = (1 - c) / (2 - c)."""
    for share in (0.05, 0.3, 0.7, 1.0):
        at, begins = 0.0, []
        for k in range(2000):
            sync = 262.5 * k + (0.25 if k % 2 else 0.0) * -2  # every second half a line early
            at = at + 262.5
            at += share * (sync - at)
            begins.append(at)
        apart = begins[-1] - begins[-2] if len(begins) % 2 == 0 else begins[-2] - begins[-3]
        by_hand = 1 - (apart - 262)
        found = lines(Flywheel(correction=share), "start=line-start")
        assert found == pytest.approx(by_hand, abs=1e-6)
        assert abs(found - round(found)) == pytest.approx((1 - share) / (2 - share), abs=1e-6)


def test_no_lock_says_why() -> None:
    wave = interlaced_wave(SYNC_525)
    told = {
        "line sync alone": Integrator(threshold_v=0.5),
        "never reaches": Integrator(threshold_v=4.9, time_constant_us=100),
        "every line are wide": Edge(least_width_us=4.0),
        "no pulse is wide": Edge(least_width_us=40.0),
        "falls on line sync": Clocked(clock_phase=0.05),
        "no tick": Clocked(clock_phase=0.95),
        "rolls": Oscillator(natural_period=1.005),
    }
    for words, circuit in told.items():
        found = land(wave, circuit)
        assert found.lines is None and found.outcome == "no lock" and words in found.why, words


def test_sync_upside_down_does_not_lock() -> None:
    wave = interlaced_wave(SYNC_525, SyncChange(inverted=True))
    assert [land(wave, each).lines for each in (Integrator(), Edge(), Clocked())] == [None] * 3


def test_many_at_once_are_those_one_by_one() -> None:
    wave = interlaced_wave(SYNC_525, change("start=0/-0.25"))
    taus, levels = np.array([12.0, 30.0, 77.0, 30.0]), np.array([1.0, 2.5, 3.3, 4.4])
    for circuit in (Integrator(), Integrator(order=2), Flywheel(), Clocked(front="integrator"), Countdown()):
        found = landings(wave, circuit, {"time_constant_us": taus, "threshold_v": levels})
        for tau, level, own in zip(taus, levels, found, strict=True):
            alone = land(wave, circuit.with_(time_constant_us=float(tau), threshold_v=float(level))).lines
            assert (np.isnan(own) and alone is None) or own == pytest.approx(alone, abs=1e-9)


def test_the_steady_state_repeats() -> None:
    """The voltage a cycle later is the same, for constants up to many lines."""
    for tau in (20.0, 2000.0):
        for order in (1, 2):
            found = filtered(interlaced_wave(SYNC_525), tau, order)
            count = 2 * len(found.wave.begin_us)
            again = found.states[count - 1] * np.exp(
                -(found.edges_us[count] - found.edges_us[count - 1])[..., None] / found.taus
            )
            assert np.allclose(again, found.states[0], atol=1e-12)


def test_outcomes_and_pairs() -> None:
    """0 and 1 are both one set of lines, and pair other lines of the frame: `down` is 2k with 2k + 1."""
    assert [outcome_of(each) for each in (0.0, 1.0, 0.09, 0.11, 0.39, 0.41, 0.5, -0.5, None)] == [
        "one set",
        "one set",
        "one set",
        "uneven",
        "uneven",
        "two sets",
        "two sets",
        "two sets",
        "no lock",
    ]
    assert [pair_of(each) for each in (0.02, 0.97, 0.5, None, 2.0, -1.0)] == [
        "down",
        "up",
        "",
        "",
        "-3",
        "+3",
    ]
