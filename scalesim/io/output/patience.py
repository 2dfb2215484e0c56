"""Renames that wait a while on Windows, where what another program has open cannot be moved or replaced."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

TRIES = 20
PAUSE_S = 0.1
"""A virus scanner, an indexer or another run that looks at it is soon done."""


def rename(old: Path, new: Path) -> None:
    """Rename a file or folder to a name that is free."""
    _patiently(lambda: old.rename(new))


def replace(old: Path, new: Path) -> None:
    """Rename a file, also over an existing one."""
    _patiently(lambda: old.replace(new))


def _patiently(action: Callable[[], object]) -> None:
    for left in reversed(range(TRIES if os.name == "nt" else 1)):
        try:
            action()
            return
        except PermissionError:
            if not left:
                raise
            time.sleep(PAUSE_S)
