"""`--out` as a link, to nowhere, a mount point, `link/../r`: decided first, and told as it is written."""

from __future__ import annotations

import json
import os
import subprocess
from pathlib import Path

import pytest
from earlier import is_posix, names, whole, write_result

from scalesim.cli.main import main
from scalesim.errors import WriteError
from scalesim.io.folder import check_folder, output_folder
from scalesim.io.output import place

DRAW = ["chart", "levels", "--mode", "240p60", "--seconds", "0.1"]

pytestmark = pytest.mark.skipif(not is_posix(), reason="links of POSIX")


@pytest.fixture
def disk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A working folder `here` with `link` to the folder `far/target`, and `nowhere` to what is not there."""
    (tmp_path / "far" / "target").mkdir(parents=True)
    (tmp_path / "here").mkdir()
    (tmp_path / "here" / "link").symlink_to(tmp_path / "far" / "target")
    (tmp_path / "here" / "nowhere").symlink_to(tmp_path / "far" / "gone")
    (tmp_path / "here" / "round").symlink_to("round")
    monkeypatch.chdir(tmp_path / "here")
    return tmp_path


@pytest.mark.parametrize(
    ("given", "real"),
    [
        ("link", "far/target"),
        ("link/in/it", "far/target/in/it"),
        ("link/../r", "far/r"),  # as the system reads it (POSIX, Pathname Resolution), not as a text
        ("r/../link/./x", "far/target/x"),
    ],
)
def test_links_are_followed_and_told(disk: Path, given: str, real: str) -> None:
    """What is told is what is written; the link itself stays a link."""
    (disk / "here" / "r").mkdir()
    told = check_folder(Path(given), force=False)
    assert told == disk / real
    with output_folder(Path(given)) as partial:
        write_result(partial, "new")
    assert whole(disk / real) == "new"
    assert (disk / "here" / "link").is_symlink()
    with output_folder(Path(given), force=True) as partial:
        write_result(partial, "newer")
    assert whole(disk / real) == "newer"


def test_plain_paths_are_told_as_given(disk: Path) -> None:
    """A relative path stays short."""
    assert check_folder(Path("a/b"), force=False) == Path("a/b")


def test_a_command_tells_the_path_it_wrote(disk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In the document as on the terminal."""
    assert main([*DRAW, "--out", "link/../r", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["out"] == str(disk / "far" / "r")
    assert all(Path(path).is_file() for path in document["files"].values())
    assert main([*DRAW, "--out", "link"]) == 0
    assert str(disk / "far" / "target") in capsys.readouterr().out


@pytest.mark.parametrize("given", ["nowhere", "nowhere/x", "round", "nowhere/../r"])
def test_a_link_to_nowhere_is_refused_before_any_work(
    disk: Path, given: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line, and nothing is made on either side."""
    before = names(disk)
    assert main(["demo", "--out", given]) == 2
    said = capsys.readouterr()
    assert "which is not there" in said.err and said.err.count("\n") == 1 and said.out == ""
    assert names(disk) == before


def test_the_folder_one_is_in(disk: Path) -> None:
    """It cannot change places under one's feet: neither it nor one above it."""
    for given in (disk / "here", disk, Path("../here")):
        with pytest.raises(WriteError, match="holds the folder you are in"):
            check_folder(given, force=True)


def test_a_mount_point(disk: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is refused with a name in it, where the whole may be put in place."""
    if Path("/proc/self").exists():
        with pytest.raises(WriteError, match=r"mount point.*proc/result"):
            check_folder(Path("/proc"), force=True)
    monkeypatch.setattr(place, "is_mount_point", lambda folder: folder.name == "target")
    with pytest.raises(WriteError, match=r"mount point.*link/result"):
        check_folder(Path("link"), force=False)


def test_a_bound_mount_point(disk: Path) -> None:
    """Linux may bind a folder of the same file system, which only its table of mounts tells."""
    source, target = disk / "far" / "target", disk / "here" / "bound \\ here"
    target.mkdir()
    if os.geteuid() or subprocess.run(["mount", "--bind", source, target], capture_output=True).returncode:
        pytest.skip("may not mount")
    try:
        assert not os.path.ismount(target) and place.is_mount_point(target)
    finally:
        subprocess.run(["umount", target], check=True)


def test_above_is_a_file(disk: Path) -> None:
    """Nothing can be made below a file."""
    (disk / "here" / "file").write_text("mine")
    with pytest.raises(WriteError, match="is a file"):
        check_folder(Path("file/x/y"), force=False)
