"""Output folders: written beside their final name and put there at the end, so nothing is half-written.

Nothing of the user's is overwritten: a default folder takes the next free number, and an existing one is
replaced only when asked to, and only when all it holds is ours, as we wrote it.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from scalesim.core.files import written_in
from scalesim.errors import WriteError
from scalesim.interrupt import shielded
from scalesim.io.output.claim import Claim, claim, claim_default, rows_in
from scalesim.io.output.ours import RESULT, is_result, strangers
from scalesim.io.output.place import settled
from scalesim.io.output.resume import KEPT, default_left, keep, left_by, take_up
from scalesim.io.output.swap import counted

_held: dict[Path, Claim] = {}
"""What this process has claimed before its work, by absolute path."""


def check_folder(out: Path, *, force: bool) -> Path:
    """Return the folder that will be written; raise WriteError unless it is free or may be replaced.

    The path is as it was given, or the real one when links lead elsewhere.
    """
    out = settled(out)
    if not os.path.lexists(out) or not any(out.iterdir()):
        return out
    if not force:
        raise WriteError(f"{out}: exists; choose another --out, or give --force to replace an earlier result")
    if not is_result(out):
        raise WriteError(
            f"{out}: holds no {RESULT} of scalesim, so --force leaves it alone; choose another --out"
        )
    if found := strangers(out):
        raise WriteError(
            f"{out}: holds {counted(found)}, not as a run of scalesim wrote it, so --force leaves it alone; "
            "move that away or choose another --out"
        )
    return out


@contextmanager
def reserved(
    command: str, name: str, out: Path | None = None, *, force: bool = False, resume: bool = False
) -> Iterator[Path]:
    """Claim the folder of a command before its work: `out`, else the first free default one.

    With `resume` it is the one of which an earlier run left rows, see `io.output.resume`.

    Gives the path that will be written. What was not put in place by the end is removed.
    Raises: WriteError naming the folder and the remedy
    """
    taken: Claim | None = None
    try:
        with shielded():
            out = default_left(command, name) if resume and out is None else out
            folder = None if out is None else check_folder(out, force=force or resume)
            run = left_by(folder.absolute()) if resume and folder is not None else None
            if run is not None and folder is not None:
                taken = take_up(folder.absolute(), run)
            else:
                taken = claim_default(command, name) if folder is None else claim(folder)
            _held[taken.out] = taken
        yield _relative(taken.out) if folder is None else folder
    finally:
        if taken is not None:
            _let_go(taken)


def rows_of(out: Path, *, resume: bool = False) -> Path:
    """Return where the rows of a folder that is claimed are kept from now on, whatever ends the run.

    With `resume` and no rows of a dead run, those of a finished one are taken along.
    """
    taken = _held[settled(out).absolute()]
    place = keep(taken)
    finished = taken.out / KEPT
    if resume and not place.exists() and finished.is_file():
        shutil.copyfile(finished, place)
        taken.taken_along = rows_in(taken.new)
    return place


@contextmanager
def output_folder(out: Path, *, force: bool = False) -> Iterator[Path]:
    """Give the folder to write in; on success it becomes `out`, on any failure it is removed.

    Meanwhile errors name what lies in it as it will be named.
    Raises: WriteError naming the folder and the remedy
    """
    folder = check_folder(out, force=force).absolute()
    taken: Claim | None = None
    try:
        with shielded():
            taken = _held.get(folder) or claim(folder)
        with written_in(taken.new, out):
            yield taken.new
        taken.put_in_place(force=force)
    except OSError as error:
        if isinstance(error, WriteError) or not error.filename:
            raise
        raise WriteError(f"{out}: cannot be written ({error.strerror}); choose another --out") from None
    finally:
        if taken is not None:
            _let_go(taken)


def _let_go(taken: Claim) -> None:
    _held.pop(taken.out, None)
    taken.release()


def _relative(out: Path) -> Path:
    """Return a path as short as it is from the working folder."""
    here = Path.cwd()
    return out.relative_to(here) if out.is_relative_to(here) else out
