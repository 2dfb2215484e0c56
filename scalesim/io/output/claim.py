"""A folder to be written, claimed so that no other run takes it, and written in a working folder beside it.

The working folder (see `io.output.working`) holds `new`, the result as it is written, and for a moment
`old`, the result it replaces.
"""

from __future__ import annotations

import os
from dataclasses import replace
from itertools import count
from pathlib import Path

from scalesim import interrupt
from scalesim.errors import WriteError
from scalesim.interrupt import shielded
from scalesim.io.output import patience, swap
from scalesim.io.output.marker import Marker
from scalesim.io.output.names import safe_name
from scalesim.io.output.place import settled
from scalesim.io.output.swap import NEW, OLD
from scalesim.io.output.working import Busy, cleared, made_beside, recover

_TRIES = 10


class Claim:
    """A folder that this run writes, and no other, until it is put in place or released.

    Parameters:
        out : absolute path of what it becomes; run : the working folder; marker : what it says of itself
        made : folders above that were made for it, innermost first
    """

    def __init__(self, out: Path, run: Path, marker: Marker, made: list[Path]) -> None:
        self.out, self.run, self.marker, self._made = out, run, marker, made
        self.is_over = self._placed = False
        self.taken_along = 0  # rows of a finished result, which lie there still
        (run / NEW).mkdir(exist_ok=True)

    @classmethod
    def over(cls, out: Path, run: Path, marker: Marker) -> Claim:
        """Return the claim on a working folder that a dead run left, as it lies there."""
        return cls(out, run, marker, [])

    @property
    def new(self) -> Path:
        """Folder to write the result in."""
        return self.run / NEW

    def put_in_place(self, *, force: bool) -> None:
        """Let the result take its place; a signal waits until that is done.

        Raises: WriteError when something came to lie there meanwhile; OSError
        """
        with shielded():
            if not os.path.lexists(self.out) or (self.out.is_dir() and not any(self.out.iterdir())):
                if os.name == "nt" and self.out.exists():
                    patience.remove(self.out)  # elsewhere an empty folder is replaced in the one step
                patience.rename(self.new, self.out)
            elif not force:
                raise WriteError(f"{self.out}: came to be while this ran; choose another --out")
            else:
                self._replace()
            self._placed = True
            if self.marker.resumable:  # what lies here from now on is not to be gone on with
                self.marker = replace(self.marker, resumable=False)
                self.marker.write(self.run)
            interrupt.stands(f"{self.out} is complete")

    def _replace(self) -> None:
        self.marker.about_to_replace().write(self.run)
        try:
            found = swap.replace(self.run, self.out)
        except OSError as error:
            if os.path.lexists(self.out):
                raise
            raise WriteError(
                f"{self.out}: cannot be put in place ({error.strerror}); the earlier result lies whole in "
                f"{self.run / OLD}, and the next command that writes beside it puts it back"
            ) from None
        self.marker.write(self.run)
        if found:
            raise WriteError(
                f"{self.out}: holds {swap.counted(found)}, changed while this ran, and is left as it is; "
                "choose another --out"
            )

    def release(self) -> None:
        """Remove the working folder and the folders made for it; again is nothing."""
        if self.is_over:
            return
        with shielded():
            interrupt.heed()
            self.is_over = True
            if self.marker.resumable and not self._placed and rows_in(self.new) > self.taken_along:
                interrupt.stands(f"the rows so far are kept in {self.run}: go on with --resume")
                return
            if not cleared(self.run, Marker.read(self.run) or self.marker):
                interrupt.stands(f"what was begun lies in {self.run}")
            _remove_empty(self._made)


def rows_in(folder: Path) -> int:
    """Return how many rows the database in a folder holds; one that cannot be read may hold some."""
    place = next(folder.glob("*.sqlite"), None)
    if place is None:
        return 0
    import sqlite3
    from contextlib import closing

    try:
        with closing(sqlite3.connect(place)) as database:
            found: int = database.execute("SELECT COUNT(*) FROM measured").fetchone()[0]
            return found
    except sqlite3.Error as error:
        return 0 if "no such table" in str(error) else 1


def claim(out: Path) -> Claim:
    """Claim a folder whose path is settled; what dead runs left beside it is recovered first.

    Raises: Busy when another run writes it; WriteError when nothing can be made there
    """
    out = out.absolute()
    made = [parent for parent in out.parents if not parent.exists()]
    try:
        for left in reversed(range(_TRIES)):
            try:
                out.parent.mkdir(parents=True, exist_ok=True)
                recover(out.parent)
                marker = Marker.of_this_run(out)
                return Claim(out, made_beside(out, marker), marker, made)
            except FileNotFoundError:  # another run removed the folder above, or this one's, as it was empty
                if not left:
                    raise
    except OSError as error:
        _remove_empty(made)
        if isinstance(error, WriteError):
            raise
        reason = error.strerror or type(error).__name__
        raise WriteError(f"{out}: cannot be made ({reason}); choose another --out") from None
    raise AssertionError("the loop returns or raises")


def claim_default(command: str, name: str) -> Claim:
    """Claim ``outputs/<command>-<name>`` in the working folder, or the first free of -2, -3 …"""
    base = f"{command}-{safe_name(name)}" if name else command
    for number in count(1):
        out = settled(Path("outputs") / (base if number == 1 else f"{base}-{number}"), checked=False)
        if os.path.lexists(out):
            continue
        try:
            found = claim(settled(out))
        except Busy:
            continue
        if not os.path.lexists(out):
            return found
        found.release()  # the run that held it finished in between
    raise AssertionError("there is always a next number")


def _remove_empty(folders: list[Path]) -> None:
    """Remove folders, innermost first, as far as they are empty."""
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return
