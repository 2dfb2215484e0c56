"""The lag job: devices, rates, heights, the scope, totals, sentences and the document."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from lag_logs import made
from scipy.signal import sawtooth

from scalesim.cli.main import main
from scalesim.core.lag_table import LagTable
from scalesim.core.trace import Trace
from scalesim.errors import ParameterError
from scalesim.io.saved import read_saved
from scalesim.jobs.lag.lag import lag
from scalesim.jobs.lag.numbers import drift
from scalesim.saving import save

FRAME = 1001 / 60
SAID = {
    "constant": "It is constant",
    "jitter": "from reading to reading",
    "uniform": "anywhere within one frame",
    "two-level": "jumps between two levels",
    "drift": "It drifts: lag",
    "drift+jitter": "with jitter on it",
}


def table(kind: str, seed: int = 3, minutes: float = 5, rate: float = 60000 / 1001) -> LagTable:
    random = np.random.RandomState(seed)
    log = next(each for each in iter(lambda: made(random, kind, minutes, rate), None) if each.visible)
    return LagTable(f"{kind}.csv", log.lags, times=log.times)


def drifting(drift: float, rate: float = 60000 / 1001, base: float = 20.0, name: str = "log.csv") -> LagTable:
    frame = 1000 / rate
    times = np.arange(0, 600.0)
    noise = np.random.RandomState(1).normal(0, 0.1, 600)
    turn = (sawtooth(2 * np.pi * (3 + drift * times) / frame) + 1) / 2
    return LagTable(name, base + frame * turn + noise, times=times)


def test_one_log_gives_the_contracts_keys() -> None:
    found = lag([drifting(0.2)], rate="59.94").to_dict()
    for key in ("min_ms", "median_ms", "max_ms", "drift_us_per_s", "wrap_s", "kind", "confidence"):
        assert found[key] is not None
    assert found["kind"] == "drift" and found["drift_us_per_s"] == pytest.approx(200, abs=1)
    assert found["wrap_s"] == pytest.approx(1000 * FRAME / 200, rel=5e-3) and found["rate_from"] == "given"
    assert found["min_ms"] < found["p5_ms"] < found["median_ms"] < found["p95_ms"] < found["max_ms"]
    assert found["median_frames"] == pytest.approx(found["median_ms"] / FRAME)


def test_what_cannot_be_had_is_null_with_a_reason() -> None:
    found = lag([table("constant")]).to_dict()
    assert found["kind"] == "constant" and found["rate_from"] == "assumed"
    for key in ("drift_us_per_s", "wrap_s", "next_wrap_s"):
        assert found[key] is None and found["why"][key]
    assert found["drift_at_most_us_per_s"] < 20
    one = lag([LagTable("one.csv", np.array([16.7]))]).to_dict()
    assert one["kind"] == "unknown" and one["min_ms"] == one["max_ms"] == 16.7 and one["why"]["kind"]
    json.dumps(one, allow_nan=False)


@pytest.mark.parametrize("kind", ["constant", "jitter", "uniform", "two-level", "drift", "drift+jitter"])
def test_every_kind_is_said_with_its_n(kind: str) -> None:
    log = table(kind, seed=8, minutes=10)
    found = lag([log], rate="59.94")
    assert found.devices[0].study.found.kind == kind
    said = " ".join(found.sentences())
    assert f"n = {len(log.lags)} readings" in said and "confidence" in said
    assert SAID[kind] in said


def test_frames_of_fifty_are_seen_where_no_rate_is_given() -> None:
    found = lag([drifting(0.5, rate=50.0)]).to_dict()
    assert found["rate_hz"] == 50 and found["rate_from"] == "measured"
    assert found["drift_us_per_s"] == pytest.approx(500, abs=2)
    warned = lag([drifting(0.5, rate=50.0)], rate="59.94")
    assert any("check --rate" in note for note in warned.remarks())
    assert lag([drifting(0.5)]).to_dict()["rate_hz"] == pytest.approx(59.94, abs=1e-3)


def test_top_middle_and_bottom_agree_once_the_scan_is_out() -> None:
    """By hand: a 240p tube draws 240 of 262.5 lines, 15.25 ms from top to bottom at 59.94 Hz."""
    random = np.random.RandomState(2)
    heights = np.tile([0.0, 0.5, 1.0], 60)
    lags = 20 + (heights - 0.5) * 15.253 + random.normal(0, 0.1, 180)
    found = lag([LagTable("log.csv", lags, times=np.arange(180.0), heights=heights)]).to_dict()
    assert found["kind"] == "constant" and found["middle_of_picture"]
    assert found["median_ms"] == pytest.approx(20, abs=0.05) and found["max_ms"] - found["min_ms"] < 1
    assert [each["median_ms"] for each in found["heights"]] == pytest.approx([12.37, 20, 27.63], abs=0.1)
    same = 20 + random.normal(0, 0.1, 180)
    plain = lag([LagTable("log.csv", same, times=np.arange(180.0), heights=heights)]).to_dict()
    assert plain["kind"] == "constant" and plain["middle_of_picture"] is None


def test_a_direct_reading_is_taken_off_and_frames_become_ms() -> None:
    found = lag([LagTable("log.csv", np.full(60, 24.0), times=np.arange(60.0))], direct=8.0).to_dict()
    assert found["median_ms"] == 16 and found["direct_ms"] == 8
    frames = lag([LagTable("log.csv", np.full(60, 2.0), "frames", np.arange(60.0))], rate="50").to_dict()
    assert frames["median_ms"] == 40


def test_several_devices_in_one_table() -> None:
    both = LagTable(
        "bench.csv",
        np.concatenate([np.full(60, 17.0), np.full(60, 34.0)]),
        times=np.tile(np.arange(60.0), 2),
        labels=np.repeat([0, 1], 60),
        names=("Box A", "Box B"),
    )
    found = lag([both])
    document = found.to_dict()
    assert [each["device"] for each in document["devices"]] == ["Box A", "Box B"]
    assert document["min_ms"] is None and document["why"]["min_ms"]
    assert len(found.table().rows) == 2 and "17.00 ms (Box A) to 34.00 ms (Box B)" in found.sentences()[0]


def test_boxes_that_beat_together_jump_by_a_frame() -> None:
    """60 to 59.94 and back: the sum of both sawtooths, simulated, takes the two values that are told."""
    logs = [drifting(0.3, name="up.csv"), drifting(-0.3, base=10, name="down.csv")]
    found = lag(logs, rate="59.94", total=True)
    total = found.to_dict()["total"]
    (beat,) = total["beat_locked"]
    low, high = beat["levels_ms"]
    both = logs[0].lags + logs[1].lags
    assert high - low == pytest.approx(FRAME, abs=0.2)
    assert np.minimum(np.abs(both - low), np.abs(both - high)).max() < 0.8
    assert total["min_ms"] <= both.min() and both.max() <= total["max_ms"]
    (said,) = [each for each in found.sentences() if "know nothing of each other" in each]
    assert f"together they are {low:.2f} or {high:.2f} ms" in said  # the logs show that they know
    alone = lag([drifting(0.3, name="a.csv"), drifting(0.1, name="b.csv")], total=True).to_dict()["total"]
    assert not alone["beat_locked"]


def test_a_scope_at_the_middle_of_a_straight_through_tube_reads_zero() -> None:
    """The convention: half the scan after the source begins is no lag; --direct is taken off instead."""
    rate, shift = 50_000, 0.5 * 15.2525e-3
    times = np.arange(0, 4, 1 / rate)
    source, tube = np.zeros(len(times), np.float32), np.zeros(len(times), np.float32)
    for begin in np.arange(0.31, 3.9, 0.45):
        source[(times >= begin) & (times < begin + 0.1)] = 0.7
        tube[(times >= begin + shift) & (times < begin + shift + 0.002)] = 1.2
    trace = Trace("scope.csv", 1 / rate, {"CH1": source, "CH2": tube}, columns=(2, 3))
    found = lag(scope=[trace]).to_dict()
    assert found["n"] == 8 and found["median_ms"] == pytest.approx(0, abs=0.03)
    assert lag(scope=[trace], direct=2.0).to_dict()["median_ms"] == pytest.approx(5.626, abs=0.03)
    assert lag(scope=[trace], height="top").to_dict()["median_ms"] == pytest.approx(7.626, abs=0.03)
    assert lag(scope=[trace], columns="source=CH1,tube=CH2").to_dict()["n"] == 8
    for wrong in ("source=2", "source=2,tube=9", "a=1,b=2", "source=2,tube=2"):
        with pytest.raises(ParameterError, match="columns"):
            lag(scope=[trace], columns=wrong)
    dark = Trace("s.csv", 1 / rate, {"CH1": source, "CH2": 0 * tube}, columns=(2, 3))
    with pytest.raises(ParameterError, match="record a flash on both"):
        lag(scope=[dark])


def test_a_scope_tells_no_more_than_its_samples() -> None:
    """Square flashes 31 ms apart: 2000 samples a second bound a drift to half a ms in that time."""
    found = {}
    for rate in (2000, 200):
        t, random = np.arange(20 * rate) / rate, np.random.RandomState(1)
        source, tube = random.normal(0, 0.01, (2, len(t)))
        for begin in np.arange(0.5, 19, 0.87):
            source[(t >= begin) & (t < begin + 0.1)] += 3.3
            for field in range(6):
                late = begin + 0.031 + field * 1001 / 60000
                tube[(t >= late) & (t < late + 0.002)] += 0.5
        found[rate] = Trace("scope.csv", 1 / rate, {"CH1": source, "CH2": tube}, columns=(2, 3))
    document = lag(scope=[found[2000]]).to_dict()
    assert document["kind"] == "constant" and document["median_ms"] == pytest.approx(31 - 7.626, abs=0.3)
    assert document["drift_at_most_us_per_s"] >= 500 / document["seconds"]
    with pytest.raises(ParameterError, match=r"200 samples a second; .* record 1000"):
        lag(scope=[found[200]])


@pytest.mark.parametrize(
    ("logs", "keys", "said"),
    [
        ([], {}, "no log was given"),
        ([LagTable("a.csv", np.array([1.0, 2.0]))], {}, "--interval"),
        ([LagTable("a.csv", np.array([np.nan, np.nan]), times=np.arange(2.0))], {}, "no reading"),
        ([LagTable("a.csv", np.full(9, -16.0), times=np.arange(9.0))], {}, "below 0"),
        ([LagTable("a.csv", np.full(9, 16.0), times=np.full(9, np.nan))], {}, "no reading"),
        ([LagTable("a.csv", np.array([16.0, 1e300]), times=np.arange(2.0))], {}, "check the unit"),
        ([LagTable("a.csv", np.full(9, 16.0), times=np.arange(9.0))], {"rate": "fast"}, "rate"),
        ([LagTable("a.csv", np.full(9, 16.0), times=np.arange(9.0))], {"height": "left"}, "height"),
        ([LagTable("a.csv", np.full(9, 16.0), times=np.arange(9.0))], {"total": True}, "two devices"),
    ],
)
def test_refused(logs: list[LagTable], keys: dict, said: str) -> None:
    with pytest.raises(ParameterError, match=said):
        lag(logs, **keys)


def test_gaps_order_and_strays_are_told() -> None:
    log = table("constant")
    order = np.random.RandomState(1).permutation(len(log.lags))
    lags = np.append(log.lags[order], [np.nan, -3.0])
    times = np.append(log.times[order], [400.0, 5000.0])
    notes = " ".join(lag([LagTable("log.csv", lags, times=times)]).remarks())
    assert "times run back" in notes and "1 row holds no time or no reading" in notes
    assert "1 gap, 4701 s where" in notes and "below 0" in notes


def test_saved_and_read_back(tmp_path: Path) -> None:
    found = lag([drifting(0.2), drifting(0.05, name="b.csv")], total=True)
    written = save(found, tmp_path / "out")
    assert set(written["files"]) >= {"page", "readings", "lag", "share", "folded", "result"}
    rows = (tmp_path / "out" / "readings.csv").read_text().splitlines()
    assert len(rows) == 1201 and rows[0] == "device,time_s,lag_ms,fit_ms,astray"
    assert read_saved(tmp_path / "out").sentences() == found.sentences()


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    log = drifting(0.2)
    assert log.times is not None
    rows = (f"{t:g};{v:.3f}".replace(".", ",") for t, v in zip(log.times, log.lags, strict=True))
    path = tmp_path / "log.csv"
    path.write_text("time s;lag ms\n" + "\n".join(rows))
    assert main(["lag", str(path), "--rate", "720p59.94", "--json", "--out", str(tmp_path / "out")]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["command"] == "lag" and found["kind"] == "drift"
    assert found["drift_us_per_s"] == pytest.approx(200, abs=1)


@pytest.mark.parametrize("text", ["", "a,b\nc,d\n", "lag\nnan\n", "16\n17\n"])
def test_bad_files_end_with_two_and_one_line(
    tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "log.csv"
    path.write_text(text)
    assert main(["lag", str(path), "--out", str(tmp_path / "out")]) == 2
    out, err = capsys.readouterr()
    assert out == "" and "Traceback" not in err and len(err.strip().splitlines()) == 1
    assert not (tmp_path / "out").exists()


def test_no_drift_is_told_without_an_error() -> None:
    """Ten million exact readings: an error of 0.000000 would claim more than any clock keeps."""
    assert drift(300.005994, 1e-9) == "300.00599 ± 0.00010 µs/s"
    assert drift(300.16, 0.145) == "300.16 ± 0.29 µs/s"


@pytest.mark.parametrize(("before", "after"), [(20.0, 24.0), (24.0, 20.0)])
def test_a_single_step_is_not_said_to_jump_to_and_fro(before: float, after: float) -> None:
    """180 s at one level, 120 at another: one change, with its time, and no claim that it comes back."""
    times, noise = np.arange(300.0), np.random.RandomState(2).normal(0, 0.2, 300)
    lags = np.where(times < 180, before, after) + noise
    lags[40] = 75.0  # a stray is no step
    (said,) = [each for each in lag([LagTable("a.csv", lags, times=times)]).sentences() if "steps" in each]
    assert "It steps once, from" in said and "3 min after the first reading" in said
    levels = [float(word) for word in said.split(" ms,")[0].split("from ")[1].split(" to ")]
    assert levels == pytest.approx([before, after], abs=0.1)
    often = np.where(times // 40 % 2 == 0, before, after) + noise
    told = " ".join(lag([LagTable("a.csv", often, times=times)]).sentences())
    assert "jumps between two levels" in told and "changed 7 times" in told
