"""Which folder `--out` means: decided before any work, so that what is told is what is written."""

from __future__ import annotations

import os
from pathlib import Path

from scalesim.errors import WriteError
from scalesim.io.output.names import not_for_windows


def settled(out: Path, *, checked: bool = True) -> Path:
    """Return the folder that will be written: as it was given, or its real path when links lead there.

    Parameters:  checked : refuse what cannot be written, not only what has no meaning
    Raises: WriteError for a name of no folder, a file, a link to nowhere, a mount point, the working folder
    """
    for part in (out, *out.parents):
        if part.is_symlink() and not part.exists():
            raise WriteError(
                f"{out}: {part} is a link to {os.readlink(part)}, which is not there; "
                "remove the link or make that folder"
            )
    real = Path(os.path.realpath(out))
    if not out.name or not real.name:
        raise WriteError(f"--out {str(out)!r} names no folder of its own; give a name such as outputs/mine")
    if os.name == "nt" and (why := not_for_windows(real.name)):
        raise WriteError(f"{out}: the name {why}; choose another --out")
    if checked:
        _check(out, real)
    return out if real == _without_links(out) else real


def _without_links(out: Path) -> Path:
    """Return the real path as it is when no part of the given one is a link.

    What it begins with may be one: a drive letter of Windows can stand for a share or a folder.
    """
    return Path(os.path.realpath(out.anchor or os.curdir)) / out.relative_to(out.anchor)


def _check(out: Path, real: Path) -> None:
    above = next((parent for parent in real.parents if os.path.lexists(parent)), None)
    if above is None:  # a drive or share of Windows
        raise WriteError(f"{out}: cannot be made, as there is no {real.anchor}; choose another --out")
    if not above.is_dir():
        raise WriteError(f"{out}: cannot be made, as {above} is a file; choose another --out")
    if not os.access(above, os.W_OK | os.X_OK):
        raise WriteError(f"{out}: cannot be made, as {above} may not be written; choose another --out")
    if not os.path.lexists(real):
        return
    if not real.is_dir():
        raise WriteError(f"{out}: is a file; --out must name a folder (choose another name)")
    if is_mount_point(real):
        raise WriteError(
            f"{out}: is a mount point, which cannot be put in place whole; name a folder in it, "
            f"such as {out / 'result'}"
        )
    here = Path(os.path.realpath(os.curdir))
    if any(_is_same(real, folder) for folder in (here, *here.parents)):
        raise WriteError(f"{out}: holds the folder you are in; leave it first, or choose another --out")


def _is_same(one: Path, other: Path) -> bool:
    """Return whether two paths name one folder, however their letters are written (macOS)."""
    try:
        return one == other or os.path.samefile(one, other)
    except OSError:
        return False


def is_mount_point(folder: Path) -> bool:
    """Return whether another file system begins at a folder, bound ones of Linux included."""
    if os.path.ismount(folder):
        return True
    try:
        lines = Path("/proc/self/mountinfo").read_text("utf-8", "surrogateescape").splitlines()
    except OSError:
        return False
    return str(folder) in {_unescaped(line.split(" ")[4]) for line in lines if line.count(" ") > 4}


def _unescaped(field: str) -> str:
    """Return a path of the mount table, where space, tab, newline and backslash are octal (proc(5))."""
    for code in ("040", "011", "012", "134"):
        field = field.replace(f"\\{code}", chr(int(code, 8)))
    return field
