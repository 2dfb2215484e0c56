"""A new folder in the place of an earlier one: in one step where the system can, else in two.

At every moment the earlier result or the new one is complete on disk; only between the two steps is
neither at its place, and then the earlier lies in `OLD` of the working folder.
"""

from __future__ import annotations

import errno
import os
import sys
from pathlib import Path

from scalesim.io.output import patience
from scalesim.io.output.ours import strangers

NEW, OLD = "new", "old"
"""Folders of a working folder: the result as it is written, and the earlier one on its way out."""

_NOT_HERE = {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EXDEV, errno.EPERM}


def replace(run: Path, out: Path) -> list[str]:
    """Put `run/new` in the place of `out`, whose earlier content is then in `run/new` or `run/old`.

    Returns what of another came to lie in `out` meanwhile, in which case all is back as it was.
    Raises: OSError
    """
    swapped = exchange(run / NEW, out)
    if not swapped:
        _in_two(run, out)
    earlier = run / (NEW if swapped else OLD)
    found = strangers(earlier)
    if found:
        _undo(run, out, swapped=swapped)
    return found


def _in_two(run: Path, out: Path) -> None:
    patience.rename(out, run / OLD)
    try:
        patience.rename(run / NEW, out)
    except OSError:
        patience.rename(run / OLD, out)
        raise


def _undo(run: Path, out: Path, *, swapped: bool) -> None:
    if swapped:
        exchange(run / NEW, out)
        return
    patience.rename(out, run / NEW)
    patience.rename(run / OLD, out)


def exchange(one: Path, other: Path) -> bool:
    """Let two folders change places in one step; return whether the system and its file system can.

    Raises: OSError when they can and it fails
    """
    if sys.platform == "win32":
        return False
    import ctypes

    library = ctypes.CDLL(None, use_errno=True)
    names = os.fsencode(one), os.fsencode(other)
    failed: int
    if sys.platform == "darwin" and hasattr(library, "renamex_np"):
        failed = library.renamex_np(*names, ctypes.c_uint(2))  # RENAME_SWAP
    elif sys.platform == "linux" and hasattr(library, "renameat2"):
        here = ctypes.c_int(-100)  # AT_FDCWD
        failed = library.renameat2(here, names[0], here, names[1], ctypes.c_uint(2))  # RENAME_EXCHANGE
    else:
        return False
    if not failed:
        return True
    number = ctypes.get_errno()
    if number in _NOT_HERE:
        return False
    raise OSError(number, os.strerror(number), str(other))


def counted(found: list[str], most: int = 3) -> str:
    """Return the first few names, and how many there are."""
    first = ", ".join(found[:most])
    return first if len(found) <= most else f"{first} and {len(found) - most} more ({len(found)} in all)"
