"""A small result as the program writes it, and what must be true of the disk whatever was done to a run."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from scalesim.io.output.marker import Marker
from scalesim.io.output.ours import strangers
from scalesim.io.output.resume import KEPT
from scalesim.io.save import save_document


def write_result(folder: Path, mark: str) -> None:
    """Write a result of a few files, in folders too."""
    (folder / "rows").mkdir()
    for name in ("page.html", "rows/rows.csv", "rows/more.csv"):
        (folder / name).write_text(f"{mark} {name}\n" * 50, "utf-8")
    save_document({"schema": 1, "command": mark, "version": "0"}, folder)


def mark_of(folder: Path) -> str:
    """Return what a result was written with."""
    return json.loads((folder / "result.json").read_text("utf-8"))["command"]


def whole(folder: Path) -> str:
    """Return the mark of a result that is complete and as it was written, "" for anything else."""
    if not (folder / "result.json").is_file() or strangers(folder):
        return ""
    document = json.loads((folder / "result.json").read_text("utf-8"))
    missing = [name for name in document["written"] if not (folder / name).is_file()]
    return "" if missing else document["command"]


def names(folder: Path) -> list[str]:
    """Return everything below a folder, links and empty folders too."""
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


def leave_behind(folder: Path, out: str, *, dead: bool = True, **more: object) -> Path:
    """Make a working folder as a run leaves it: dead (its process began at another time), or alive.

    A resumable one has rows.
    """
    folder.mkdir()
    (folder / "new").mkdir()
    (folder / "new" / "half.png").write_bytes(b"half")
    if more.get("resumable"):
        (folder / "new" / KEPT).write_bytes(b"rows")
    mine = Marker.of_this_run(Path(out))
    told = {**vars(mine), "start": "long ago" if dead else mine.start, **more}
    Marker(**told).write(folder)
    return folder


def is_posix() -> bool:
    """Return whether the system has fork, pipes and signals between processes."""
    return os.name == "posix"


def only_when_asked(request: pytest.FixtureRequest) -> None:
    """Skip a long test unless it is asked for by `-m slow`."""
    if "slow" not in request.config.getoption("markexpr"):
        pytest.skip("long; ask for it with -m slow")
