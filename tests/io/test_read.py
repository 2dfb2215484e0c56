"""One way in for pictures, clips and sequences, told apart by content."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import scalesim
from scalesim.errors import ReadError
from scalesim.io.clips.write import write_clip
from scalesim.io.read import read


def picture(path: Path) -> Path:
    Image.fromarray(np.full((12, 16, 3), 90, np.uint8)).save(path, format="PNG")
    return path


def test_a_picture_is_a_still(tmp_path: Path) -> None:
    clip = read(picture(tmp_path / "a.png"))
    assert clip.is_still and clip.length is None and clip.frame is not None


def test_a_clip_is_known_by_content(tmp_path: Path) -> None:
    frames = [np.full((12, 16, 3), 50 * k, np.uint8) for k in range(4)]
    path = write_clip(tmp_path / "a.mkv", frames, Fraction(60)).path
    named_wrong = tmp_path / "b.png"
    named_wrong.write_bytes(path.read_bytes())
    for name in (path, str(path), named_wrong):
        clip = read(name)
        assert not clip.is_still and clip.length == 4
    assert read(picture(tmp_path / "c.mp4")).is_still


def test_a_sequence(tmp_path: Path) -> None:
    for k in range(3):
        picture(tmp_path / f"s{k}.png")
    for name in (tmp_path, tmp_path / "s%d.png", str(tmp_path / "s*.png")):
        assert read(name).length == 3


@pytest.mark.parametrize(
    ("name", "body", "words"),
    [
        ("a.mp4", b"plain text\n" * 9, "cannot be read as a clip"),
        ("a.mkv", b"", "is empty"),
        ("a.png", b"plain text\n" * 9, "this is text"),
        ("a.mp4", None, "there is no such file"),
        ("a.png", None, "there is no such file"),
    ],
)
def test_refused(tmp_path: Path, name: str, body: bytes | None, words: str) -> None:
    if body is not None:
        (tmp_path / name).write_bytes(body)
    with pytest.raises(ReadError, match=words) as found:
        read(tmp_path / name)
    assert name in str(found.value) and "\n" not in str(found.value)


def test_it_is_the_public_name() -> None:
    assert scalesim.read is read
