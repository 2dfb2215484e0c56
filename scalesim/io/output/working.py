"""The working folder of a run: NAME.partial, or another free name, beside what is written.

It has a marker, which says whose it is, for as long as it has that name: it is made, and removed, under a
private name. So a run that is killed at any moment leaves one that tells that its run is dead, or a private
one with nothing in it. The next command that writes beside it recovers both: the earlier result is put back
where it is missing, the rest removed.
"""

from __future__ import annotations

import os
import secrets
from itertools import count
from pathlib import Path

from scalesim.errors import WriteError
from scalesim.io.output import patience
from scalesim.io.output.marker import BEGUN, MARKER, Marker
from scalesim.io.output.ours import strangers
from scalesim.io.output.swap import NEW, OLD

PRIVATE = ".scalesim-"
"""What a private name begins with; random letters follow."""

_LONGEST = 200


class Busy(WriteError):
    """Another run is writing that folder."""


def made_beside(out: Path, marker: Marker) -> Path:
    """Make a working folder beside `out`, with its marker, under the first name that nobody has.

    Raises: Busy when another run writes `out`; OSError
    """
    fresh = _private(out)
    fresh.mkdir()
    try:
        marker.write(fresh)
        return _named(fresh, out)
    except OSError:
        _removed(fresh, BEGUN, MARKER)
        raise


def _private(beside: Path) -> Path:
    """Return a name in the same folder that nobody else has."""
    return beside.with_name(f"{PRIVATE}{secrets.token_hex(8)}")


def _named(fresh: Path, out: Path) -> Path:
    """Give a working folder, which has its marker, the first name that is free."""
    short = out.name if len(os.fsencode(out.name)) <= _LONGEST else out.name[:40]
    for number in count(1):
        run = out.with_name(f"{short}.partial" if number == 1 else f"{short}.partial-{number}")
        if not os.path.lexists(run):
            try:
                patience.rename(fresh, run)  # over one that came to be meanwhile only if that is empty
                return run
            except OSError:
                if not os.path.lexists(run):
                    raise
        if why := _busy(run, out.name):
            raise Busy(f"{out}: another run is writing it ({why}); choose another --out")
    raise AssertionError("there is always a next number")


def _busy(run: Path, name: str) -> str:
    """Return who writes NAME in a working folder, "" when it is something else's."""
    marker = Marker.read(run)
    if marker is None or marker.out.casefold() != name.casefold() or marker.is_dead:
        return ""
    return f"process {marker.pid} of {marker.host.split(' ')[0]}; remove {run} when that is not so"


def recover(folder: Path) -> None:
    """Put right what dead runs left in a folder, but rows that another may go on with."""
    with os.scandir(folder) as listing:
        runs = [Path(entry.path) for entry in listing if entry.is_dir(follow_symlinks=False)]
    for run in runs:
        marker = Marker.read(run)
        if marker is None:
            if run.name.startswith(PRIVATE):
                _removed(run, BEGUN)  # was it a living run's, it makes another
            continue
        if (marker.resumable and any((run / NEW).glob("*.sqlite"))) or not marker.is_dead:
            continue
        taken = given_over(run, marker)
        if taken is not None and not (cleared(taken, marker) and not taken.exists()):
            _rename_if_free(taken, run)


def given_over(run: Path, marker: Marker) -> Path | None:
    """Give a dead run's folder a name nobody else has, so that one process alone recovers it."""
    taken = run.with_name(f"{run.name[:40]}.{secrets.token_hex(8)}")
    try:
        run.rename(taken)
    except OSError:
        return None
    if Marker.read(taken) == marker:
        return taken
    _rename_if_free(taken, run)  # between two looks it became another run's
    return None


def _rename_if_free(old: Path, new: Path) -> None:
    try:
        if not os.path.lexists(new):
            old.rename(new)
    except OSError:
        return  # it keeps a marker, so the next command finds it


def cleared(run: Path, marker: Marker) -> bool:
    """Remove what a run made, the marker last; return whether that was possible without loss."""
    if marker.replacing:
        out = run.with_name(marker.out)
        if (run / OLD).is_dir() and not os.path.lexists(out):
            try:
                patience.rename(run / OLD, out)
            except OSError:
                return False
        rest = [run / name for name in (NEW, OLD) if (run / name).is_dir()]
        if any(strangers(folder) for folder in rest):
            return False
    for name in (NEW, OLD):
        patience.remove_tree(run / name)
    if (run / NEW).exists() or (run / OLD).exists():
        return False
    if {path.name for path in run.iterdir()} <= {BEGUN, MARKER}:  # what another put there keeps its place
        nameless = _private(run)
        try:
            run.rename(nameless)
            run = nameless
        except OSError:
            pass  # it is removed under the name it has
    return _removed(run, BEGUN, MARKER) or not (run / MARKER).exists()


def _removed(folder: Path, *held: str) -> bool:
    """Remove files of a folder, then the folder; return whether it is gone, which another's file prevents."""
    try:
        for each in (*(folder / name for name in held), folder):
            patience.remove(each)
    except OSError:
        return False
    return True
