"""``scalesim tune``: the curve and the answer, presses, a capture's position, and what it refuses."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from scalesim.chain import Chain
from scalesim.cli.main import main

CHAIN = "position lines=0, line-average lines=80"


def art() -> np.ndarray:
    """Return art of 80 lines scaled three times, its grid one line down: outlines one line of art thick."""
    random = np.random.RandomState(3)
    small = np.full((81, 120, 3), 200, np.uint8)
    for top in range(4, 76, 6):
        left = random.randint(0, 40)
        small[top, left : left + 70] = random.randint(0, 60, 3)
    large = np.kron(small, np.ones((3, 3, 1), np.uint8))
    return np.ascontiguousarray(large[2:242])


@pytest.fixture
def frame(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    Image.fromarray(art()).save(tmp_path / "art.png")
    return tmp_path / "art.png"


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


def test_it_finds_the_grid(frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The grid begins at line 1, so down by 2 or up by 1 puts it on the spans of three; up is less."""
    words = ["tune", str(frame), "--chain", CHAIN, "--mode", "custom", "--vary", "position.lines=-3:3:0.5"]
    code, out, _ = run(capsys, *words, "--json", "--out", "o")
    document = json.loads(out)
    assert code == 0 and document["best"] == {"position.lines": -1} and document["clear"] is True
    assert {"score", "ties", "margin", "curve", "chain"} <= set(document)
    assert {"position.lines": 2} in document["ties"]
    assert len(document["curve"]) == 13
    assert document["art"][0]["lines"] == pytest.approx({"pitch": 3, "offset": 1, "confidence": 1}, abs=0.2)
    assert document["art"][0]["exact_positions"] == [2]
    rows = list(csv.DictReader((tmp_path / "o" / "curve.csv").read_text("utf-8").splitlines()))
    assert len(rows) == 13 and float(rows[4]["score"]) == pytest.approx(document["score"])
    best = Chain.from_toml((tmp_path / "o" / "best.toml").read_text("utf-8"))
    assert best == Chain("position lines=-1, line-average lines=80")
    assert {"page", "plot", "before-1", "after-1"} <= set(document["files"])
    page = (tmp_path / "o" / "index.html").read_text("utf-8")
    assert "Move the picture up by 1" in page


def test_presses_of_the_boxs_dial(frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    dial = '\n[[dial]]\nkey = "position.lines"\nlabel = "V-POS"\nsteps = [-2, -1, 0, 1, 2]\n'
    (tmp_path / "box.toml").write_text(Chain(CHAIN).to_toml() + dial, "utf-8")
    words = ["tune", str(frame), "--chain", "box.toml", "--mode", "custom", "--json", "--out", "o"]
    code, out, _ = run(capsys, *words)
    document = json.loads(out)
    assert code == 0 and document["best_presses"] == {"position.lines": -1}
    assert "presses of V-POS" in (tmp_path / "o" / "curve.svg").read_text("utf-8")


def test_a_map_of_two_dials(frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    vary = ["--vary", "position.lines=-1:1:1", "--vary", "line-average.phase=0|1"]
    code, out, _ = run(
        capsys, "tune", str(frame), "--chain", CHAIN, "--mode", "custom", *vary, "--json", "--out", "o"
    )
    document = json.loads(out)
    assert code == 0 and len(document["curve"]) == 6 and "plot" in document["files"]
    assert {"position.lines": 0, "line-average.phase": 1} in document["ties"]


def moved(lines: float) -> np.ndarray:
    large = cv2.resize(art(), (720, 480), interpolation=cv2.INTER_CUBIC)
    turn = np.array([[1, 0, 0], [0, 1, lines]], np.float32)
    return cv2.warpAffine(large, turn, (720, 480), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)


@pytest.mark.parametrize("asked", [["tune", "--calibrate"], ["press"]])
def test_what_a_press_does(
    frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], asked: list[str]
) -> None:
    """Five presses moved the picture down by 2.5 lines; five back left it half a line low."""
    for name, lines in (("before", 0.0), ("after", 2.5), ("back", 0.5)):
        Image.fromarray(moved(lines)).save(tmp_path / f"{name}.png")
    words = ["before.png", "after.png", "--presses", "5", "--back", "back.png"]
    code, out, _ = run(capsys, *asked, *words, "--json", "--out", "o")
    document = json.loads(out)
    assert code == 0
    assert document["lines_per_press"] == pytest.approx(0.5, abs=0.02)
    assert document["hysteresis_lines"] == pytest.approx(0.5, abs=0.06)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--vary", "position.lines=1:0:0.5"], "position.lines"),
        (["--vary", "position.lines=0:1:0"], "step"),
        (["--vary", "position.lines=0:100:0.001"], "100001 values; at most 20000"),
        (["--vary", "position.height=0:1:1"], "height"),
        (["--vary", "size.height=90:100:1"], "size"),
        ([], "nothing to vary"),
        (["--vary", "position.lines=0|1", "--by", "sharpness"], "sharpness"),
        (["--vary", "position.lines=0|1", "--where", "cropped_percent"], "cropped_percent"),
    ],
)
def test_what_is_refused(
    frame: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    code, _, err = run(capsys, "tune", str(frame), "--chain", CHAIN, "--mode", "custom", *words)
    assert code == 2 and said in err.splitlines()[-1] and "Traceback" not in err
    assert not (tmp_path / "outputs").exists()


def test_a_frame_without_outlines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Image.fromarray(np.full((240, 360, 3), 90, np.uint8)).save(tmp_path / "grey.png")
    words = ["tune", str(tmp_path / "grey.png"), "--chain", CHAIN, "--mode", "custom"]
    code, _, err = run(capsys, *words, "--vary", "position.lines=0|1", "--out", str(tmp_path / "o"))
    assert code == 2 and "too few thin horizontal outlines" in err
