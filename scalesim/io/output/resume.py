"""A run that keeps what it has done: left where it is when it dies, and taken up by the next.

What is kept is one database in the working folder, with the files that its program lays beside it. All else
is made anew from it.
"""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import count
from pathlib import Path

from scalesim.errors import WriteError
from scalesim.io.output import patience
from scalesim.io.output.claim import Claim
from scalesim.io.output.marker import Marker
from scalesim.io.output.names import safe_name
from scalesim.io.output.place import settled
from scalesim.io.output.swap import NEW
from scalesim.io.output.working import given_over

KEPT = "rows.sqlite"
"""Its name; what begins with it belongs to it."""


def keep(claim: Claim) -> Path:
    """Let a run leave its rows behind if it dies; return where they are to be kept."""
    claim.marker = replace(claim.marker, resumable=True)
    claim.marker.write(claim.run)
    return claim.new / KEPT


def left_by(out: Path) -> Path | None:
    """Return the working folder that a dead run left of a folder, with rows to go on from; None without one.

    Raises: WriteError when the run is not dead, or is another machine's, of which that cannot be told
    """
    found = []
    for run in out.parent.glob(f"{out.name[:40]}*.partial*") if out.parent.is_dir() else ():
        marker = Marker.read(run)
        if marker is None or marker.out != out.name or not marker.resumable:
            continue
        if not marker.is_dead:
            who = f"process {marker.pid} of {marker.host.split(' ')[0]}"
            raise WriteError(
                f"{run}: {who} writes it; wait for it, or if it is not so remove its .scalesim-run.json"
            )
        if (run / NEW / KEPT).is_file():
            found.append(run)
    return max(found, key=lambda run: (run / NEW / KEPT).stat().st_mtime, default=None)


def default_left(command: str, name: str) -> Path | None:
    """Return the default folder of which a dead run left rows, the first there is; None without one."""
    base = f"{command}-{safe_name(name)}" if name else command
    for number in count(1):
        out = settled(Path("outputs") / (base if number == 1 else f"{base}-{number}"), checked=False)
        if left_by(out.absolute()) is not None:
            return out
        if not os.path.lexists(out):
            return None
    raise AssertionError("there is always a next number")


def take_up(out: Path, run: Path) -> Claim:
    """Return the claim of a folder on what a dead run left of it.

    Raises: WriteError when another run has just taken it up
    """
    marker = Marker.read(run)
    taken = None if marker is None else given_over(run, marker)
    if taken is None:
        raise WriteError(f"{out}: another run has just taken it up; wait for it, or choose another --out")
    own = replace(Marker.of_this_run(out), resumable=True)
    own.write(taken)
    taken.rename(run)
    clear(run / NEW)
    return Claim.over(out, run, own)


def clear(folder: Path) -> None:
    """Remove everything but the rows."""
    for path in folder.iterdir():
        if path.is_dir() and not path.is_symlink():
            patience.remove_tree(path)
        elif not path.name.startswith(KEPT):
            patience.remove(path)
