"""Files for jobs that are no frames: traces, logs, photos and films. Kept as files of the lab, read anew.

Each lies in a folder of its own, which the digest of its content names, under the name it was given by; so
whoever reads it says that name.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

from scalesim.core.files import shown
from scalesim.errors import ParameterError, ReadError

MOST_READINGS = 64


def _trace(path: Path) -> tuple[Any, str]:
    from scalesim.io.traces.read import read_trace

    found = read_trace(path)
    return found, f"{found.samples} samples of {', '.join(found.channels)}"


def _log(path: Path) -> tuple[Any, str]:
    from scalesim.io.tables.lag import read_lag

    found = read_lag(path)
    return found, f"{len(found.lags)} rows{f', {len(found.names)} devices' if found.names else ''}"


def _photo(path: Path) -> tuple[Any, str]:
    from scalesim.core.photo import Film
    from scalesim.io.photos import read_photo

    found = read_photo(path)
    if isinstance(found, Film):
        return found, f"a film of {found.columns} × {found.rows} pixels"
    return found, f"{found.codes.shape[1]} × {found.codes.shape[0]} pixels"


READERS: dict[str, Callable[[Path], tuple[Any, str]]] = {
    "traces": _trace,
    "logs": _log,
    "photos": _photo,
    "photo": _photo,
}
"""By what an input reads: what reads a file of it, and says what it holds."""


class Readings:
    """All such files of one lab; safe to use from several threads."""

    def __init__(self, store: Path) -> None:
        """`store` is a folder that is the lab's own."""
        self._store, self._lock = store, threading.Lock()
        self._paths: dict[str, Path] = {}

    def add(self, kind: str, name: str, arrived: Path) -> dict[str, Any]:
        """Know a file that was written into the store; return what the page is told of it.

        Raises: ReadError for what is none of this kind; ParameterError for too many, or no such kind
        """
        read = READERS.get(kind)
        if read is None:
            arrived.unlink()
            raise ParameterError(f"there are no files for {kind[:40]!r}; give {', '.join(READERS)}")
        with arrived.open("rb") as file:
            id = f"reading-{hashlib.file_digest(file, 'sha256').hexdigest()[:24]}"
        plain = _plain(name)
        folder = self._store / id
        folder.mkdir(exist_ok=True)
        path = self._paths.get(id) or folder / plain
        arrived.replace(path)
        try:
            with self._lock:
                if id not in self._paths and len(self._paths) >= MOST_READINGS:
                    raise ParameterError(f"the lab holds {MOST_READINGS} such files; start it again")
            _, said = read(path)
        except (ReadError, ParameterError) as error:
            if id not in self._paths:
                shutil.rmtree(folder, ignore_errors=True)
            if isinstance(error, ReadError):
                raise ReadError(str(error).replace(f"{folder}{os.sep}", "")) from None
            raise
        with self._lock:
            self._paths[id] = path
        return {"id": id, "name": path.name, "told": said}

    def name(self, id: Any) -> str:
        """Return a file's name; raise ParameterError for one that is not known."""
        return self._path(id).name

    def read(self, kind: str, id: Any) -> Any:
        """Return what a file holds, read now."""
        return READERS[kind](self._path(id))[0]

    def _path(self, id: Any) -> Path:
        found = self._paths.get(id) if isinstance(id, str) else None
        if found is None:
            raise ParameterError("this file is not here any more: give it again")
        return found


def _plain(name: str) -> str:
    """Return a name that any system takes for a file, as like the given one as may be."""
    last = shown(Path(name.replace("\\", "/")).name)
    stem, dot, ending = re.sub(r'[<>:"|?*\x00-\x1f]', "-", last).strip(" .").rpartition(".")
    if not dot:
        stem, ending = ending, ""
    stem = stem[:60] or "file"
    if re.fullmatch(r"(?i)con|prn|aux|nul|com\d|lpt\d", stem):
        stem += "-"
    return f"{stem}.{ending[:12]}" if dot else stem
