"""Whole answers from the page are those of the command line, in the same folders, byte for byte."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import served
from PIL import Image
from starlette.testclient import TestClient

import scalesim as ss
from scalesim.charts.sync import sync_chart
from scalesim.cli.main import main
from scalesim.core.codes import to_codes
from scalesim.jobs.catalogue import jobs
from scalesim.jobs.chart.waveform import csv_text
from scalesim.lab import forms
from scalesim.lab.bench import Bench
from scalesim.lab.tasks import told_as_done

CHAIN = "line-average lines=24"
CAPTURE = {"captures": ["moss_tower"]}


def save_png(path: Path, values: np.ndarray) -> None:
    Image.fromarray(to_codes(values)).save(path)


def result_of(found: list[tuple[dict, bytes]]) -> dict:
    assert found[-1][0]["kind"] == "result", found[-1][0]
    return found[-1][0]


def test_an_export_is_the_command_lines(client: TestClient, bench: Bench, tmp_path: Path) -> None:
    """Every file, byte for byte."""
    told = result_of(
        served.asked(
            client, "/api/export", frame=bench.first, chain=CHAIN, views=["raster", "seen", "screen"]
        )
    )
    assert main(["predict", "a.png", "--chain", CHAIN, "--view", "raster,seen,screen", "--out", "cli"]) == 0
    ours, theirs = Path(told["out"]), tmp_path / "cli"
    assert ours == tmp_path / "outputs" / "predict-a"
    names = sorted(path.name for path in theirs.iterdir())
    assert sorted(path.name for path in ours.iterdir()) == names
    assert all((ours / name).read_bytes() == (theirs / name).read_bytes() for name in names)
    assert client.get(told["page"]).content == (ours / "index.html").read_bytes()
    assert client.get(told["files"]["raster"]).content == (ours / "raster.png").read_bytes()


def test_exports_take_numbers(client: TestClient, bench: Bench) -> None:
    outs = [
        result_of(served.asked(client, "/api/export", frame=bench.first, chain=CHAIN))["out"]
        for _ in range(2)
    ]
    assert [Path(out).name for out in outs] == ["predict-a", "predict-a-2"]
    assert [path.name for path in bench.answers.folders()] == ["predict-a", "predict-a-2"]


def test_variants_are_compared(client: TestClient, bench: Bench) -> None:
    variants = [{"name": "soft", "chain": CHAIN}, {"name": "sharp", "chain": "line-drop lines=24"}]
    found = served.asked(client, "/api/compare", frames=[bench.first], variants=variants)
    told = result_of(found)
    document = json.loads((Path(told["out"]) / "result.json").read_text(encoding="utf-8"))
    assert document["chains"] == {"soft": CHAIN, "sharp": "line-drop lines=24"}
    assert any(each["kind"] == "progress" for each, _ in found)


def test_the_kernel_chart_is_the_command_lines(client: TestClient, tmp_path: Path) -> None:
    """What identify needs is made on the page too, dot for dot what `scalesim chart` writes."""
    told = result_of(served.asked(client, "/api/jobs/chart", mode="480p60"))
    ss.save(ss.chart("kernel", "480p60"), tmp_path / "out")
    made = client.get(told["files"]["png"]).content
    assert made == (tmp_path / "out" / "chart.png").read_bytes()
    refused = served.asked(client, "/api/jobs/chart", mode="kernel")[-1][0]
    assert refused["kind"] == "error" and "kernel" in refused["error"]


def test_a_job_of_the_catalogue(client: TestClient, tmp_path: Path) -> None:
    """A picture moved by two lines of a capture: two lines, in one press."""
    dice = np.random.RandomState(3).rand(60, 80, 3)
    ids = []
    for name, values in (("before.png", dice[:-2]), ("after.png", dice[2:])):
        Image.fromarray((values * 255).astype(np.uint8)).save(tmp_path / name)
        ids.append(
            client.post(f"/api/frames?name={name}", content=(tmp_path / name).read_bytes()).json()["id"]
        )
    inputs = {"before": ids[0], "after": ids[1]}
    told = result_of(served.asked(client, "/api/jobs/press", inputs=inputs, keys={"presses": "2"}))
    document = json.loads((Path(told["out"]) / "result.json").read_text(encoding="utf-8"))
    assert document["command"] == "press" and document["lines_per_press"] == pytest.approx(-1, abs=0.02)


def test_a_trace_is_a_job_of_the_catalogue(client: TestClient) -> None:
    """Sync of 262 lines a field, sent as CSV, is progressive; what is no trace is refused."""
    text = csv_text(sync_chart("240p", signal="csync", mhz=2.0))
    sent = client.post("/api/readings/traces?name=scope.csv", content=text.encode()).json()
    assert (sent["name"], sent["told"]) == ("scope.csv", "120000 samples of csync")
    told = result_of(
        served.asked(client, "/api/jobs/trace", inputs={"files": [sent["id"]]}, keys={"load": "75"})
    )
    document = json.loads((Path(told["out"]) / "result.json").read_text(encoding="utf-8"))
    assert document["verdict"] == "progressive" and document["record"] == "scope.csv"
    refused = client.post("/api/readings/traces?name=words.csv", content=b"no\nnumbers\n")
    assert refused.status_code == 400 and refused.json()["error"].startswith("words.csv: no rows of numbers")
    lost = served.asked(client, "/api/jobs/trace", inputs={"files": ["trace-x"]})
    assert "not here any more" in lost[-1][0]["error"]
    assert told["page"].endswith("index.html") and Path(told["out"]).name == "trace-scope"
    plan = result_of(
        served.asked(client, "/api/jobs/trace", inputs={}, keys={"plan": "on", "points": "10000"})
    )
    assert "120,000\N{NO-BREAK SPACE}points" in plan["sentences"][0]


def test_a_log_of_lag_is_a_job_of_the_catalogue(client: TestClient) -> None:
    """A constant of 16.7 ms, sent as CSV; clocks need no file at all."""
    rows = "".join(f"{k},{16.7 + 0.01 * (k % 3):.2f}\n" for k in range(90))
    sent = client.post("/api/readings/logs?name=bench.csv", content=f"time_s,lag_ms\n{rows}".encode()).json()
    assert sent["told"] == "90 rows"
    told = result_of(
        served.asked(client, "/api/jobs/lag", inputs={"logs": [sent["id"]]}, keys={"rate": "50"})
    )
    document = json.loads((Path(told["out"]) / "result.json").read_text(encoding="utf-8"))
    assert document["kind"] == "constant" and document["median_frames"] == pytest.approx(0.8355, abs=1e-3)
    told = result_of(
        served.asked(client, "/api/jobs/clocks", inputs={}, keys={"source": "50", "display": "60"})
    )
    assert "10 hitches" in " ".join(told["sentences"]).replace("\N{NO-BREAK SPACE}", " ")


def lopsided(frame: np.ndarray) -> np.ndarray:
    """A box of weights that no stage has."""
    lines = np.arange(0, len(frame), 2)
    return sum(
        share * frame[np.minimum(lines + at, len(frame) - 1)] for at, share in ((0, 0.5), (1, 0.1), (5, 0.4))
    )


def items_of(told: dict) -> list[dict]:
    return [item for part in told["parts"] for item in part["items"]]


def pictures_of(told: dict) -> list[str]:
    """Return the addresses of everything that the page draws of an answer."""
    items = items_of(told)
    layers = [layer for each in items if each["is"] == "viewer" for layer in each["options"]["pictures"]]
    return [each["source"] for each in [*layers, *items] if "source" in each]


@pytest.mark.parametrize("undecided", [pytest.param(False, marks=pytest.mark.slow), True])
def test_a_box_is_identified_and_its_chain_goes_back(
    client: TestClient, tmp_path: Path, undecided: bool
) -> None:
    """A drop or an average has a name; what no stage gives is kept as a file that the page may name."""
    assert main(["chart", "kernel", "--mode", "480p60", "--out", "chart"]) == 0
    chart = ss.read(tmp_path / "chart" / "chart.png", mode="480p60")
    assert chart.frame is not None
    made = (
        lopsided(chart.frame) if undecided else ss.predict(chart, "line-average lines=240", metrics=[]).landed
    )
    save_png(tmp_path / "box.png", made)
    capture = client.post("/api/frames?name=box.png", content=(tmp_path / "box.png").read_bytes()).json()
    told = result_of(
        served.asked(client, "/api/jobs/identify", inputs={"captures": [capture["id"]]}, mode="480p60")
    )
    assert told["undecided"] is undecided and told["chain"].startswith("measured file=") is undecided
    assert {"plot", "picture", "viewer", "code", "table"} <= {each["is"] for each in items_of(told)}
    for place in pictures_of(told):
        assert client.get(place).headers["content-type"].startswith("image/"), place
    sent = client.post("/api/frames?name=chart.png", content=(tmp_path / "chart" / "chart.png").read_bytes())
    found = served.asked(client, "/api/explore", tab="t", seq=1, frame=sent.json()["id"], chain=told["chain"])
    again = next(served.dots(packed) for each, packed in found if each["kind"] == "picture")
    assert np.abs(again.astype(int) - to_codes(made)).mean() < 2


def test_every_job_with_a_form_can_be_filled_in(client: TestClient) -> None:
    start = client.get("/api/start").json()
    told = {each["name"]: each for each in start["jobs"]}
    assert set(told) == set(jobs()) - set(forms.BY_HAND)
    for name, form in told.items():
        assert [each["name"] for each in form["inputs"]] == [each.name for each in jobs()[name].inputs]
        assert all(key["doc"] and key["type"] for key in form["keys"])


@pytest.mark.parametrize(
    ("path", "table", "words"),
    [
        ("/api/jobs/press", {"inputs": {}}, "before is missing"),
        ("/api/jobs/press", {"inputs": []}, "inputs is no table"),
        ("/api/jobs/press", {"inputs": {"before": "x", "after": "y"}}, "not here any more"),
        ("/api/export", {"frame": "a"}, "not here any more"),
        ("/api/export", {"views": ["moon"]}, "views is none of"),
        ("/api/jobs/identify", {}, "captures is missing"),
        ("/api/jobs/chart", {}, "mode is missing"),
        ("/api/jobs/identify", {"inputs": CAPTURE}, "mode is missing"),
        ("/api/jobs/identify", {"inputs": CAPTURE, "mode": "720p60", "keys": {"scan": "x"}}, "scan is none"),
        ("/api/jobs/identify", {"inputs": CAPTURE, "mode": "720p60", "keys": {"lines": "x"}}, "lines is"),
        ("/api/compare", {}, "at least one"),
        ("/api/compare", {"frames": ["moss_tower"], "variants": [3]}, "no table"),
    ],
)
def test_what_a_task_cannot_take(client: TestClient, path: str, table: dict, words: str) -> None:
    found = served.asked(client, path, **table)
    assert found[-1][0]["kind"] == "error" and words in found[-1][0]["error"]


def test_a_job_that_is_none(client: TestClient) -> None:
    done = client.post("/api/jobs/fild", json={})
    assert done.status_code == 400 and "did you mean 'fields'" in done.json()["error"]


def test_the_curve_is_that_of_tune(client: TestClient, bench: Bench) -> None:
    asked = {"tab": "t", "seq": 1, "frame": bench.first, "chain": "line-average lines=24"}
    found = served.asked(client, "/api/tune", **asked, vary="line-average.phase=0:2:1/2")
    told = found[-1][0]
    expected = ss.tune(CHAIN, [bench.frames.clip(bench.first)], vary="line-average.phase=0:2:1/2")
    assert told["kind"] == "curve"
    assert [p["score"] for p in told["points"]] == [p.score for p in expected.curve]
    assert told["best"] == str(int(expected.best.values["line-average.phase"])) and told["now"] == "0"
    assert told["sentences"] == expected.sentences()


def test_a_point_of_the_curve_sets_what_was_measured(client: TestClient, bench: Bench) -> None:
    """A fraction of a line: predicted anew with the keys that the point sets, the measure is the curve's."""
    frame = [bench.frames.clip("moss_tower")]

    def detail(text: str) -> float | None:
        return ss.compare({"a": text}, frame).rows[0].metrics["detail_kept"]

    asked = {"tab": "t", "seq": 1, "frame": "moss_tower", "chain": "position lines=0, line-average lines=240"}
    vary = "position.lines=0:1:1/2"
    told = served.asked(client, "/api/tune", **asked, vary=vary, by="detail_kept")[-1][0]
    half = told["points"][1]
    assert half["set"] == {"position.lines": "1", "line-average.phase": "0.5"}
    assert told["dial"] == "picture moved down, source lines"  # what stands at the axis, with its unit
    for point in told["points"]:
        lines, phase = point["set"]["position.lines"], point["set"]["line-average.phase"]
        found = detail(f"position lines={lines}, line-average lines=240 phase={phase}")
        assert found == pytest.approx(point["score"], rel=1e-6)
    scores = [point["score"] for point in told["points"]]
    assert np.abs(np.diff(scores)).min() > 0.1  # any other setting would have failed above


@pytest.mark.parametrize("vary", [None, "", "phase", "line-average.phase=a", "line-average.phase=0:1:1e-9"])
def test_curves_of_nothing(client: TestClient, bench: Bench, vary: str | None) -> None:
    asked = {"tab": "t", "seq": 1, "frame": bench.first, "chain": CHAIN, "vary": vary}
    assert served.asked(client, "/api/tune", **asked)[-1][0]["kind"] == "error"


# one file that holds a lab


def test_a_lab_opens_as_it_was_saved(client: TestClient) -> None:
    stages = [{"kind": "line-drop", "keys": {"lines": "24"}}, {"kind": "interlace", "keys": {}, "off": True}]
    given = [{"name": "a", "note": "as it is", "stages": stages}, {"name": "b", "note": "", "text": CHAIN}]
    saved = client.post("/api/lab", json={"variants": given, "frame": "moss_tower", "view": "x=1"}).json()
    opened = client.post("/api/lab/open", json=saved).json()
    assert opened["frame"] == "moss_tower" and opened["view"] == "x=1"
    assert [each["name"] for each in opened["variants"]] == ["a", "b"]
    assert opened["variants"][0]["stages"][1] == {"kind": "interlace", "keys": {}, "off": True}
    assert opened["variants"][1]["text"] == CHAIN
    again = client.post("/api/lab", json=opened).json()
    assert again == saved


@pytest.mark.parametrize(
    "toml",
    [
        "",
        "a = [",
        "scalesim_lab = 2",
        "scalesim_lab = 1\nnope = 1",
        "[[variant]]\nchain = 'x'",
        "variant = 3",
        3,
    ],
)
def test_what_is_no_lab(client: TestClient, toml: object) -> None:
    done = client.post("/api/lab/open", json={"toml": toml})
    assert done.status_code == 400 and "\n" not in done.json()["error"]


# its end


def test_nobody_waits_for_a_job_when_the_lab_ends() -> None:
    """The answer ends at once, and the work stops at its next step."""
    ending, begun, stopped = threading.Event(), threading.Event(), threading.Event()

    def work(advance: Callable[[str], None]) -> dict:
        begun.set()
        try:
            while True:
                time.sleep(0.01)
                advance("on and on")
        finally:
            stopped.set()

    told = told_as_done(work, ending)
    assert b"on and on" in next(told) and begun.is_set()
    ending.set()
    assert len(list(told)) <= 1  # the work itself would never end
    assert stopped.wait(60)
