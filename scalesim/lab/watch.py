"""A folder where the user's capture program saves pictures: each is known as soon as it is whole.

A file counts when its size and time have stayed the same between two looks and it can be read; one that is
still being written is looked at again. Nothing there is changed.
"""

from __future__ import annotations

import stat
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from scalesim.errors import ReadError, ScalesimError
from scalesim.lab.frames import UPLOAD_MEGABYTES, Frames, Known

ENDINGS = (".png", ".jpg", ".jpeg", ".webp", ".bmp", ".tif", ".tiff")
EVERY_S = 0.4
TRIES = 8
"""Looks at a file that cannot be read, until it is given up."""

Told = Callable[[Known], None]
Trouble = Callable[[str], None]


class Watch:
    """Looks into a folder now and then, in a thread of its own."""

    def __init__(self, folder: Path, frames: Frames, told: Told, trouble: Trouble) -> None:
        """`told` is called with each new frame, `trouble` with a sentence; both in the watching thread."""
        self.folder, self._frames, self._told, self._trouble = folder, frames, told, trouble
        self._done = self._seen()
        self._waiting: dict[Path, tuple[tuple[int, int], int]] = {}
        self._gone = False
        self._end = threading.Event()

    def start(self) -> None:
        """Begin to look."""
        threading.Thread(target=self._run, daemon=True).start()

    def stop(self) -> None:
        """End it."""
        self._end.set()

    def look(self) -> None:
        """Look once."""
        try:
            seen = self._seen()
        except OSError:
            if not self._gone:
                self._gone = True
                self._trouble(
                    f"the folder {self.folder.name} is not there any more: put it back, or start again"
                )
            return
        if self._gone:
            self._gone = False
            self._trouble(f"the folder {self.folder.name} is there again: it is watched")
        for path, stamp in seen.items():
            if self._done.get(path) == stamp:
                continue
            before, tries = self._waiting.get(path, (None, 0))
            if before != stamp:
                self._waiting[path] = (stamp, 0)
                continue
            self._read(path, stamp, tries)

    def _read(self, path: Path, stamp: tuple[int, int], tries: int) -> None:
        try:
            known = self._frames.add_upload(path.name, self._content(path), "watched")
        except (ScalesimError, OSError) as error:
            if tries + 1 < TRIES:
                self._waiting[path] = (stamp, tries + 1)
                return
            self._trouble(str(error))
        else:
            self._told(known)
        self._waiting.pop(path, None)
        self._done[path] = stamp

    @staticmethod
    def _content(path: Path) -> bytes:
        """Return what a file holds, which is kept: the next capture may be saved over it."""
        if path.stat().st_size > UPLOAD_MEGABYTES * 10**6:
            raise ReadError(f"{path.name}: is over {UPLOAD_MEGABYTES} MB, more than the lab takes")
        return path.read_bytes()

    def _seen(self) -> dict[Path, tuple[int, int]]:
        found = {}
        for path in self.folder.iterdir():
            # hidden ones are no pictures: macOS puts ._x.png beside x.png on disks of other systems
            if path.suffix.lower() in ENDINGS and not path.name.startswith("."):
                with suppress(OSError):  # it is gone again
                    status = path.stat()
                    if stat.S_ISREG(status.st_mode):
                        found[path] = (status.st_size, status.st_mtime_ns)
        return found

    def _run(self) -> None:
        while not self._end.wait(EVERY_S):
            begin = time.monotonic()
            self.look()
            # a slow disk must not be looked at without end
            self._end.wait(min(5.0, time.monotonic() - begin))
