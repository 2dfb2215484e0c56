"""A library of another version is no fault of the user's file; the versions of PyAV are stated once.

The refusals are Python's own: TypeError for a keyword and AttributeError for a name that is not there
(Python language reference, calls; library reference, exceptions).
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from clip_files import pattern
from PIL import Image

from scalesim.cli.main import main
from scalesim.errors import LibraryError, ReadError
from scalesim.io.clips.ffmpeg import RANGE
from scalesim.io.clips.read import read_clip
from scalesim.io.pictures.read import read_picture

LOSSLESS = ("-c:v", "ffv1")
ROOT = Path(__file__).parents[2]


def refusing(*_: Any, **__: Any) -> None:
    raise TypeError("open() got an unexpected keyword argument 'tolerant'")


def lacking(*_: Any, **__: Any) -> None:
    raise AttributeError("'Container' object has no attribute 'walk'")


@pytest.mark.parametrize("fault", [refusing, lacking])
def test_a_pyav_that_refuses_to_open(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], fault: Any
) -> None:
    path = pattern(tmp_path / "whole.mkv", 0.1, *LOSSLESS)
    monkeypatch.setattr(av, "open", fault)
    with pytest.raises(LibraryError) as caught:
        read_clip(path)
    assert f"PyAV {av.__version__} does not answer" in str(caught.value) and RANGE in str(caught.value)
    assert main(["predict", str(path), "--chain", "line-drop lines=60"]) == 2
    told = capsys.readouterr().err
    assert "PyAV" in told and told.count("\n") == 1
    assert "whole.mkv" not in told and "no clip" not in told and "damaged" not in told


@pytest.mark.parametrize("step", ["whole_packets", "frames_of"])
def test_a_pyav_that_refuses_later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    def fault(*_: Any) -> Any:
        yield lacking()

    path = pattern(tmp_path / "whole.mkv", 0.1, *LOSSLESS)
    clip = read_clip(path)
    for module in ("clips.scan", "clips.facts", "clips.read"):
        monkeypatch.setattr(f"scalesim.io.{module}.{step}", fault, raising=False)
    with pytest.raises(LibraryError, match="PyAV"):
        read_clip(path)
    if step == "frames_of":
        with pytest.raises(LibraryError, match="PyAV"):
            next(clip.pictures())


def test_what_ffmpeg_says_of_a_file_stays_with_the_file(tmp_path: Path) -> None:
    (tmp_path / "text.mkv").write_text("no clip", "utf-8")
    with pytest.raises(ReadError, match=r"text\.mkv: cannot be read as a clip"):
        read_clip(tmp_path / "text.mkv")


def test_a_title_that_is_not_utf_8(tmp_path: Path) -> None:
    """Older recorders write titles in ISO 8859-1, where 0xE9 is e acute; it is no start of UTF-8 here."""
    path = pattern(tmp_path / "a.mkv", 0.1, *LOSSLESS, "-metadata", "title=Caf__")
    data = path.read_bytes()
    assert data.count(b"Caf__") == 1
    path.write_bytes(data.replace(b"Caf__", b"Caf\xe9_"))
    assert len(list(read_clip(path).pictures())) == 6


def test_16_bit_pictures_go_through_pyav_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Image.fromarray(np.full((8, 8), 999, np.uint16)).save(tmp_path / "a.png")
    assert read_picture(tmp_path / "a.png").bits == 16
    monkeypatch.setattr(av, "Packet", refusing)
    with pytest.raises(LibraryError, match="PyAV"):
        read_picture(tmp_path / "a.png")


def test_a_pillow_that_refuses(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Image.new("RGB", (8, 8)).save(tmp_path / "a.png")
    monkeypatch.setattr(Image, "open", refusing)
    with pytest.raises(LibraryError, match="Pillow"):
        read_picture(tmp_path / "a.png")
    monkeypatch.delattr(Image, "open")
    with pytest.raises(LibraryError, match="Pillow"):
        read_picture(tmp_path / "a.png")


def test_the_versions_are_those_that_are_installed() -> None:
    """What the message advises is what the package asks for, and what runs here lies inside it."""
    asked = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]
    assert RANGE in asked
    low, high = (tuple(map(int, n.split("."))) for n in re.findall(r"[\d.]+", RANGE))
    assert low <= tuple(map(int, av.__version__.split(".")[:2])) < high
