"""Whose working folder it is: a file in it that says which process of which machine writes there.

By it, and never by its name, a folder is known as left over from a run that is dead.
"""

from __future__ import annotations

import json
import os
import platform
import secrets
import subprocess
import sys
from dataclasses import asdict, dataclass, field, replace
from functools import cache
from pathlib import Path

from scalesim.io.output import patience

MARKER = ".scalesim-run.json"
BEGUN = f"{MARKER}.new"


@dataclass(frozen=True)
class Marker:
    """What a run says of itself in its working folder.

    Parameters:
        out : name of the folder beside it that it will become
        pid, start, host : the process, when it began in the system's own words, and the machine
        replacing : it is about to put its result in the place of an earlier one
        resumable : to be kept when its run is dead, for another to go on with
        token : tells it from every other
    """

    out: str
    pid: int
    start: str
    host: str
    replacing: bool = False
    resumable: bool = False
    token: str = field(default_factory=lambda: secrets.token_hex(8))

    @classmethod
    def of_this_run(cls, out: Path) -> Marker:
        """Return the marker of this process."""
        return cls(out.name, os.getpid(), start_of(os.getpid()) or "", this_host())

    @classmethod
    def read(cls, folder: Path) -> Marker | None:
        """Return the marker of a folder, None when it holds none that can be read."""
        path = folder / MARKER
        if not os.path.lexists(path):
            path = folder / BEGUN  # killed between the two steps of writing its first one
        try:
            if path.is_symlink() or not path.is_file() or path.stat().st_size > 2**16:
                return None
            marker = cls(**json.loads(path.read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError, RecursionError):
            return None
        kinds = {"pid": int, "replacing": bool, "resumable": bool}
        wrong = [name for name, value in asdict(marker).items() if type(value) is not kinds.get(name, str)]
        return None if wrong or Path(marker.out).name != marker.out or marker.out in ("", "..") else marker

    def write(self, folder: Path) -> None:
        """Write it into a folder, whole or not at all."""
        fresh = folder / BEGUN
        fresh.write_text(json.dumps(asdict(self)) + "\n", encoding="utf-8", newline="\n")
        patience.replace(fresh, folder / MARKER)

    def about_to_replace(self) -> Marker:
        """Return it as the journal of a replacement."""
        return replace(self, replacing=True)

    @property
    def is_dead(self) -> bool:
        """Whether its process is known to have ended; of another machine's it is not known."""
        if self.host != this_host():
            return False
        start = start_of(self.pid)
        return start is None or bool(start and self.start and start != self.start)


@cache
def this_host() -> str:
    """Return the name of this machine, and of the space process numbers count in where there are several."""
    try:
        return f"{platform.node()} {os.readlink('/proc/self/ns/pid')}"
    except OSError:
        return platform.node()


def start_of(pid: int) -> str | None:
    """Return when a process of this machine began, "" when that cannot be told, None when there is none."""
    if os.name == "nt":
        return _start_on_windows(pid)
    if Path("/proc/self/stat").exists():
        return _start_on_linux(pid)
    return _start_by_ps(pid)


def _start_by_ps(pid: int) -> str | None:
    """Ask ps, as macOS has no proc(5); in one time zone, or a run seems another's when the clocks change."""
    asked = ["ps", "-o", "lstart=", "-p", str(pid)]
    try:
        told = subprocess.run(asked, capture_output=True, env={**os.environ, "LC_ALL": "C", "TZ": "UTC0"})
    except OSError:
        return ""
    if told.stderr:  # it may not tell, which is not to say that there is none
        return ""
    return told.stdout.decode("ascii", "replace").strip() or None


def _start_on_linux(pid: int) -> str | None:
    """Return the boot and the clock ticks since it, from proc(5); a process that only waits is none."""
    try:
        # the program's name, in brackets, may itself hold brackets and spaces
        state, *rest = Path(f"/proc/{pid}/stat").read_bytes().rpartition(b")")[2].decode("ascii").split()
    except (FileNotFoundError, ProcessLookupError):
        return None
    except (OSError, ValueError):
        return ""
    return None if state in "ZX" else f"{_boot()} {rest[18]}"


@cache
def _boot() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    except OSError:
        return ""


def _start_on_windows(pid: int) -> str | None:
    """Ask for the process's times; `os.kill(pid, 0)`, the way of other systems, would end it."""
    if sys.platform != "win32":
        return ""
    import ctypes
    from ctypes import wintypes

    kernel = ctypes.WinDLL("kernel32", use_last_error=True)
    kernel.OpenProcess.restype = wintypes.HANDLE
    handle = wintypes.HANDLE(kernel.OpenProcess(0x1000, False, pid))  # PROCESS_QUERY_LIMITED_INFORMATION
    if not handle:
        return None if ctypes.get_last_error() == 87 else ""  # ERROR_INVALID_PARAMETER: no such process
    try:
        times = [wintypes.FILETIME() for _ in range(4)]
        if not kernel.GetProcessTimes(handle, *map(ctypes.byref, times)):
            return ""
        begun, ended = times[0], times[1]
        if ended.dwLowDateTime or ended.dwHighDateTime:
            return None
        return f"{begun.dwHighDateTime}:{begun.dwLowDateTime}"
    finally:
        kernel.CloseHandle(handle)
