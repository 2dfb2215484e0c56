"""A study killed at random places and gone on with ends in the table of one that was left alone.

SCALESIM_KILLS says how often (4; 50 for the whole check).
"""

from __future__ import annotations

import os
import random
import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import pytest
from study_runs import (
    KILLS,
    children,
    clip,
    held_at_work,
    is_running,
    killed_after,
    run,
)

_TOOK: dict[str, float] = {}
"""Seconds that a study takes which nobody kills: what random places are measured by."""


@pytest.fixture(scope="module")
def left_alone(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of the clip, with the result of a study nobody killed."""
    folder = tmp_path_factory.mktemp("study")
    clip(folder)
    begun = time.monotonic()
    done = run(folder, "alone")
    _TOOK["s"] = time.monotonic() - begun
    assert done.returncode == 0, done.stderr
    return folder


@pytest.mark.slow
def test_killed_at_random_places(left_alone: Path) -> None:
    """By one process or two in turn; the same table however often, and every row once."""
    rnd, kills, rounds = random.Random(5), 0, 0
    expected = (left_alone / "alone" / "rows.csv").read_bytes()
    while kills < KILLS:
        out, rounds = f"killed-{rounds}", rounds + 1
        kept = 0
        while killed_after(
            rnd.uniform(0.1, 1.2) * _TOOK["s"], left_alone, out, "--resume", "--workers", str(1 + kills % 2)
        ):
            kills += 1
            place = left_alone / f"{out}.partial" / "new" / "rows.sqlite"
            if place.exists():
                with closing(sqlite3.connect(place)) as database:
                    assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
                    (count,) = database.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()
                    now = database.execute("SELECT COUNT(*) FROM measured").fetchone()[0] if count else 0
                assert now >= kept, "a row was lost"
                kept = now
        assert (left_alone / out / "rows.csv").read_bytes() == expected
        assert not (left_alone / f"{out}.partial").exists()
    print(f"{kills} kills, {rounds} studies")


POSIX = pytest.mark.skipif(os.name != "posix", reason="a process is held by a POSIX signal")
LINUX = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are looked up in /proc")


@LINUX
@pytest.mark.slow
def test_the_workers_of_a_killed_study_end(left_alone: Path) -> None:
    """None of its processes outlives it."""
    process, _ = held_at_work(left_alone, "orphans", "--workers", "2")
    own = children(process.pid)
    process.kill()
    process.communicate()
    end = time.monotonic() + 60
    while any(map(is_running, own)) and time.monotonic() < end:
        time.sleep(0.1)
    assert own and not any(map(is_running, own))


@LINUX
@pytest.mark.slow
def test_a_study_that_loses_a_worker_goes_on(left_alone: Path) -> None:
    """Nothing is lost and nothing twice when one of two processes is killed, as for want of memory."""
    process, name = held_at_work(left_alone, "loses", "--workers", "2")
    workers = [
        child
        for child in children(process.pid)
        if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes()
    ]
    os.kill(workers[0], signal.SIGKILL)
    process.send_signal(signal.SIGCONT)
    _, told = process.communicate(timeout=200)
    assert process.returncode == 0, told
    assert (left_alone / name / "rows.csv").read_bytes() == (left_alone / "alone" / "rows.csv").read_bytes()


@POSIX
@pytest.mark.slow
def test_an_interrupted_study_says_how_to_go_on(left_alone: Path) -> None:
    """One line, exit code 130, the rows kept; another run without --resume begins anew beside it."""
    process, _ = held_at_work(left_alone, "asked")
    process.send_signal(signal.SIGINT)
    process.send_signal(signal.SIGCONT)
    _, told = process.communicate(timeout=300)
    assert process.returncode == 130
    lines = told.strip().splitlines()
    assert len(lines) == 1 and "the rows so far are kept in" in lines[0] and "--resume" in lines[0]
