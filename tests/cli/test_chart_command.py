"""``scalesim chart``: the picture, the clips at their true rate, the truth, and readings."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from scalesim.cli.main import main


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


@pytest.mark.parametrize("name", ["kernel", "geometry", "levels", "flicker"])
def test_every_chart(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    words = ["chart", name, "--mode", "480p59.94", "--seconds", "0.2", "--json", "--out", str(tmp_path / "o")]
    code, out, _ = run(capsys, *words)
    document = json.loads(out)
    assert code == 0
    assert {"png", "clip", "clip-h264", "truth"} <= set(document["files"])
    truth = json.loads(Path(document["files"]["truth"]).read_text("utf-8"))
    assert truth["mode"] == "480p59.94"
    picture = np.asarray(Image.open(document["files"]["png"]))
    assert picture.shape == (480, 720, 3)
    with av.open(document["files"]["clip"]) as clip:
        frames = [frame.to_ndarray(format="rgb24") for frame in clip.decode(video=0)]
        assert clip.streams.video[0].average_rate == pytest.approx(Fraction(60000, 1001), rel=1e-6)
    assert len(frames) == 12 and all(np.array_equal(frame, picture) for frame in frames)


def test_an_interlaced_chart_is_played_as_fields(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = [
        "chart",
        "kernel",
        "--mode",
        "1080i60",
        "--seconds",
        "0.2",
        "--json",
        "--out",
        str(tmp_path / "o"),
    ]
    document = json.loads(run(capsys, *words)[1])
    with av.open(document["files"]["clip"]) as clip:
        frames = list(clip.decode(video=0))
    assert len(frames) == 6 and frames[0].interlaced_frame


def test_readings_become_an_overscan(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """720 lines to 240: nine lines hidden are three."""
    words = [
        "chart",
        "geometry",
        "--mode",
        "720p60",
        "--seconds",
        "0.1",
        "--out",
        str(tmp_path / "o"),
        "--json",
    ]
    words += [
        "--chain",
        "line-drop lines=240",
        "--seen",
        "top=9",
        "--seen",
        "bottom=6",
        "--seen",
        "left=30,right=28",
    ]
    document = json.loads(run(capsys, *words)[1])
    assert document["seen"]["stage"] == "overscan top=3 bottom=2 left=30 right=28"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["kernel", "--mode", "720p61"], "720p60"),
        (["kernel", "--mode", "720p60", "--seen", "top=1"], "geometry"),
        (["geometry", "--mode", "720p60", "--seen", "top=1"], "bottom"),
        (["geometry", "--mode", "720p60", "--seen", "top=x,bottom=1,left=1,right=1"], "top"),
        (["counters", "--mode", "720p60"], "kernel"),
        (["kernel"], "--mode"),
        (["kernel", "--mode", "720p60", "--seconds", "0"], "0.001"),
    ],
)
def test_what_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    code, _, err = run(capsys, "chart", *words, "--out", str(tmp_path / "o"))
    assert code == 2 and said in err and err.count("\n") == 1 and not (tmp_path / "o").exists()
