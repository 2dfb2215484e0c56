"""What dead runs leave: known by the marker inside, recovered by the next command, never by its name."""

from __future__ import annotations

import dataclasses
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from earlier import is_posix, leave_behind, names, only_when_asked, whole, write_result
from few import few

from scalesim.errors import WriteError
from scalesim.io.folder import output_folder
from scalesim.io.output.claim import claim
from scalesim.io.output.marker import BEGUN, MARKER, Marker, _start_by_ps, start_of
from scalesim.io.output.resume import keep, left_by
from scalesim.io.output.working import PRIVATE, recover


def write(out: Path, *, force: bool = False) -> None:
    """Write a result as any command does."""
    with output_folder(out, force=force) as partial:
        write_result(partial, "new")


@pytest.mark.skipif(not is_posix(), reason="forks and sends POSIX signals")
@pytest.mark.parametrize("way", few(["exchange", "fresh", "renames"], 1))
@pytest.mark.parametrize(("name", "step"), [("SIGKILL", 2), ("SIGINT", 7), ("SIGTERM", 9)])
def test_stopped_at_actions_on_the_disk(tmp_path: Path, way: str, name: str, step: int) -> None:
    """Every second, seventh and ninth action, to be quick; every one when asked for."""
    check_stopped(tmp_path / "disk", way, name, step)


@pytest.mark.slow
@pytest.mark.skipif(not is_posix(), reason="forks and sends POSIX signals")
@pytest.mark.parametrize("way", ["fresh", "exchange", "renames"])
@pytest.mark.parametrize("name", ["SIGKILL", "SIGINT", "SIGTERM"])
def test_stopped_at_every_action_on_the_disk(
    tmp_path: Path, way: str, name: str, request: pytest.FixtureRequest
) -> None:
    """No moment between two actions is left out (`pytest -m slow`)."""
    only_when_asked(request)
    check_stopped(tmp_path / "disk", way, name, 1)


def check_stopped(disk: Path, way: str, name: str, step: int) -> None:
    """The old or the new result is whole at every moment, and the next run finds and leaves order."""
    script = Path(__file__).with_name("dying.py")
    places = os.pathsep.join([str(script.parent), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        [sys.executable, script, disk, way, name, str(step)],
        env={**os.environ, "PYTHONPATH": places},
        capture_output=True,
        text=True,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    print(f"{way} {name}: stopped at {found['stopped']} of {found['actions']} actions")
    assert found["wrong"] == []
    assert found["actions"] >= (20 if way == "fresh" else 50)
    assert found["stopped"] >= found["actions"] // step - 1


@pytest.mark.parametrize("name", ["out.partial", "other.partial", "anything at all"])
def test_a_dead_runs_folder_is_cleared_whatever_its_name(tmp_path: Path, name: str) -> None:
    """By the next command that writes beside it."""
    leave_behind(tmp_path / name, "out")
    write(tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize(
    "more",
    [
        {"dead": False},
        {"resumable": True},
        {"host": "another machine"},
        {"replacing": True},  # what it holds is not whole, so whose it is cannot be told
    ],
)
def test_what_is_not_cleared(tmp_path: Path, more: dict[str, object]) -> None:
    """A living run's, a resumable one's, another machine's, one with what is not as it was written."""
    left = leave_behind(tmp_path / "left", "other", **more)
    before = names(left)
    write(tmp_path / "out")
    assert names(left) == before


def test_a_resumable_one_of_the_same_name_is_in_nobodys_way(tmp_path: Path) -> None:
    """It stays, and the run takes another working name."""
    left = leave_behind(tmp_path / "out.partial", "out", resumable=True)
    write(tmp_path / "out")
    assert whole(tmp_path / "out") == "new" and (left / "new" / "half.png").exists()


def test_an_empty_folder_is_in_nobodys_way(tmp_path: Path) -> None:
    """Of whomever it is, it stays, and the run takes another working name."""
    left = tmp_path / "out.partial"
    left.mkdir()
    write(tmp_path / "out")
    assert whole(tmp_path / "out") == "new" and left.is_dir()


@pytest.mark.parametrize("held", [{}, {BEGUN: ""}, {BEGUN: '{"out": '}])
def test_a_private_folder_without_a_marker_is_removed(tmp_path: Path, held: dict[str, str]) -> None:
    """Of a run that was killed before its marker was whole, or after it was removed."""
    left = tmp_path / f"{PRIVATE}0123456789abcdef"
    left.mkdir()
    for name, text in held.items():
        (left / name).write_text(text)
    write(tmp_path / "out")
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_what_another_put_in_a_private_folder_stays(tmp_path: Path) -> None:
    """It is not ours, whatever the folder's name."""
    left = tmp_path / f"{PRIVATE}0123456789abcdef"
    left.mkdir()
    (left / "mine.txt").write_text("mine")
    write(tmp_path / "out")
    assert names(left) == ["mine.txt"]


def test_a_private_folder_that_another_run_removes_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It seemed a dead run's while its marker was not there yet."""
    mkdir, removed = Path.mkdir, []

    def then_recovered(path: Path, *args: Any, **more: Any) -> None:
        mkdir(path, *args, **more)
        if path.name.startswith(PRIVATE) and len(removed) < 3:
            removed.append(path)
            recover(tmp_path)

    monkeypatch.setattr(Path, "mkdir", then_recovered)
    write(tmp_path / "out")
    assert len(removed) == 3 and [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("held", [[], ["half.png"]])
def test_a_resumable_one_without_rows_is_cleared(tmp_path: Path, held: list[str]) -> None:
    """Killed before its first row, or when its result had just taken its place: nothing to go on with."""
    left = leave_behind(tmp_path / "out.partial", "out", resumable=True)
    for path in (left / "new").iterdir():
        if path.name not in held:
            path.unlink()
    if not held:
        (left / "new").rmdir()
    write(tmp_path / "next")
    assert [path.name for path in tmp_path.iterdir()] == ["next"]


def test_what_has_taken_its_place_is_not_gone_on_with(tmp_path: Path) -> None:
    """A run that keeps rows and is killed then leaves the earlier result, which the next command removes."""
    for text in ("old", "new"):
        taken = claim(tmp_path / "out")
        keep(taken).write_bytes(b"rows")
        write_result(taken.new, text)
        taken.put_in_place(force=True)
        marker = Marker.read(taken.run)
        assert marker is not None and not marker.resumable
        dataclasses.replace(marker, start="long ago").write(taken.run)
    assert left_by(tmp_path / "out") is None
    write(tmp_path / "next")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["next", "out"]


def test_another_machines_run_is_told(tmp_path: Path) -> None:
    """Whether it lives cannot be known from here; the message says who and what to do."""
    left = leave_behind(tmp_path / "out.partial", "out", host="far-away 1")
    with pytest.raises(WriteError, match=f"process {os.getpid()} of far-away; remove {left} when"):
        write(tmp_path / "out")


def test_what_the_user_put_in_a_dead_runs_folder_stays(tmp_path: Path) -> None:
    """Only what the run made is removed; the folder is the user's then."""
    left = leave_behind(tmp_path / "out.partial", "out")
    (left / "mine.txt").write_text("mine")
    write(tmp_path / "out")
    assert names(left) == ["mine.txt"]


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", "null", '{"out": "a"}', "[" * 5000, '{"out": "../..", "pid": 1}', "\x00"]
)
def test_a_damaged_marker_is_none(tmp_path: Path, text: str) -> None:
    """A folder with something else under that name is left alone."""
    mine = tmp_path / "out.partial"
    mine.mkdir()
    (mine / MARKER).write_text(text)
    (mine / "mine.txt").write_text("mine")
    write(tmp_path / "out")
    assert names(mine) == [MARKER, "mine.txt"]


@pytest.mark.parametrize("out", ["..", "../far", "", "/far"])
def test_a_marker_cannot_point_elsewhere(tmp_path: Path, out: str) -> None:
    """It names a folder beside it and nothing else."""
    (tmp_path / "run").mkdir()
    told = vars(Marker.of_this_run(Path("x"))) | {"out": out}
    (tmp_path / "run" / MARKER).write_text(json.dumps(told))
    assert Marker.read(tmp_path / "run") is None


def test_an_earlier_result_is_put_back(tmp_path: Path) -> None:
    """Killed between two renames: NAME is gone, the earlier result lies in the working folder."""
    write(tmp_path / "run")
    (tmp_path / "left").mkdir()
    (tmp_path / "run").rename(tmp_path / "left" / "old")
    told = vars(Marker.of_this_run(Path("mine"))) | {"start": "long ago", "replacing": True}
    Marker(**told).write(tmp_path / "left")
    write(tmp_path / "other")
    assert {path.name for path in tmp_path.iterdir()} == {"mine", "other"}
    assert whole(tmp_path / "mine") == "new"


def test_processes_are_known_by_when_they_began() -> None:
    """This one's time stays the same; of one that has ended there is none, waited for or not."""
    mine = start_of(os.getpid())
    assert mine and start_of(os.getpid()) == mine
    process = subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE)
    assert start_of(process.pid) not in (None, mine)
    process.communicate(b"\n")
    assert start_of(process.pid) is None


@pytest.mark.skipif(shutil.which("ps") is None, reason="no ps here")
def test_ps_tells_the_same_in_every_time_zone(monkeypatch: pytest.MonkeyPatch) -> None:
    """A living run must not seem dead to one in another zone, or after the clocks have changed."""
    told = set()
    for zone in ("UTC0", "TST-9", "EST5EDT"):
        monkeypatch.setenv("TZ", zone)
        told.add(_start_by_ps(os.getpid()))
    assert len(told) == 1 and all(told)
    process = subprocess.Popen([sys.executable, "-c", ""])
    process.wait()
    assert _start_by_ps(process.pid) is None


def test_ps_that_may_not_tell(monkeypatch: pytest.MonkeyPatch) -> None:
    """What it complains of is no answer: the process counts as living."""
    refused = subprocess.CompletedProcess([], 1, b"", b"ps: Operation not permitted\n")
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: refused)
    assert _start_by_ps(os.getpid()) == ""
