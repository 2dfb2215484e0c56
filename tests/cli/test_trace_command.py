"""``scalesim chart sync`` and ``scalesim trace``: what the one writes, the other reads."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from scope_records import Spec, record

from scalesim.cli.main import main

Capsys = pytest.CaptureFixture[str]


def write(path: Path, volts: np.ndarray, mhz: float) -> str:
    rows = [f"{k / mhz * 1e-6:.8f},{value:.4f}" for k, value in enumerate(volts.tolist())]
    path.write_text("Time (s),CH1 (V)\n" + "\n".join(rows) + "\n")
    return str(path)


@pytest.mark.parametrize(("mode", "verdict"), [("480i", "interlaced"), ("288p", "progressive")])
def test_a_chart_is_traced(mode: str, verdict: str, tmp_path: Path, capsys: Capsys) -> None:
    words = [
        "chart",
        "sync",
        "--mode",
        mode,
        "--seconds",
        "0.062",
        "--noise",
        "6",
        "--gain",
        "1.1",
        "--mhz",
        "2.5",
    ]
    assert main([*words, "--json", "--out", str(tmp_path / "c")]) == 0
    made = json.loads(capsys.readouterr().out)
    assert {"csv", "truth", "page"} <= set(made["files"])
    assert main(["trace", made["files"]["csv"], "--json", "--out", str(tmp_path / "t")]) == 0
    out, err = capsys.readouterr()
    found = json.loads(out)
    assert found["verdict"] == verdict and found["mode"].startswith(mode)
    assert found["sync_mv"] == pytest.approx(330, abs=3) and "columns between commas" in err
    assert (tmp_path / "t" / "pulses.csv").is_file()
    assert main(["trace", made["files"]["csv"], "--json", "--out", str(tmp_path / "again")]) == 0
    for name in ("index.html", "pulses.csv", "vertical.svg", "trace.md"):
        assert (tmp_path / "t" / name).read_bytes() == (tmp_path / "again" / name).read_bytes(), name


def test_a_short_record_ends_with_1(tmp_path: Path, capsys: Capsys) -> None:
    path = write(tmp_path / "short.csv", record(Spec(ms=5.0, mhz=2.0)), 2.0)
    assert main(["trace", path, "--out", str(tmp_path / "t")]) == 1
    assert "cannot be told" in " ".join(capsys.readouterr().out.split())


def test_the_plan_needs_no_file(tmp_path: Path, capsys: Capsys) -> None:
    assert main(["trace", "--plan", "--points", "10000", "--out", str(tmp_path / "p")]) == 0
    assert "120,000 points" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        ([], "no file was given"),
        (["none.csv"], "no such trace file"),
        (["empty.csv"], "empty"),
        (["words.csv"], "no rows of numbers"),
        (["one.csv"], "say --rate"),
        (["one.csv", "--rate", "0"], "rate is 0"),
        (["ok.csv", "--columns", "red=2"], "name no sync"),
        (["ok.csv", "--load", "50"], "load"),
    ],
)
def test_bad_input_is_one_line_and_2(
    words: list[str], told: str, tmp_path: Path, capsys: Capsys, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("empty.csv").touch()
    Path("words.csv").write_text("the time\nhas come\n")
    Path("one.csv").write_text("".join(f"{k % 7}\n" for k in range(5000)))
    write(Path("ok.csv"), record(Spec(ms=2.0, mhz=2.0)), 2.0)
    assert main(["trace", *words]) == 2
    out, err = capsys.readouterr()
    assert told in err and err.count("\n") == 1 and not out and "Traceback" not in err
    assert not list(Path().glob("outputs/*"))


def test_options_of_the_sync_chart_are_of_no_other(tmp_path: Path, capsys: Capsys) -> None:
    assert main(["chart", "levels", "--mode", "480i", "--noise", "3", "--out", str(tmp_path / "c")]) == 2
    assert "--noise is of the sync chart" in capsys.readouterr().err
    assert main(["chart", "sync", "--mode", "720p60", "--out", str(tmp_path / "c")]) == 2
    assert "15 kHz" in capsys.readouterr().err
