"""Which folder `--out` means on systems with drive letters and names in any case; both are simulated."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest

from scalesim.errors import WriteError
from scalesim.io.folder import check_folder, reserved
from scalesim.io.output.place import settled


def test_a_drive_that_is_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On Windows not even the root of Z:\\out may exist."""
    monkeypatch.setattr(os.path, "lexists", lambda _: False)
    with (
        pytest.raises(WriteError, match=f"cannot be made, as there is no {re.escape(tmp_path.anchor)}"),
        reserved("predict", "frame", tmp_path / "out"),
    ):
        pytest.fail("the work began")


def test_a_drive_letter_that_stands_for_a_share(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the working folder is really at is no link on the way: the path is told as it was given."""
    real, here, share = os.path.realpath, tmp_path / "here", tmp_path / "share"
    here.mkdir()
    monkeypatch.chdir(here)
    monkeypatch.setattr(os.path, "realpath", lambda path: real(path).replace(str(here), str(share)))
    assert settled(Path("a/b"), checked=False) == Path("a/b")
    assert settled(here / "a", checked=False) == share / "a"  # a link on the way is followed and told


def test_the_folder_one_is_in_by_other_letters(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where case does not count, HERE is the folder `here`."""
    for name in ("here", "HERE"):
        (tmp_path / name).mkdir(exist_ok=True)
    monkeypatch.chdir(tmp_path / "here")
    monkeypatch.setattr(os.path, "samefile", lambda a, b: str(a).casefold() == str(b).casefold())
    with pytest.raises(WriteError, match="holds the folder you are in"):
        check_folder(tmp_path / "HERE", force=True)
