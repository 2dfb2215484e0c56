"""Numbered pictures as a clip: order, gaps, sizes, fields; files saved by Pillow."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from scalesim.core.codes import to_codes
from scalesim.errors import ParameterError, ReadError
from scalesim.io.clips.sequence import is_sequence, read_sequence


def save(folder: Path, names: list[str], size: tuple[int, int] = (12, 16)) -> list[np.ndarray]:
    """Save a flat picture of level 10 * (index + 1) under each name."""
    pictures = []
    for index, name in enumerate(names):
        picture = np.full((*size, 3), 10 * (index + 1), np.uint8)
        Image.fromarray(picture).save(folder / name)
        pictures.append(picture)
    return pictures


def levels(path: Path | str, **options: Any) -> list[int]:
    return [int(to_codes(picture.values)[0, 0, 0]) for picture in read_sequence(path, **options).pictures()]


def test_a_pattern_takes_its_own_numbers_only(tmp_path: Path) -> None:
    """Numbers as printf writes them: %04d pads to four digits and goes on with five."""
    save(tmp_path, ["s-9999.png", "s-10000.png", "s-099.png", "t-0001.png", "s-9998.png", "s-x.png"])
    assert levels(tmp_path / "s-%04d.png") == [50, 10, 20]
    with pytest.raises(ReadError, match="number 100, 101"):  # %03d takes 099 and the longer ones
        levels(tmp_path / "s-%03d.png")


def test_numbers_sort_as_numbers(tmp_path: Path) -> None:
    save(tmp_path, ["f10.png", "f9.png", "f2.png"])
    assert levels(tmp_path / "f*.png") == levels(tmp_path) == [30, 20, 10]
    assert levels(tmp_path) != [10, 30, 20]  # the order of their letters


def test_rate_time_and_length(tmp_path: Path) -> None:
    save(tmp_path, [f"{k}.png" for k in range(3)], size=(480, 720))
    clip = read_sequence(tmp_path / "%d.png")
    assert (clip.mode, clip.length, clip.is_still) == ("480p59.94", 3, False)
    assert [p.time for p in clip.pictures()] == [k * Fraction(1001, 60000) for k in range(3)]
    assert len(list(clip.pictures())) == 3  # afresh


def test_woven_files_become_fields(tmp_path: Path) -> None:
    for k in range(2):
        frame = np.zeros((480, 8, 3), np.uint8)
        frame[0::2], frame[1::2] = 20 * k + 10, 20 * k + 20
        Image.fromarray(frame).save(tmp_path / f"{k}.png")
    clip = read_sequence(tmp_path, mode="480i")
    fields = [to_codes(p.values) for p in clip.pictures()]
    assert [int(field[0, 0, 0]) for field in fields] == [10, 20, 30, 40] and clip.length == 4
    assert all(field.shape == (240, 8, 3) and np.ptp(field) == 0 for field in fields)


def test_gaps(tmp_path: Path) -> None:
    """A pattern promises every number: what is missing is named. A folder promises nothing: it is noted."""
    save(tmp_path, [f"s{k:02d}.png" for k in (1, 2, 4, 5, 20)])
    with pytest.raises(ReadError, match=r"number 3, 6, 7, 8, 9 and 10 more are missing.*s\*\.png"):
        read_sequence(tmp_path / "s%02d.png")
    clip = read_sequence(tmp_path / "s*.png")
    assert clip.length == 5 and any("number 3, 6, 7, 8, 9 and 10 more are missing" in n for n in clip.notes)
    (tmp_path / "s20.png").unlink()
    with pytest.raises(ReadError, match="number 3 is missing"):
        read_sequence(tmp_path / "s%02d.png")
    Image.new("RGB", (16, 12)).save(tmp_path / "s03.png")
    assert not any("missing" in note for note in read_sequence(tmp_path).notes)


def test_one_size(tmp_path: Path) -> None:
    save(tmp_path, ["a1.png", "a2.png"])
    save(tmp_path, ["a3.png"], size=(12, 18))
    with pytest.raises(ReadError, match=r"a3\.png: is 18x12, a1\.png is 16x12: a sequence has one size"):
        read_sequence(tmp_path)
    save(tmp_path, ["a3.png"])
    clip = read_sequence(tmp_path)
    save(tmp_path, ["a3.png"], size=(12, 18))
    with pytest.raises(ReadError, match=r"a3\.png: is 18x12"):  # changed since it was opened
        list(clip.pictures())


def test_one_size_of_kinds_without_a_simple_header(tmp_path: Path) -> None:
    save(tmp_path, ["a1.tif"])
    save(tmp_path, ["a2.tif"], size=(12, 18))
    with pytest.raises(ReadError, match=r"a2\.tif: is 18x12, a1\.tif is 16x12"):
        list(read_sequence(tmp_path).pictures())


@pytest.mark.parametrize("ending", ["png", "bmp", "tif", "webp"])
def test_kinds(tmp_path: Path, ending: str) -> None:
    save(tmp_path, [f"a1.{ending}", f"a2.{ending}"])
    (tmp_path / "notes.txt").write_text("not a picture", "utf-8")
    assert len(levels(tmp_path)) == 2


def test_limited_range(tmp_path: Path) -> None:
    for k in range(2):
        Image.new("RGB", (16, 12), (235, 16, 16)).save(tmp_path / f"{k}.png")
    values = next(read_sequence(tmp_path, limited=True).pictures()).values
    assert np.allclose(values[0, 0], (1, 0, 0))


def test_one_file_is_a_still(tmp_path: Path) -> None:
    save(tmp_path, ["a1.png"])
    assert read_sequence(tmp_path).is_still


def test_refused(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    for name in ("empty", "none-%04d.png", "none-*.png"):
        with pytest.raises(ReadError, match="names no picture file") as found:
            read_sequence(tmp_path / name)
        assert "\n" not in str(found.value)
    save(tmp_path, ["a1.png", "a2.png"])
    (tmp_path / "a2.png").write_text("text", "utf-8")
    with pytest.raises(ReadError, match=r"a2\.png: this is text"):
        read_sequence(tmp_path / "a%d.png")
    save(tmp_path, ["a1.png", "a2.png"])
    with pytest.raises(ParameterError, match="12 lines; this mode has 720"):
        read_sequence(tmp_path / "a%d.png", mode="720p")


def test_what_is_a_sequence(tmp_path: Path) -> None:
    save(tmp_path, ["a.png"])
    assert is_sequence(tmp_path) and is_sequence(tmp_path / "s-%04d.png") and is_sequence(tmp_path / "s?.png")
    assert not is_sequence(tmp_path / "a.png") and not is_sequence(tmp_path / "none.png")
    (tmp_path / "100%d.png").write_bytes((tmp_path / "a.png").read_bytes())
    assert not is_sequence(tmp_path / "100%d.png")  # the name of a file that exists is that file
