"""``scalesim fields``: clips and pictures, the JSON's keys, and the exit code for "cannot tell"."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest
from few import few
from PIL import Image
from skimage import data

from scalesim.cli.main import main
from scalesim.io.clips.write import write_clip


def frame() -> np.ndarray:
    return cv2.resize(data.astronaut(), (320, 480), interpolation=cv2.INTER_AREA)


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = main(words)
    out, err = capsys.readouterr()
    return code, out, err


@pytest.mark.parametrize("suffix", few([".mp4", ".mkv"], 1))
def test_a_clip_of_woven_frames(tmp_path: Path, capsys: pytest.CaptureFixture[str], suffix: str) -> None:
    """Interlaced H.264, exact and lossy, read back as fields."""
    clip = tmp_path / f"capture{suffix}"
    write_clip(clip, [frame()] * 8, Fraction(30000, 1001), field_order="top")
    code, out, _ = run(capsys, "fields", str(clip), "--json", "--out", str(tmp_path / "o"))
    document = json.loads(out)
    assert code == 0 and document["verdict"] == "interlaced content"
    assert document["content_offset"] == pytest.approx(0.5, abs=0.05)
    assert document["landing_offset"] is None and document["why"]["landing_offset"]
    assert {"flicker_percent", "jitter_lines", "confidence"} <= set(document)
    assert Path(document["files"]["field-top"]).is_file()


def test_pictures_one_field_each(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    same = cv2.resize(frame(), (320, 240), interpolation=cv2.INTER_AREA)
    names = []
    for k in range(4):
        names.append(str(tmp_path / f"{k}.png"))
        Image.fromarray(same).save(names[-1])
    code, out, _ = run(capsys, "fields", *names, "--out", str(tmp_path / "o"))
    assert code == 0 and "the same lines" in " ".join(out.split())


def test_it_ends_with_1_when_it_cannot_tell(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Image.fromarray(np.full((480, 320, 3), 90, np.uint8)).save(tmp_path / "grey.png")
    code, out, _ = run(capsys, "fields", str(tmp_path / "grey.png"), "--out", str(tmp_path / "o"))
    assert code == 1 and "Undecided" in out


def test_what_is_no_capture(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "text.mkv").write_text("not a clip", "utf-8")
    for words in (["nothing.png"], [str(tmp_path / "text.mkv")]):
        code, _, err = run(capsys, "fields", *words, "--out", str(tmp_path / "o"))
        assert code == 2 and err.count("\n") == 1 and not (tmp_path / "o").exists()
