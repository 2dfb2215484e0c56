"""What the page gives is what jobs take: files of readings, several chains, displays and cameras."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import served
from PIL import Image
from starlette.testclient import TestClient

from scalesim.chain import Chain
from scalesim.core.camera import CAMERAS
from scalesim.errors import ParameterError
from scalesim.job import Input, Job
from scalesim.lab import readings as readings_module
from scalesim.lab.bench import Bench
from scalesim.lab.inputs import MANY, first_name, job_inputs
from scalesim.tube.display import DISPLAYS

LOG = b"time_s,lag_ms\n0,5\n1,6\n2,7\n"


def job_of(**reads: str) -> Job:
    return Job("toy", 99, "A toy.", "m:f", tuple(Input(name, read, name) for name, read in reads.items()))  # type: ignore[arg-type]  # words of the test


def taken(bench: Bench, given: object, reads: str) -> object:
    return job_inputs(job_of(it=reads), {"it": given}, None, bench.frames, bench.chain_of)["it"]


def test_a_log_is_read_under_its_own_name(client: TestClient, bench: Bench) -> None:
    told = client.post("/api/readings/logs?name=../my%20log.csv", content=LOG).json()
    assert (told["name"], told["told"]) == ("my log.csv", "3 rows")
    (log,) = taken(bench, [told["id"]], "logs")  # type: ignore[misc]
    assert log.name == "my log.csv" and log.lags.tolist() == [5, 6, 7]
    assert first_name(job_of(it="logs"), {"it": [told["id"]]}, bench.frames) == "my log.csv"
    assert client.post("/api/readings/logs?name=other.csv", content=LOG).json()["id"] == told["id"]


def test_a_photo_is_read(client: TestClient, bench: Bench, tmp_path: Path) -> None:
    Image.fromarray(np.full((40, 60, 3), 90, np.uint8)).save(tmp_path / "p.png")
    told = client.post("/api/readings/photos?name=p.png", content=(tmp_path / "p.png").read_bytes()).json()
    assert told["told"] == "60 × 40 pixels"
    assert taken(bench, told["id"], "photo").codes.shape == (40, 60, 3)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("kind", "name", "content", "words"),
    [
        ("logs", "a.csv", b"", "a.csv"),
        ("logs", "a.csv", b"no,numbers\nx,y\n", "a.csv"),
        ("photos", "a.jpg", b"no photo", "a.jpg"),
        ("photos", "con.jpg", b"", "con-.jpg"),
        ("traces", "x" * 300 + ".csv", b"\x00" * 50, "xxx"),
        ("secrets", "a.csv", LOG, "there are no files for 'secrets'"),
    ],
)
def test_what_is_no_reading_leaves_nothing(
    client: TestClient, tmp_path: Path, kind: str, name: str, content: bytes, words: str
) -> None:
    done = client.post(f"/api/readings/{kind}", params={"name": name}, content=content)
    said = done.json()["error"]
    assert done.status_code == 400 and words in said and "\n" not in said
    assert str(tmp_path) not in said and "reading-" not in said
    assert not list((tmp_path / "store").iterdir())


def test_readings_are_limited_in_number(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readings_module, "MOST_READINGS", 1)
    assert client.post("/api/readings/logs?name=a.csv", content=LOG).status_code == 200
    refused = client.post("/api/readings/logs?name=b.csv", content=LOG + b"3,8\n")
    assert refused.status_code == 400 and "holds 1 such files" in refused.json()["error"]
    assert client.post("/api/readings/logs?name=a.csv", content=LOG).status_code == 200  # it is there


def test_chains_displays_and_cameras(bench: Bench) -> None:
    key, display = next(iter(DISPLAYS.items()))
    assert taken(bench, ["line-drop lines=24", {"text": "interlace"}], "chains") == [
        Chain("line-drop lines=24"),
        Chain("interlace"),
    ]
    assert taken(bench, key, "display") == display
    assert taken(bench, [key, {"key": key, "values": {}}], "displays") == [display, display]
    assert taken(bench, "phone", "camera") == CAMERAS["phone"]


@pytest.mark.parametrize(
    ("reads", "given", "words"),
    [
        ("display", {"toml": "name = 3"}, "diagonal_mm"),
        ("displays", ["../secret.toml"], "display"),
        ("display", 3, "display"),
        ("camera", {"toml": "a = ["}, "TOML"),
        ("camera", "../secret.toml", "camera"),
        ("camera", [1], "camera"),
        ("chains", ["measured file=/etc/hostname"], "given"),
        ("logs", ["../x"], "not here"),
        ("logs", [{"a": 1}], "not here"),
        ("photo", "/etc/hostname", "not here"),
        ("clip", "/etc/hostname", "not here"),
    ],
)
def test_what_no_job_takes(bench: Bench, reads: str, given: object, words: str) -> None:
    """One line each; nothing that a page names is opened."""
    with pytest.raises(ParameterError, match=words):
        taken(bench, given, reads)


def test_lists_are_for_what_takes_many(bench: Bench) -> None:
    for reads in MANY:
        assert job_inputs(job_of(), {"it": []}, None, bench.frames, bench.chain_of) == {}
        with pytest.raises(ParameterError, match="it is missing"):
            taken(bench, [], reads)


def test_lag_by_its_tab(client: TestClient) -> None:
    """A log that rises by 20 us/s, by hand: 0.02 ms a second."""
    rows = "\n".join(f"{at / 2},{5 + 0.01 * at}" for at in range(240))
    told = client.post("/api/readings/logs?name=log.csv", content=b"time_s,lag_ms\n" + rows.encode()).json()
    found = served.asked(client, "/api/jobs/lag", inputs={"logs": [told["id"]]}, keys={})[-1][0]
    assert found["kind"] == "result" and "20 µs/s" in found["title"]
    assert {"plot", "table"} <= {item["is"] for part in found["parts"] for item in part["items"]}
