"""Windows moves and removes nothing that is open or read-only: simulated by calls that fail at first."""

from __future__ import annotations

import errno
import os
import shutil
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from scalesim.errors import WriteError
from scalesim.io.clips.write import write_clip
from scalesim.io.folder import output_folder
from scalesim.io.output import patience, swap
from scalesim.io.save import save_document


@pytest.fixture
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """As many tries as on Windows, without the pauses."""
    monkeypatch.setattr(patience, "TRIES", 5)
    monkeypatch.setattr(patience, "PAUSE_S", 0)


def held(monkeypatch: pytest.MonkeyPatch, module: Any, name: str, times: int, number: int) -> None:
    """Let a function fail so many times, as for a file that another program has open."""
    real, left = getattr(module, name), [times]

    def call(*given: Any, **more: Any) -> Any:
        if left[0]:
            left[0] -= 1
            raise OSError(number, "held by another program")
        return real(*given, **more)

    monkeypatch.setattr(module, name, call)


def write(out: Path, mark: str) -> None:
    with output_folder(out, force=True) as partial:
        (partial / "rows").mkdir()
        (partial / "rows" / "rows.csv").write_text(mark, encoding="utf-8")
        save_document({"schema": 1, "command": mark, "version": "0"}, partial)


@pytest.mark.parametrize(
    ("name", "number"), [("unlink", errno.EACCES), ("rmdir", errno.ENOTEMPTY), ("rename", errno.EACCES)]
)
def test_what_is_held_for_a_moment(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, patient: None, name: str, number: int
) -> None:
    """The result is in its place, and no working folder is left beside it."""
    monkeypatch.setattr(swap, "exchange", lambda *_: False)
    write(tmp_path / "out", "old")
    held(monkeypatch, os, name, 3, number)
    write(tmp_path / "out", "new")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert (tmp_path / "out" / "rows" / "rows.csv").read_text(encoding="utf-8") == "new"


def test_files_marked_read_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, patient: None) -> None:
    """An earlier result may be: its files go all the same."""
    remove = shutil.rmtree

    def as_on_windows(folder: Path, **how: Any) -> None:
        if all(os.stat(path).st_mode & 0o200 for path in Path(folder).rglob("*")):
            remove(folder, **how)

    monkeypatch.setattr(shutil, "rmtree", as_on_windows)
    write(tmp_path / "out", "old")
    (tmp_path / "out" / "rows" / "rows.csv").chmod(0o400)
    write(tmp_path / "out", "new")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_what_is_held_for_good_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, patient: None
) -> None:
    held(monkeypatch, os, "replace", 100, errno.EACCES)
    with pytest.raises(WriteError, match="held by another program"):
        write_clip(tmp_path / "a.mkv", [np.zeros((8, 8, 3), np.uint8)], Fraction(60))
    assert list(tmp_path.iterdir()) == []


def test_a_clip_is_put_in_place_patiently(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, patient: None
) -> None:
    """A virus scanner looks at what has just been written."""
    held(monkeypatch, os, "replace", 3, errno.EACCES)
    write_clip(tmp_path / "a.mkv", [np.zeros((8, 8, 3), np.uint8)], Fraction(60))
    assert [path.name for path in tmp_path.iterdir()] == ["a.mkv"]


def test_elsewhere_nothing_is_tried_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who may not write is told at once."""
    monkeypatch.setattr(patience, "TRIES", 1)
    held(monkeypatch, os, "replace", 1, errno.EACCES)
    with pytest.raises(OSError, match="held by another program"):
        patience.replace(tmp_path, tmp_path / "b")
