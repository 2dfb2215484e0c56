"""Trace: where vertical sync begins in each field, on records whose pulses are laid out by hand.

Widths of pulses: ITU-R BT.1700 and SMPTE 170M as quoted in public extracts (4.7, 2.3 and 27.1 us at 63.556).
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from scalesim.charts.sync import sync_chart
from scalesim.core.trace import Trace
from scalesim.jobs.trace.answer import Traced
from scalesim.jobs.trace.trace import trace
from scalesim.tube.display import Display
from scalesim.tube.lock.circuit import Countdown, Integrator
from scalesim.tube.lock.landings import Landing
from scalesim.tube.lock.words import landing_words

LINE = 1e6 * 1001 / 15_750_000
HALF = LINE / 2
GAP = HALF - 27.1


def pulses(moved: float, ahead_us: float = 0.0) -> list[tuple[float, float]]:
    """Return (begin, end) of pulses, us: vertical sync of every second field so many half lines late.

    A pulse of `ahead_us` stands half a line ahead of it. Serrations stay on the half lines.
    """
    found = []
    for field in range(6):
        at = 525 * field
        first = at + (moved if field % 2 else 0.0)
        last = first + 6
        for k in range(at - 30, at + 495):
            if first <= k < last:
                continue
            equal = round(first) - 6 <= k < round(last) + 6
            if equal or k % 2 == 0:
                found.append((k * HALF, k * HALF + (2.3 if equal else 4.7)))
        cuts = [first, *range(int(np.floor(first)) + 1, int(np.ceil(last)))]
        ends = [*(k * HALF - GAP for k in cuts[1:]), last * HALF - (GAP if last == round(last) else 0.0)]
        found += [(k * HALF, end) for k, end in zip(cuts, ends, strict=True) if end > k * HALF]
        if field % 2 and ahead_us:
            found.append((first * HALF - LINE / 2, first * HALF - LINE / 2 + ahead_us))
    return sorted(found)


def traced(
    moved: float, ahead_us: float = 0.0, ms: float = 70.0, display: tuple[Display, ...] = ()
) -> Traced:
    """Return what a record of 5 MS/s tells, its edges 0.1 us long and its noise 5 mV."""
    t = np.arange(round(ms * 5000)) / 5 + 5 * LINE
    at: list[float] = []
    for begin, end in pulses(moved, ahead_us):
        if at and begin < at[-1]:  # the pulse ahead swallows an equalising one
            at[-1] = max(at[-1], end)
        else:
            at += [begin, end]
    edges = np.repeat(at, 2) + np.tile([-0.05, 0.05], len(at))
    level = np.interp(t, edges, np.tile([0.0, 1.0, 1.0, 0.0], len(at) // 2))
    volts = 0.1 - 0.3 * level + np.random.RandomState(1).normal(0, 0.005, len(t))
    found = trace([Trace("scope.csv", 2e-7, {"CH1": volts.astype(np.float32)})], display=display)
    assert isinstance(found, Traced)
    return found


@pytest.mark.parametrize("ms", [52.0, 70.0])
def test_fields_in_turn_have_the_rate_of_their_mean(ms: float) -> None:
    """262 and 263 lines are 262.5 on average, whether the record holds two whole fields of them or three."""
    found = traced(-1.0, ms=ms)
    assert found.verdict.answer == "progressive" and len(found.verdict.lines) in (2, 3)
    document = found.to_dict()
    assert document["field_rate_hz"] == pytest.approx(60000 / 1001, rel=5e-6)
    assert "their mean of 262.5" in found.sentences()[0]


@pytest.mark.parametrize("moved", [-0.5, 0.5])
def test_vertical_sync_a_quarter_of_a_line_off_is_found(moved: float) -> None:
    """Its first pulse is cut short to 11.2 us: vertical sync begins with that, 1/4 line off its place."""
    found = traced(moved)
    assert found.verdict.answer == "neither" and found.to_dict()["mode"] is None
    assert found.to_dict()["half_line_offset"] == pytest.approx(0.25, abs=0.005)
    assert found.to_dict()["half_line_offset_error"] < 0.01
    leads = {round(each["lead_lines"], 2) for each in found.to_dict()["vertical_syncs"]}
    assert leads == ({0.0, 0.25} if moved < 0 else {0.0, 0.75})
    first = next(found.parts())
    (table,) = [item for item in first.items if getattr(item, "title", "") == "Vertical syncs"]
    assert {round(float(row[1]), 2) % 1.0 for row in table.rows} == leads
    said = " ".join(found.sentences())
    assert "0.250 line (15.9 µs) apart" in said
    assert f"0.250 line (15.9 µs) {'after' if moved < 0 else 'before'} the begin of a line, in turn" in said


@pytest.mark.parametrize("width", [12.0, 18.0])
def test_a_pulse_ahead_of_vertical_sync_is_told(width: float) -> None:
    found = traced(0.0, width)
    assert found.verdict.answer == "interlaced"
    said = " ".join(found.sentences())
    assert f"A pulse of {width:.1f} µs" in said and "before 2 of 4 vertical syncs" in said
    told = [each["other_us"] for each in found.to_dict()["vertical_syncs"]]
    assert [len(each) for each in told] in ([1, 0, 1, 0], [0, 1, 0, 1])
    assert "none of the standards'" not in " ".join(traced(0.0).sentences())


@pytest.mark.parametrize("moved", [-0.85, -0.81, -0.7, 0.1, 0.19, 0.4])
def test_how_far_fields_are_off_is_said_as_it_is(moved: float) -> None:
    """Numbers of the sentences are those the pulses were laid out with: lines, microseconds and the side."""
    asked = 0.5 if moved > 0 else 0.0  # what vertical sync of the second field is nearer to
    off = 0.5 + moved / 2 - asked  # lines after the half line, from its begin or its middle
    found = traced(moved)
    said = " ".join(found.sentences())
    assert "in turn" in said
    hit = re.search(r"([0-9.]+) line \(([0-9.]+) µs\) (after|before) the (begin|middle)", said)
    assert hit is not None
    number, us = hit.groups()[:2]
    assert float(number) == pytest.approx(abs(off), abs=0.0025)
    assert float(us) == pytest.approx(abs(off) * LINE, abs=0.16)
    where = "after the" if off > 0 else "before the"
    assert f"µs) {where} {'middle' if asked else 'begin'} of a line, in turn (n 4)" in said
    if found.verdict.answer != "neither":
        hit = re.search(r"in turn, ([0-9.]+) ± ([0-9.]+) line", said)
        assert hit is not None
        apart, error = hit.groups()
        assert float(apart) == pytest.approx(abs(off), abs=0.0025) and float(error) <= 0.002
        # the first whole field runs from an even to a moved vertical sync
        longer = found.verdict.lines[0] % 1.0 - asked
        assert ("more and less" in said) == (0 < longer < 0.5)
    document = found.to_dict()
    assert document["half_line_offset"] == pytest.approx(abs(0.5 + moved / 2), abs=0.0025) or document[
        "half_line_offset"
    ] == pytest.approx(1 - abs(0.5 + moved / 2), abs=0.0025)
    assert document["half_line_offset_error"] < 0.002


def test_where_fields_are_as_the_standard_has_them_nothing_more_is_said() -> None:
    said = " ".join(traced(0.0).sentences())
    assert "half a line off (0.500 ± 0.001 line)" in said and "Vertical sync begins" not in said


@pytest.mark.parametrize(("lines", "off", "side"), [(0.93, 0.07, "above"), (0.08, 0.08, "below")])
def test_fields_almost_on_one_set_are_not_said_to_be_on_it(lines: float, off: float, side: str) -> None:
    said = landing_words(Landing(lines, line_us=LINE))
    assert f"{off:.2f} line ({off * LINE:.1f} µs) {side} a line of it" in said
    assert "almost on one set" in said and f"the second {lines:.2f} lines below the first" in said
    assert "almost" not in landing_words(Landing(1.0, line_us=LINE))


def test_a_countdown_remembers_on_a_record_too() -> None:
    """As on the sync that was computed: started cold it pairs, switched over it runs on and interlaces."""
    hall = Display(
        name="hall", diagonal_mm=680, aspect="4:3", tv_lines=350, beam_width=0.8, vertical=Countdown()
    )
    answer = traced(-1.0, display=(hall,))
    (said,) = [each for each in answer.sentences() if each.startswith("hall")]
    assert "what went before decides" in said and "Margins:" in said  # whose they are is never in doubt
    found = answer.to_dict()["landing"][0]["histories"]
    assert found["cold"]["outcome"] == "one set" and found["switched"]["outcome"] == "two sets"


def test_a_field_that_lands_above_is_said_so() -> None:
    """Which field comes first a record does not say, so the second may lie above: never "-0.16 below"."""
    assert "0.16 lines above the first" in landing_words(Landing(-0.16))
    assert "0.00 lines below the first" in landing_words(Landing(-0.001))


def test_a_progressive_signal_has_no_two_fields_to_pair() -> None:
    """Fields of 262 lines, all alike: nothing is said of "both" and of lines that share."""
    hall = Display(
        name="hall", diagonal_mm=680, aspect="4:3", tv_lines=350, beam_width=0.8, vertical=Integrator()
    )
    chart = sync_chart("240p", signal="csync", mhz=5.0, seconds=0.07)
    found = trace([chart.trace], display=(hall,))
    (said,) = [each for each in found.sentences() if each.startswith("hall")]
    assert "draws every field on the same lines." in said
    assert "both fields" not in said and "share a scan line" not in said
    (said,) = [each for each in traced(-1.0, display=(hall,)).sentences() if each.startswith("hall")]
    assert "both fields on one set of lines" in said and "share a scan line" in said
