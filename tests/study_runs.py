"""Studies run as programs of their own, killed and gone on with: what several tests do."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

from clip_files import pattern

CHAINS = (
    "--chain",
    "drop: line-drop lines=120 phase=1",
    "--chain",
    "mean: line-average lines=120",
    "--metrics",
    "lost_lines",
    "--by",
    "lost_lines,line_doubling",
)


def clip(folder: Path, seconds: float = 2, rate: int = 30) -> Path:
    """Write a clip of FFmpeg's moving test picture, with a key picture every 12."""
    options = ("-c:v", "libx264", "-g", "12", "-pix_fmt", "yuv420p")
    return pattern(folder / "shot.mkv", seconds, *options, size="320x240", rate=str(rate))


def command(folder: Path, out: str, *more: str) -> list[str]:
    """Return the command of a study of every frame of the clip."""
    return [
        sys.executable,
        "-m",
        "scalesim",
        "compare",
        str(folder / "shot.mkv"),
        "--every",
        "1",
        *CHAINS,
        "--out",
        str(folder / out),
        *more,
    ]


def run(folder: Path, out: str, *more: str) -> subprocess.CompletedProcess[str]:
    """Run a study to its end."""
    return subprocess.run(command(folder, out, *more), capture_output=True, text=True, timeout=300)


def killed_after(seconds: float, folder: Path, out: str, *more: str) -> bool:
    """Run a study and kill it after a time; return whether it was still running."""
    process = subprocess.Popen(
        command(folder, out, *more), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        process.wait(seconds)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return True
    return False


def held_at_work(folder: Path, out: str, *more: str) -> tuple[subprocess.Popen[str], str]:
    """Return a study that has rows and is held (SIGSTOP) before its end, and its folder's name.

    One that a busy machine let come to its end before it could be held is begun anew beside it.
    """
    for number in range(10):
        name = f"{out}-{number}"
        process = subprocess.Popen(
            command(folder, name, *more), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True
        )
        place = folder / f"{name}.partial" / "new" / "rows.sqlite"
        if rows_there(place, while_it_runs=process):
            process.send_signal(signal.SIGSTOP)
            if process.poll() is None and rows_there(place, within=1):
                return process, name
            process.send_signal(signal.SIGCONT)
        process.communicate(timeout=300)
    raise AssertionError("ten studies could not be held in the midst")


def rows_there(place: Path, within: float = 300, while_it_runs: subprocess.Popen[str] | None = None) -> bool:
    """Wait until a database has a row; return whether it got one."""
    import sqlite3

    end = time.monotonic() + within
    while time.monotonic() < end and (while_it_runs is None or while_it_runs.poll() is None):
        if place.is_file():
            try:
                with closing(sqlite3.connect(f"file:{place}?mode=ro", uri=True)) as database:
                    if database.execute("SELECT 1 FROM measured LIMIT 1").fetchone():
                        return True
            except sqlite3.Error:
                pass
        time.sleep(0.05)
    return False


def children(process: int) -> list[int]:
    """Return the processes that one has begun (Linux)."""
    path = Path(f"/proc/{process}/task/{process}/children")
    return [int(each) for each in path.read_text().split()] if path.exists() else []


def is_running(process: int) -> bool:
    """Return whether a process is there and no zombie."""
    try:
        state = Path(f"/proc/{process}/stat").read_bytes().rpartition(b")")[2].split()[0]
    except OSError:
        return False
    return state not in (b"Z", b"X")


KILLS = int(os.environ.get("SCALESIM_KILLS", "4"))
