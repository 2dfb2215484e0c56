"""`--force` replaces what is ours, as we wrote it: no link, pipe, empty folder or edited file."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from earlier import is_posix, mark_of, names, whole, write_result

from scalesim.errors import WriteError
from scalesim.io.folder import check_folder, output_folder
from scalesim.io.output import patience, swap
from scalesim.io.output.ours import strangers
from scalesim.io.save import save_document


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """A folder with an earlier result."""
    folder = tmp_path / "out"
    with output_folder(folder) as partial:
        write_result(partial, "old")
    return folder


def add_link(out: Path) -> None:
    (out / "there").symlink_to(out.parent)


def link_in_place_of_ours(out: Path) -> None:
    kept = out.parent / "kept.html"
    (out / "page.html").rename(kept)
    (out / "page.html").symlink_to(kept)


def add_dangling(out: Path) -> None:
    (out / "rows" / "gone").symlink_to("nowhere")


def add_folder(out: Path) -> None:
    (out / "rows" / "mine").mkdir()


def folder_in_place_of_ours(out: Path) -> None:
    (out / "page.html").unlink()
    (out / "page.html").mkdir()


def add_pipe(out: Path) -> None:
    os.mkfifo(out / "pipe")


def add_file(out: Path) -> None:
    (out / "holiday.txt").write_text("mine")


def edit_longer(out: Path) -> None:
    (out / "page.html").write_text("mine now")


def edit_as_long(out: Path) -> None:
    path = out / "rows" / "rows.csv"
    path.write_bytes(path.read_bytes().replace(b"old", b"new"))


def edit_document(out: Path) -> None:
    path = out / "result.json"
    path.write_text(path.read_text("utf-8").replace('"version": "0"', '"version": "1"'), "utf-8")


def without_seal(out: Path) -> None:
    path = out / "result.json"
    document = json.loads(path.read_text("utf-8"))
    path.write_text(json.dumps({**document, "own_sha256": ""}), "utf-8")


def link_in_place_of_document(out: Path) -> None:
    (out / "result.json").rename(out.parent / "result.json")
    (out / "result.json").symlink_to(out.parent / "result.json")


STRANGE = {
    add_link: "there (a link)",
    link_in_place_of_ours: "page.html (a link)",
    add_dangling: "rows/gone (a link)",
    add_folder: "rows/mine (a folder of another)",
    folder_in_place_of_ours: "page.html (a folder of another)",
    add_pipe: "pipe (not a file)",
    add_file: "holiday.txt (of another)",
    edit_longer: "page.html (edited)",
    edit_as_long: "rows/rows.csv (edited)",
    edit_document: "result.json (edited, or of an earlier version)",
    without_seal: "result.json (edited, or of an earlier version)",
    link_in_place_of_document: "holds no result.json",
}


@pytest.mark.skipif(not is_posix(), reason="links and pipes of POSIX")
@pytest.mark.parametrize("change", STRANGE, ids=lambda change: change.__name__)
def test_what_is_not_ours_as_written_is_refused(out: Path, change: Callable[[Path], None]) -> None:
    """It is named, before any work, and everything stays."""
    change(out)
    before = names(out.parent)
    with pytest.raises(WriteError) as told, output_folder(out, force=True):
        pytest.fail("the work began")
    assert STRANGE[change] in str(told.value)
    assert names(out.parent) == before


def test_the_list_is_short_and_counted(out: Path) -> None:
    """The first few names, and how many there are."""
    for number in range(40):
        (out / f"mine-{number:02}.txt").write_text("mine")
    with pytest.raises(WriteError, match=r"mine-00.*mine-02\.txt \(of another\) and 37 more \(40 in all\)"):
        check_folder(out, force=True)


def test_what_the_user_removed_is_not_missed(out: Path) -> None:
    """A result of which files were removed is still ours to replace."""
    (out / "page.html").unlink()
    with output_folder(out, force=True) as partial:
        write_result(partial, "new")
    assert whole(out) == "new" and names(out.parent)[0] == "out"


def test_what_file_browsers_leave_is_in_nobodys_way(out: Path) -> None:
    """Of macOS and Windows; and AppleDouble files (`._x`) on disks of other systems than macOS."""
    for name in (".DS_Store", "rows/.DS_Store", "Thumbs.db", "._page.html", "._rows", "rows/._rows.csv"):
        (out / name).write_bytes(b"\0\0\0\1Bud1")
    with output_folder(out, force=True) as partial:
        write_result(partial, "new")
        (partial / ".DS_Store").write_bytes(b"looked at while it ran")
        (partial / "._page.html").write_bytes(b"noted while it ran")
        save_document({"schema": 1, "command": "new", "version": "0"}, partial)
        (partial / ".DS_Store").unlink()
    assert whole(out) == "new"
    (out / "._holiday.txt").write_bytes(b"of no file of ours")
    with pytest.raises(WriteError, match=r"holds \._holiday\.txt \(of another\), not as"):
        check_folder(out, force=True)


def test_sizes_and_digests_are_in_the_document(out: Path) -> None:
    """SHA-256 by Python's hashlib (FIPS 180-4) of every file; the names also as a list."""
    document = json.loads((out / "result.json").read_text("utf-8"))
    assert document["written"] == ["page.html", "rows/more.csv", "rows/rows.csv"]
    assert list(document["written_files"]) == document["written"]
    for name, told in document["written_files"].items():
        data = (out / name).read_bytes()
        assert told == {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
    text = (out / "result.json").read_text("utf-8").replace(document["own_sha256"], "")
    assert hashlib.sha256(text.encode()).hexdigest() == document["own_sha256"]


@pytest.mark.parametrize("name", ["out.partial", "out.replaced", "out.partial-2"])
def test_folders_of_the_user_beside_it_stay(out: Path, name: str) -> None:
    """Names that a run might like for its own: another is taken."""
    mine = out.with_name(name)
    mine.mkdir()
    (mine / "mine.txt").write_text("mine")
    with output_folder(out, force=True) as partial:
        write_result(partial, "new")
    assert (mine / "mine.txt").read_text() == "mine"
    assert whole(out) == "new"
    assert {path.name for path in out.parent.iterdir()} == {"out", name}


@pytest.mark.parametrize("one_step", [True, False])
def test_what_changes_while_it_runs_is_kept(
    out: Path, one_step: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that came to lie there after the first look: refused at the end, all as it was."""
    if not one_step:
        monkeypatch.setattr(swap, "exchange", lambda *_: False)
    told = pytest.raises(WriteError, match=r"mine\.txt \(of another\), changed while")
    with told, output_folder(out, force=True) as partial:
        write_result(partial, "new")
        (out / "mine.txt").write_text("mine")
    assert mark_of(out) == "old" and (out / "mine.txt").read_text() == "mine"
    assert [path.name for path in out.parent.iterdir()] == ["out"]


@pytest.mark.parametrize("force", [True, False])
def test_what_comes_to_be_while_it_runs_is_kept(tmp_path: Path, force: bool) -> None:
    """A folder of the user's that appears at the very name."""
    out = tmp_path / "out"
    with (
        pytest.raises(WriteError, match=r"came to be while|changed while"),
        output_folder(out, force=force) as new,
    ):
        write_result(new, "new")
        out.mkdir()
        (out / "mine.txt").write_text("mine")
    assert names(tmp_path) == ["out", "out/mine.txt"]


def test_two_renames_where_there_is_no_exchange(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same end; and when the second rename fails, the earlier result is back."""
    monkeypatch.setattr(swap, "exchange", lambda *_: False)
    with output_folder(out, force=True) as partial:
        write_result(partial, "new")
    assert whole(out) == "new"
    rename = patience.rename

    def failing(old: Path, new: Path) -> None:
        if old.name == "new":
            raise PermissionError(13, "held by another program", str(old))
        rename(old, new)

    monkeypatch.setattr(patience, "rename", failing)
    with pytest.raises(WriteError, match="held by another"), output_folder(out, force=True) as partial:
        write_result(partial, "newer")
    assert whole(out) == "new"
    assert [path.name for path in out.parent.iterdir()] == ["out"]


def test_neither_rename_back_works(out: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The message says where the earlier result lies, and the next command puts it back."""
    monkeypatch.setattr(swap, "exchange", lambda *_: False)
    rename = patience.rename

    def failing(old: Path, new: Path) -> None:
        if new.name == "out":
            raise PermissionError(13, "held by another program", str(old))
        rename(old, new)

    monkeypatch.setattr(patience, "rename", failing)
    with pytest.raises(WriteError) as told, output_folder(out, force=True) as partial:
        write_result(partial, "new")
    kept = out.with_name("out.partial") / "old"
    assert f"the earlier result lies whole in {kept}" in str(told.value) and whole(kept) == "old"


def test_a_document_with_bytes_that_are_no_text_is_ours(tmp_path: Path) -> None:
    r"""The digest is of what is written: a lone surrogate, which UTF-8 lacks, stands as ``\udce9``."""
    folder = tmp_path / "out"
    with output_folder(folder) as partial:
        (partial / "page.html").write_text("page", "utf-8")
        told = {"schema": 1, "command": "predict", "version": "0", "name": "b\udce9.png", "other": "é"}
        save_document(told, partial)
    assert json.loads((folder / "result.json").read_text("utf-8"))["name"] == told["name"]
    assert strangers(folder) == []
    text = (folder / "result.json").read_bytes()
    (folder / "result.json").write_bytes(text.replace(b"udce9", b"udcea"))
    assert strangers(folder) == ["result.json (edited, or of an earlier version)"]
