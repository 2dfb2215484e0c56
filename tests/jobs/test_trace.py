"""Trace: the answer in words and keys, on records of the independent generator and by hand."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scope_records import Spec, record

from scalesim.core.trace import Trace
from scalesim.errors import ParameterError
from scalesim.io.saved import read_saved
from scalesim.jobs.trace.answer import Traced
from scalesim.jobs.trace.planned import Planned
from scalesim.jobs.trace.trace import trace
from scalesim.saving import save

VIDEO = Spec(signal="sog", mhz=10.0, ms=52.0, start_lines=140.0)


def recorded(spec: Spec, **more: np.ndarray) -> Trace:
    return Trace(
        "scope.csv", 1e-6 / spec.mhz, {"CH1": record(spec), **more}, 0.0, tuple(range(2, 3 + len(more)))
    )


def traced(*files: Trace, **keys: object) -> Traced:
    found = trace(files, **keys)  # type: ignore[arg-type]  # options of the job
    assert isinstance(found, Traced)
    return found


@pytest.fixture(scope="module")
def over() -> Traced:
    """Interlaced, 0.9 V of picture where 0.7 V are right."""
    return traced(recorded(replace(VIDEO, gain=9 / 7)))


def test_the_document_has_the_keys_of_the_contract(over: Traced) -> None:
    document = over.to_dict()
    json.dumps(document, allow_nan=False)
    assert document["verdict"] == "interlaced" and document["mode"] == "480i59.94"
    assert document["line_rate_hz"] == pytest.approx(15750 / 1.001, rel=1e-6)
    assert document["field_rate_hz"] == pytest.approx(60 / 1.001, rel=2e-6)
    assert document["lines_per_field"] == pytest.approx([262.5] * len(document["fields"]), abs=0.01)
    assert document["half_line_offset"] == pytest.approx(0.5, abs=0.01)
    assert document["sync_mv"] == pytest.approx(300 * 9 / 7, abs=3)
    assert document["blank_mv"] == pytest.approx(0, abs=3)
    assert document["peak_mv"] == pytest.approx(900, abs=10)
    assert document["over_mv"] == pytest.approx(200, abs=10)
    assert document["landing"] is None and document["why"]["landing"]
    assert document["channels"][0]["white_mv"] == pytest.approx(900, abs=10)
    assert document["confidence"] > 0.999 and document["doubts"] == []


def test_the_trim_brings_it_to_700_mv(over: Traced) -> None:
    """7/9 is -2.18 dB; the T pad is 9.1, 300, 9.1 ohms of E24 (worked by hand in the pads' test)."""
    trim = over.to_dict()["trim"]
    assert trim["factor"] == pytest.approx(7 / 9, rel=0.012) and trim["db"] == pytest.approx(-2.18, abs=0.1)
    first = trim["pads"][0]
    assert (first["kind"], first["series"], first["ohms"]) == ("T", "E24", [9.1, 300, 9.1])
    assert trim["sync_mv_after"] == pytest.approx(300, abs=5)
    assert {(pad["kind"], pad["series"]) for pad in trim["pads"]} == {
        (kind, series) for kind in ("T", "pi", "L") for series in ("E24", "E96")
    }


def test_the_words_begin_with_the_verdict_and_name_the_excess(over: Traced) -> None:
    first, *_ = over.sentences()
    assert first.startswith("The sync is interlaced: each of ") and "262.5 lines" in first
    said = " ".join(over.sentences())
    assert "mV over the 700 mV" in said and "The trim is a gain of 0.7" in said and "terminated" in said
    assert not over.undecided and "interlaced: 480i59.94, and a level is over" in over.title


def test_the_page_shows_both_vertical_intervals_first(over: Traced) -> None:
    part, *_ = over.parts()
    plot = part.items[0]
    assert plot.name == "vertical" and len(plot.panels) == 2
    # line pulses on whole lines in one, half way in the other
    phases = []
    for excerpt in over.verticals:
        lines = np.array([at for at, kind in zip(excerpt.pulses, excerpt.kinds, strict=True) if kind == 0])
        phases.append(float(np.median(np.abs(lines - np.rint(lines)))))
    assert sorted(phases) == pytest.approx([0, 0.5], abs=0.02)
    assert [plot.name for plot in over.figures()] == ["vertical", "line", "widths", "fields"]


def test_every_pulse_is_in_the_csv(over: Traced) -> None:
    rows = list(csv.DictReader(io.StringIO(over.files()["pulses"].content)))  # type: ignore[arg-type]  # a text
    assert len(rows) == sum(len(timing.pulses) for timing in over.timings)
    broad = [float(row["width_us"]) for row in rows if row["class"] == "broad"]
    assert np.median(broad) == pytest.approx(27.08, abs=0.05)


def test_it_is_saved_and_read_back(over: Traced, tmp_path: Path) -> None:
    save(over, tmp_path / "o")
    files = {path.name for path in (tmp_path / "o").iterdir()}
    assert {"index.html", "trace.md", "pulses.csv", "vertical.svg", "line.svg", "result.json"} <= files
    assert read_saved(tmp_path / "o").sentences() == over.sentences()


def test_a_level_that_is_right_has_no_trim() -> None:
    found = traced(recorded(VIDEO))
    assert (
        found.trim is None
        and found.to_dict()["trim"] is None
        and "as it should" in " ".join(found.sentences())
    )


@pytest.mark.parametrize(
    ("gain", "keys", "words"),
    [
        (2.0, {}, "was the line terminated"),
        (0.1, {}, "10:1 probe"),
        (2 / 3, {}, "two terminations"),
        (1.0, {"load": "open"}, "terminated after all"),
        (10.0, {}, "about ten times"),
    ],
)
def test_a_likely_mistake_is_asked_about_and_not_corrected(gain: float, keys: dict, words: str) -> None:
    found = traced(recorded(replace(VIDEO, gain=gain, noise_mv=2.0)), **keys)
    (doubt,) = found.doubts
    assert words in doubt and doubt in found.sentences()
    assert found.to_dict()["sync_mv"] == pytest.approx(300 * gain * (0.5 if keys else 1), rel=0.02)


def test_load_and_probe_scale_the_levels() -> None:
    """Unterminated, through a 10:1 probe that reads a tenth: 0.2 of the true 300 mV, and right again."""
    found = traced(recorded(replace(VIDEO, gain=0.2, noise_mv=1.0)), load="open", probe="10")
    assert found.to_dict()["sync_mv"] == pytest.approx(300, abs=3) and found.doubts == ()


def test_channels_by_columns() -> None:
    """Red 5 % higher than green and blue; sync on a channel of its own."""
    picture = np.clip(record(replace(VIDEO, bits=0, noise_mv=2.0, hum_mv=0.0)), 0, None)
    sync = replace(VIDEO, signal="csync")
    files = recorded(sync, CH2=(1.05 * picture).astype(np.float32), CH3=picture, CH4=picture)
    found = traced(files, columns="csync=2,red=3,green=CH3,blue=5")
    document = found.to_dict()
    assert [each["role"] for each in document["channels"]] == ["csync", "red", "green", "blue"]
    whites = [each["white_mv"] for each in document["channels"]]
    assert whites[0] is None and whites[1:] == pytest.approx([735, 700, 700], abs=10)
    assert "differ by 3" in " ".join(found.sentences())
    assert document["peak_mv"] == pytest.approx(735, abs=10)


def test_swapped_channels_are_noticed() -> None:
    picture = np.clip(record(VIDEO), 0, None)
    found = traced(recorded(replace(VIDEO, signal="csync"), CH2=picture), columns="red=2,csync=3")
    assert found.undecided and "are the channels swapped? Try --columns csync=2" in found.sentences()[0]


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ("csnc=2", "did you mean 'csync'"),
        ("csync", "write csync=2"),
        ("csync=9", "its channels are 2 .CH1."),
        ("red=2", "name no sync"),
        ("csync=2,csync=2", "given twice"),
        (" , ", "columns is empty"),
    ],
)
def test_wrong_columns_are_refused(columns: str, words: str) -> None:
    with pytest.raises(ParameterError, match=words):
        trace([recorded(replace(VIDEO, ms=2.0))], columns=columns)


def test_short_records_together() -> None:
    """Two of 3 ms, one vertical sync each: of different fields interlace is seen, of the same it is not."""
    one, two = (replace(VIDEO, ms=3.0, start_lines=lines) for lines in (240.0, 503.0))
    alone = traced(recorded(one))
    assert alone.undecided and "one vertical sync" in alone.sentences()[0]
    both = traced(recorded(one), recorded(two))
    assert both.verdict.answer == "interlaced" and both.verdict.lines == ()
    assert "short records do not tell" in both.sentences()[0]
    assert both.to_dict()["lines_per_field"] is None and both.to_dict()["why"]["lines_per_field"]
    same = traced(recorded(one), recorded(replace(one, seed=9)))
    assert same.undecided and "the same field every time" in same.sentences()[0]
    other = traced(recorded(one), recorded(replace(one, clock_ppm=5000.0)))
    assert other.undecided and "two signals" in other.sentences()[0]


def test_a_record_without_time_needs_a_rate() -> None:
    held = Trace("a.npy", float("nan"), {"CH1": record(VIDEO)})
    with pytest.raises(ParameterError, match="--rate"):
        trace([held])
    assert traced(held, rate=10.0).verdict.answer == "interlaced"
    with pytest.raises(ParameterError, match="no file"):
        trace([])


def test_what_tells_nothing_is_said_with_what_would() -> None:
    for volts, words in (
        (np.zeros(600_000, np.float32), "never changes"),
        (np.clip(record(VIDEO), 0, None), "picture without sync"),
        (record(replace(VIDEO, ms=10.0)), "This would tell: one record of 50 ms"),
    ):
        found = traced(Trace("a.csv", 1e-7, {"CH1": volts}))
        assert found.undecided and words in " ".join(found.sentences())
        json.dumps(found.to_dict(), allow_nan=False)
        assert list(found.parts()) and found.table().rows


def test_a_31_khz_signal_and_sync_upside_down() -> None:
    """480p by hand: 858 samples of 27 MHz a line, sync of 62, six broad lines of 525 (CTA-861 VIC 2)."""
    t = np.arange(400_000) / 10.0
    line, into = np.floor(t * 27 / 858) % 525, t % (858 / 27)
    low = np.where(line < 6, into < (858 - 62) / 27, into < 62 / 27)
    volts = (-0.3 * low + np.random.RandomState(1).normal(0, 0.005, len(t))).astype(np.float32)
    for sign in (1, -1):
        found = traced(Trace("a.csv", 1e-7, {"CH1": sign * volts}))
        assert found.verdict.mode is not None and found.verdict.mode.name == "480p59.94"
        assert ("upward" in " ".join(found.sentences())) == (sign < 0)
        assert found.to_dict()["sync_mv"] == pytest.approx(300, abs=3)


def test_fields_a_quarter_of_a_line_off_are_neither() -> None:
    """Separate sync by hand: vertical sync every 262.25 lines."""
    t = np.arange(600_000) / 10.0
    h = np.where(t % 63.5556 < 4.7, 0.0, 3.3).astype(np.float32)
    v = np.where((t + 5000) % (262.25 * 63.5556) < 190, 0.0, 3.3).astype(np.float32)
    found = traced(Trace("hv.csv", 1e-7, {"H": h, "V": v}), columns="hsync=H,vsync=V")
    assert found.verdict.answer == "neither" and not found.undecided
    assert "0.250 line (15.9 µs) apart" in found.sentences()[0] and found.to_dict()["mode"] is None
    guessed = traced(Trace("hv.csv", 1e-7, {"H": h, "V": v}))
    assert guessed.verdict.answer == "neither" and "taken as vertical sync" in " ".join(guessed.remarks())
    assert [plot.name for plot in found.figures()][:1] == ["vertical"]


@pytest.mark.parametrize(
    ("fields", "ms", "seed", "start", "hum", "ppm"),
    [((262.0, 263.0), 60, 35, 448.666, 289.56, 258.8), ((262.5, 262.5), 90, 81, 485.882, 178.73, -117.6)],
)
def test_what_slow_samples_leave_is_no_turn(
    fields: tuple[float, float], ms: float, seed: int, start: float, hum: float, ppm: float
) -> None:
    """At 2 MS/s an edge lies anywhere in half a microsecond: of standard signals 0.004 line was told."""
    spec = Spec(
        fields=fields,
        equalising=False,
        broad="line-rate",
        signal="composite" if seed == 35 else "csync",
        mhz=2.0,
        ms=ms,
        start_lines=start,
        noise_mv=2.5 if seed == 35 else 8.1,
        hum_mv=hum,
        bits=6,
        clock_ppm=ppm,
        seed=seed,
    )
    said = " ".join(traced(Trace("slow.csv", 5e-7, {"A": record(spec)})).sentences())
    assert "more and less" not in said and "less and more" not in said and "Vertical sync begins" not in said


def test_the_plan_says_what_to_set() -> None:
    """60 ms at 2 MS/s are 120 000 points, 6 ms a division of ten, which the row 1, 2, 5 makes 10 ms."""
    plan = trace(plan=True)
    assert isinstance(plan, Planned)
    assert "10 ms a division" in plan.sentences()[0] and "120,000 points" in plan.sentences()[0]
    small = trace(plan=True, points=10_000)
    assert "Take several of about 2 ms" in " ".join(small.sentences())
    assert [each["fits"] for each in small.to_dict()["plan"]] == [False, True, True]
    assert "enough for every question" in " ".join(trace(plan=True, points=10**6).sentences())
