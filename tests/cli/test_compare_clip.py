"""``scalesim compare --clip``: what it writes, and what it says of bad input."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from scalesim.cli.main import main
from scalesim.io.saved import read_saved

A, B = "drop: line-drop lines=240 phase=1", "soft & <wide>: line-average lines=240"


@pytest.fixture
def frame(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """A 720p frame in the working folder."""
    monkeypatch.chdir(tmp_path)
    codes = np.random.RandomState(1).randint(0, 256, (36, 64, 3)).astype(np.uint8)
    Image.fromarray(np.kron(codes, np.ones((20, 20, 1), np.uint8))).save("a.png")
    return "a.png"


def test_two_files_a_page_and_a_document(frame: str, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--chain", A, "--chain", B, "--clip", "stacked", "--pan", "120,0", "--seconds", "0.1"]
    code = main(["compare", frame, *words, "--out", "made", "--json"])
    out, err = capsys.readouterr()
    document = json.loads(out)
    assert code == 0
    assert document["layout"] == "stacked" and document["rate_hz"] == 60 and document["fields_alone"] is False
    assert [panel["label"] for panel in document["panels"]] == ["drop", "soft & <wide>"]
    assert document["panels"][0]["chain"] == "line-drop lines=240 phase=1"
    for name in ("mp4", "mkv"):
        clip = document["clips"][name]
        assert (clip["frames"], clip["width"], clip["height"], clip["caution_s"]) == (6, 1920, 1080, 0.0)
        assert Path(f"made/comparison.{name}").stat().st_size > 0
        assert Path(f"made/comparison.{name}.flashes.json").is_file()
    assert "comparison.mkv: 6 pictures of 1920x1080" in err and err.count("WCAG") == 1
    page = Path("made/index.html").read_text("utf-8")
    assert "soft &amp; &lt;wide&gt;" in page and 'href="comparison.mkv"' in page
    assert (
        read_saved("made").sentences()[0].startswith("2 panels below each other show the same part of a.png")
    )


@pytest.mark.slow
def test_a_clip_that_flashes_has_its_caution(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A clip of black and white frames in turn, six a second: the card stands before both files."""
    from fractions import Fraction

    from scalesim.io.clips.write import write_clip

    monkeypatch.chdir(tmp_path)
    black, white = (np.full((720, 320, 3), level, np.uint8) for level in (0, 255))
    write_clip("in.mkv", ((black, white)[k // 5 % 2] for k in range(60)), Fraction(60))
    words = ["--chain", "line-drop lines=240", "--chain", B, "--clip", "beside", "--out", "made"]
    assert main(["compare", "in.mkv", "--mode", "720p60", *words]) == 0
    document = json.loads(Path("made/result.json").read_text("utf-8"))
    for clip in document["clips"].values():
        assert clip["caution_s"] == 3.0 and clip["frames"] == 60 + 180 and clip["caution"]


REFUSED = (
    (["--zoom", "3"], "--zoom applies to a clip; add --clip beside"),
    (["--no-card"], "--no-card applies to a clip; add --clip beside"),
    (["--clip", "beside", "--slow", "0"], "slow is 0"),
    (["--clip", "beside", "--seconds", "x"], "--seconds"),
    (["--clip", "beside", "--seconds", "-1"], "seconds is -1"),
    (["--clip", "beside", "--pan", "1"], "--pan"),
    (["--clip", "beside", "--crop", "0,0,9,9", "--crop", "1,1,9,9"], "--clip takes one --crop; 2 were given"),
    (["--clip", "beside", "--capture", "box"], "--capture box: write it as LABEL=PATH"),
    (["--clip", "beside", "--capture", "box=none.mkv"], "none.mkv"),
    (["--clip", "beside", "b.png"], "--clip takes one clip or picture; 2 were given"),
    (["--clip", "round"], "round"),
    (["--clip", "beside", "--size", "99"], "99"),
)


@pytest.mark.parametrize(("words", "said"), REFUSED)
def test_bad_input_takes_one_line(
    words: list[str], said: str, frame: str, capsys: pytest.CaptureFixture[str]
) -> None:
    code = main(["compare", frame, "--chain", A, "--chain", B, *words, "--out", "made"])
    _, err = capsys.readouterr()
    assert code == 2 and said in err and len(err.strip().splitlines()) == 1
    assert not Path("made").exists()
