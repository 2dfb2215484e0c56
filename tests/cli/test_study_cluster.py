"""A study by a real Dask scheduler and two workers on this machine: nothing lost and nothing twice."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from study_runs import clip, held_at_work, run

pytest.importorskip("distributed")
pytestmark = pytest.mark.skipif(os.name != "posix", reason="a process is held by a POSIX signal")
QUIET = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}


class Cluster:
    """A scheduler and two workers of one thread each, processes of their own."""

    def __init__(self, folder: Path) -> None:
        self.file = folder / "scheduler.json"
        own = ["--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", str(self.file)]
        self.scheduler = subprocess.Popen([*self._dask("scheduler"), *own], **QUIET)  # type: ignore[call-overload]  # of files
        _wait(self.file.is_file)
        self.address = json.loads(self.file.read_text())["address"]
        threads = ["--nthreads", "1", "--no-nanny", "--no-dashboard", "--local-directory", str(folder)]
        self.workers = [
            subprocess.Popen([*self._dask("worker"), self.address, *threads], **QUIET)  # type: ignore[call-overload]  # likewise
            for _ in range(2)
        ]

    @staticmethod
    def _dask(what: str) -> list[str]:
        return [sys.executable, "-m", f"distributed.cli.dask_{what}"]

    def count(self) -> int:
        """Return how many workers the scheduler knows."""
        from distributed import Client

        with Client(self.address, timeout=90, set_as_default=False) as client:
            return len(client.nthreads())

    def end(self) -> None:
        """End every process of it."""
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


def _wait(there: object, within: float = 90) -> None:
    end = time.monotonic() + within
    while not there():  # type: ignore[operator]  # a function
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.1)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    """A cluster for one test, with its clip beside it."""
    clip(tmp_path)
    found = Cluster(tmp_path)
    try:
        _wait(lambda: found.count() == 2)
        yield found
    finally:
        found.end()


@pytest.mark.slow
def test_one_of_two_workers_is_killed(cluster: Cluster, tmp_path: Path) -> None:
    """The table is that of one process; a scheduler that vanishes is told in one line, and gone on from."""
    alone = run(tmp_path, "alone")
    assert alone.returncode == 0, alone.stderr
    expected = (tmp_path / "alone" / "rows.csv").read_bytes()
    process, name = held_at_work(tmp_path, "dask", "--scheduler", cluster.address)
    cluster.workers[0].kill()
    process.send_signal(signal.SIGCONT)
    _, told = process.communicate(timeout=300)
    assert process.returncode == 0, told
    assert (tmp_path / name / "rows.csv").read_bytes() == expected

    process, name = held_at_work(tmp_path, "vanishes", "--scheduler", cluster.address)
    cluster.scheduler.kill()
    process.send_signal(signal.SIGCONT)
    _, told = process.communicate(timeout=300)
    lines = told.strip().splitlines()
    assert process.returncode == 2 and len(lines) == 1, told
    assert "the scheduler tcp://127.0.0.1" in lines[0] and "--resume" in lines[0]
    done = run(tmp_path, name, "--resume")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / name / "rows.csv").read_bytes() == expected


@pytest.mark.slow
def test_nobody_answers(tmp_path: Path) -> None:
    clip(tmp_path, 0.2)
    for address, words in (("tcp://127.0.0.1:9", "does not answer"), ("127.0.0.1:9", "tcp://HOST:PORT")):
        done = run(tmp_path, "out", "--scheduler", address)
        assert done.returncode == 2 and words in done.stderr
        assert len(done.stderr.strip().splitlines()) == 1 and not (tmp_path / "out.partial").exists()
    done = run(tmp_path, "out", "--scheduler", "tcp://127.0.0.1:9", "--workers", "2")
    assert done.returncode == 2 and "leave it out" in done.stderr
