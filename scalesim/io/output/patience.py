"""Renames and removals that wait on Windows, where what another program has open stays where it is."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from scalesim.io.output.ours import entries

TRIES = 20 if os.name == "nt" else 1
PAUSE_S = 0.1
"""A virus scanner, an indexer or another run that looks at it is soon done."""

_HELD = (errno.EACCES, errno.EPERM, errno.ENOTEMPTY)
"""What Windows says of what is open, or of a folder with a file that goes when it is closed."""


def rename(old: Path, new: Path) -> None:
    """Rename a file or folder to a name that is free."""
    _patiently(lambda: old.rename(new))


def replace(old: Path, new: Path) -> None:
    """Rename a file, also over an existing one."""
    _patiently(lambda: old.replace(new))


def remove(path: Path) -> None:
    """Remove a file, if it is there, or an empty folder."""
    _patiently(path.rmdir if path.is_dir() else lambda: path.unlink(missing_ok=True))


def remove_tree(folder: Path) -> None:
    """Remove a folder and all in it, as far as that is possible."""
    for left in reversed(range(TRIES)):
        shutil.rmtree(folder, ignore_errors=True)
        if not left or not folder.exists():
            return
        _let_go(folder)
        time.sleep(PAUSE_S)


def _let_go(folder: Path) -> None:
    """Take the mark "read-only" off all that is in it: Windows removes no file that has it."""
    with suppress(OSError):
        for _, entry in entries(folder):
            if not entry.is_symlink():
                os.chmod(entry.path, stat.S_IREAD | stat.S_IWRITE | stat.S_IEXEC)


def _patiently(action: Callable[[], object]) -> None:
    for left in reversed(range(TRIES)):
        try:
            action()
            return
        except OSError as error:
            if not left or error.errno not in _HELD:
                raise
            time.sleep(PAUSE_S)
