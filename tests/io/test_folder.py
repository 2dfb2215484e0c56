"""Output folders: nothing half-written, nothing of the user's overwritten."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from scalesim.errors import WriteError
from scalesim.io.folder import output_folder, reserved
from scalesim.io.output.names import not_for_windows, safe_name
from scalesim.io.save import save_document


def write_result(folder: Path, mark: str) -> None:
    """Write a minimal result of ours."""
    (folder / "rows").mkdir()
    (folder / "rows" / "rows.csv").write_text(f"{mark},1\n", "utf-8")
    save_document({"schema": 1, "command": mark, "version": "0"}, folder)


def mark_of(folder: Path) -> str:
    """Return what a minimal result was written with."""
    return json.loads((folder / "result.json").read_text("utf-8"))["command"]


def test_it_appears_whole(tmp_path: Path) -> None:
    """Until the end only the partial folder exists; afterwards only the final one."""
    out = tmp_path / "a" / "b"
    with output_folder(out) as partial:
        write_result(partial, "predict")
        assert not out.exists()
    assert (out / "result.json").exists()
    assert [entry.name for entry in out.parent.iterdir()] == ["b"]


@pytest.mark.parametrize("stop", [ValueError, KeyboardInterrupt, SystemExit])
def test_a_failure_leaves_nothing(tmp_path: Path, stop: type[BaseException]) -> None:
    """An error or an interruption removes what was written, and the folders made for it."""
    with pytest.raises(stop), output_folder(tmp_path / "above" / "out") as partial:
        write_result(partial, "predict")
        raise stop
    assert list(tmp_path.iterdir()) == []


def test_an_existing_folder_needs_force_and_a_result_of_ours(tmp_path: Path) -> None:
    """The user's own folder is never replaced, not even with --force; ours is."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "holiday.txt").write_text("mine", "utf-8")
    for force, words in ((False, "--force"), (True, r"holds no result\.json")):
        with pytest.raises(WriteError, match=words), output_folder(out, force=force):
            pass
    assert (out / "holiday.txt").read_text("utf-8") == "mine"
    (out / "holiday.txt").unlink()
    with output_folder(out) as partial:
        write_result(partial, "old")
    with output_folder(out, force=True) as partial:
        write_result(partial, "new")
    assert mark_of(out) == "new"
    assert [entry.name for entry in tmp_path.iterdir()] == ["out"]


def test_an_empty_folder_is_as_good_as_none(tmp_path: Path) -> None:
    """A folder made beforehand is used; "." and "" name no folder of their own."""
    (tmp_path / "made").mkdir()
    with output_folder(tmp_path / "made") as partial:
        write_result(partial, "predict")
    assert (tmp_path / "made" / "result.json").exists()
    for nameless in (Path(), Path("/")):
        with pytest.raises(WriteError, match="names no folder"), output_folder(nameless, force=True):
            pass


def test_a_failed_replacement_keeps_the_old_result(tmp_path: Path) -> None:
    """With --force, an error in the middle leaves the earlier result as it was."""
    out = tmp_path / "out"
    with output_folder(out) as partial:
        write_result(partial, "old")
    with pytest.raises(RuntimeError), output_folder(out, force=True):
        raise RuntimeError
    assert mark_of(out) == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["out"]


def test_a_file_or_another_run_in_the_way(tmp_path: Path) -> None:
    """A file of that name, or a run that writes there, is said and left alone."""
    (tmp_path / "file").write_text("x", "utf-8")
    with pytest.raises(WriteError, match="is a file"), output_folder(tmp_path / "file"):
        pass
    with pytest.raises(WriteError, match="cannot be made"), output_folder(tmp_path / "file" / "below"):
        pass
    with (
        output_folder(tmp_path / "out"),
        pytest.raises(WriteError, match=f"another run is writing it .process {os.getpid()} "),
        output_folder(tmp_path / "out"),
    ):
        pass


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a user whom permissions bind")
def test_no_permission(tmp_path: Path) -> None:
    """A folder that cannot be written is named with the remedy."""
    tmp_path.chmod(0o500)
    with pytest.raises(WriteError, match="choose another --out"), output_folder(tmp_path / "out"):
        pass


def test_default_names_count_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """outputs/predict-frame, then -2, -3; a running one's counts as taken, and what is not used is free."""
    monkeypatch.chdir(tmp_path)
    with reserved("predict", "frame") as first:
        assert first == Path("outputs/predict-frame")
        with reserved("predict", "frame") as second, output_folder(second) as partial:
            assert second == Path("outputs/predict-frame-2")
            write_result(partial, "predict")
        with reserved("predict", "frame") as third:
            assert third == Path("outputs/predict-frame-3")
    assert [entry.name for entry in (tmp_path / "outputs").iterdir()] == ["predict-frame-2"]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("level 3", "level-3"),
        ("../../etc", "etc"),
        ("CON", "x-CON"),
        ("nul.png", "x-nul.png"),
        ("", "picture"),
        ("a" * 99, "a" * 60),
        ("日本", "picture"),
        ("x.", "x"),
    ],
)
def test_names_are_safe_on_any_system(text: str, name: str) -> None:
    """No separators, reserved words, trailing dots or endless names."""
    assert safe_name(text) == name
    assert not_for_windows(name) == ""


@pytest.mark.parametrize(
    ("name", "why"),
    [
        ("con", "device"),
        ("Aux.h.png", "device"),
        ("COM1", "device"),
        ("com¹.txt", "device"),
        ("CONIN$", "device"),
        ("nul .png", "device"),
        ("x.", "dot"),
        ("x ", "space"),
        ("a:b", "':'"),
        ("a\tb", "has"),
        ("com10", ""),
        ("console", ""),
        ("é.png", ""),
    ],
)
def test_windows_rules_of_names(name: str, why: str) -> None:
    """Reserved names, last dots and spaces, forbidden characters (Microsoft's rules, from memory)."""
    found = not_for_windows(name)
    assert why in found and bool(why) == bool(found)
