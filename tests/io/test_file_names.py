"""Names of files as Windows and macOS take them: any case, é in two ways, hidden companions, brackets.

The other systems are simulated: this one tells all these names apart.
"""

from __future__ import annotations

import os
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

from scalesim.cli import main
from scalesim.cli.frames import as_shells_do, matches
from scalesim.core import files
from scalesim.core.files import alike
from scalesim.errors import ReadError
from scalesim.io.clips.sequence import read_sequence

WHOLE, PARTS = "caf\u00e9", "cafe\u0301"
"""One word for Unicode (UAX 15): é, and e with a combining acute."""


def save(folder: Path, *names: str) -> None:
    for name in names:
        Image.fromarray(np.zeros((12, 16, 3), np.uint8)).save(folder / name)


@pytest.fixture
def on_macos(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "sys", SimpleNamespace(platform="darwin"))


@pytest.fixture
def on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os.path, "normcase", str.lower)


@pytest.mark.parametrize(("asked", "stored"), [(WHOLE, PARTS), (PARTS, WHOLE)])
def test_letters_made_of_one_or_two(tmp_path: Path, on_macos: None, asked: str, stored: str) -> None:
    """macOS opens a file by either spelling, but lists it by the one it was made with."""
    save(tmp_path, f"{stored}-1.png", f"{stored}-2.png")
    for pattern in (f"{asked}-%d.png", f"{asked}-*.png"):
        assert read_sequence(tmp_path / pattern).length == 2
    found = matches(str(tmp_path / f"{asked}-*.png"))
    assert [path.name for path in found] == [f"{stored}-1.png", f"{stored}-2.png"]


def test_no_file_is_found_twice(tmp_path: Path, on_macos: None, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that is reached by both spellings has each file once; here a link stands for the other."""
    (tmp_path / PARTS).mkdir()
    save(tmp_path / PARTS, "a.png")
    try:
        (tmp_path / WHOLE).symlink_to(tmp_path / PARTS)
    except OSError:
        pytest.skip("no links here")
    assert len(matches(str(tmp_path / "caf*" / "a.png"))) == 1
    assert len(matches(str(tmp_path / WHOLE / "*.png"))) == 1


def test_any_case(tmp_path: Path, on_windows: None) -> None:
    save(tmp_path, "Shot-1.PNG", "shot-2.png")
    assert read_sequence(tmp_path / "SHOT-%d.png").length == 2
    assert alike("A") == alike("a")


@pytest.mark.skipif(os.name == "nt", reason="case does not count there")
def test_case_counts_here(tmp_path: Path) -> None:
    save(tmp_path, "shot-1.png")
    with pytest.raises(ReadError, match="names no picture file"):
        read_sequence(tmp_path / "SHOT-%d.png")


def test_companions_of_other_disks_are_no_pictures(tmp_path: Path) -> None:
    """AppleDouble files begin 00 05 16 07 (RFC 1740, appendix A), and carry the picture's ending."""
    save(tmp_path, "1.png", "2.png")
    for name in ("._1.png", "._2.png"):
        (tmp_path / name).write_bytes(b"\x00\x05\x16\x07\x00\x02\x00\x00Mac OS X")
    for pattern in (tmp_path, tmp_path / "*.png", tmp_path / "%d.png"):
        assert read_sequence(pattern).length == 2
    save(tmp_path, ".h1.png", ".h2.png")
    assert read_sequence(tmp_path / ".h*.png").length == 2  # asked for by their dot


def test_brackets_of_a_folder_are_letters(tmp_path: Path) -> None:
    folder = tmp_path / "take [1]"
    folder.mkdir()
    save(folder, "a.png", "b.png")
    assert [path.name for path in matches(str(folder / "*.png"))] == ["a.png", "b.png"]
    assert matches(str(folder / "a.png")) == [folder / "a.png"]
    assert matches(str(folder / "s-%04d.png")) == [folder / "s-%04d.png"]
    assert len(matches(str(tmp_path / "*[[]1]" / "?.png"))) == 2  # a pattern for folders is one still


def test_a_pattern_stays_one_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`predict "s-*.png"` is one sequence; on Windows click makes files of the words that it takes itself."""
    heard: list[object] = []
    monkeypatch.setattr(main.app, "main", lambda **given: heard.append(given["args"]))
    words = ["predict", "s-*.png", "--chain", "a: line-drop lines=$X"]
    monkeypatch.setattr("sys.argv", ["scalesim", *words])
    save(tmp_path, "s-1.png", "s-2.png")
    monkeypatch.chdir(tmp_path)
    assert main.main() == 0 and heard == [words]


def test_where_no_shell_sees_to_patterns(tmp_path: Path) -> None:
    """Windows hands `*.png` on as it was typed; elsewhere who puts a pattern in quotes means it."""
    save(tmp_path, "a.png", "b.png")
    given = [tmp_path / "*.png", tmp_path / "a.png"]
    assert as_shells_do(given, "posix") == given
    assert [path.name for path in as_shells_do(given, "nt")] == ["a.png", "b.png", "a.png"]
    with pytest.raises(ReadError, match="matches no file"):
        as_shells_do([tmp_path / "*.tif"], "nt")
