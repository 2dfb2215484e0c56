"""`scalesim glass` as it is typed: what it answers, what it refuses, in one line each."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from glass_camera import Camera, corners, photo
from glass_tube import Tube
from PIL import Image

from scalesim.cli.main import main

SEEN = Camera(rows=256, columns=320, pixels=7, roll=2, exposure=2 / 59.94, seed=3)
TUBE = Tube(scan="480i", sigma=0.16, picture=4)


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A photo with its exposure time, lying on its side as phones write them."""
    place = tmp_path_factory.mktemp("glass") / "photo.jpg"
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned clockwise
    exif.get_ifd(0x8769)[0x829A] = 2 / 59.94
    Image.fromarray(np.rot90(photo(SEEN, TUBE))).save(place, quality=92, exif=exif)
    return place


def test_a_photo_is_read_upright_with_its_shutter(
    taken: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    at = " ".join(f"{x:.1f},{y:.1f}" for x, y in corners(SEEN, TUBE))
    out = tmp_path / "out"
    assert main(["glass", str(taken), "--corners", at, "--json", "--out", str(out)]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["sets"] == "two" and document["shutter"]["fields"] == pytest.approx(2, abs=0.01)
    assert document["pixels_per_line"] == pytest.approx(3.5, rel=0.01)
    assert document["roll_deg"] == pytest.approx(-2, abs=0.3)
    for key in (
        "lines",
        "lines_error",
        "landing_offset",
        "jitter_lines",
        "line_width",
        "gap_depth",
        "tilt_deg",
    ):
        assert document[key] is not None or document["why"][key]
    assert (out / "index.html").is_file() and (out / "lines.csv").is_file() and (out / "lines.png").is_file()


def test_without_a_scale_it_cannot_tell_and_ends_with_1(taken: Path, tmp_path: Path) -> None:
    assert main(["glass", str(taken), "--out", str(tmp_path / "out")]) == 1


def test_a_drawn_picture_has_no_lines(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rng = np.random.RandomState(1)
    drawn = np.kron(rng.randint(40, 255, (12, 16, 3)), np.ones((40, 40, 1)))
    drawn[1::4] *= 0.3
    drawn[2::4] *= 0.1
    Image.fromarray(drawn.astype(np.uint8)).save(tmp_path / "shot.png")
    assert main(["glass", str(tmp_path / "shot.png"), "--json", "--out", str(tmp_path / "o")]) == 1
    document = json.loads(capsys.readouterr().out)
    assert document["sets"] == "unknown" and document["pixels_per_line"] is None and document["why"]["lines"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--corners", "1,2 3,4"], "4 numbers were given, 8 are needed"),
        (["--corners", "0,0 1,1 2,2 3,3"], "do not go round"),
        (["--corners", "0,0 1,1 2,2 3,x"], "no number"),
        (["--corners", "0,0 1,0 1,1 0,1"], "is 1.0 pixels long and must be 64 at least; give the corners in"),
        (["--shutter", "fast"], "no time"),
        (["--bezel", "10,20,640,80"], "630 pixels wide and 60 high; at least 40 wide and 64 high"),
        (["--lines", "7"], "at least 100"),
    ],
)
def test_what_does_not_fit_is_one_line(
    taken: Path, words: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["glass", str(taken), *words, "--out", str(tmp_path / "o")]) == 2
    error = capsys.readouterr().err.strip()
    assert said in error.splitlines()[-1] and not (tmp_path / "o").exists()


def test_files_that_are_no_photos_are_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    heic = tmp_path / "photo.heic"
    heic.write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(100))
    cut = tmp_path / "cut.jpg"
    Image.fromarray(np.zeros((200, 200, 3), np.uint8)).save(cut)
    cut.write_bytes(cut.read_bytes()[:400])
    (tmp_path / "text.jpg").write_text("no photo")
    (tmp_path / "empty.jpg").write_bytes(b"")
    for name, said in (
        ("photo.heic", "HEIC"),
        ("cut.jpg", "damaged or cut short"),
        ("text.jpg", "text"),
        ("empty.jpg", "empty"),
        ("none.jpg", "no"),
    ):
        assert main(["glass", str(tmp_path / name), "--out", str(tmp_path / "o")]) == 2
        error = capsys.readouterr().err.strip().splitlines()
        assert len(error) == 1 and said in error[0], error
    assert main(["glass", "--out", str(tmp_path / "o")]) == 2
    assert "no photo was given" in capsys.readouterr().err
