"""Output folders: written beside their final name and renamed at the end, so nothing is half-written.

Nothing of the user's is overwritten: a default folder takes the next free number, and an existing
one is replaced only when asked to and only when it holds a result of ours.
"""

from __future__ import annotations

import json
import os
import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from scalesim.errors import WriteError

RESULT = "result.json"
_RESERVED = {
    "con",
    "prn",
    "aux",
    "nul",
    *(f"com{n}" for n in range(1, 10)),
    *(f"lpt{n}" for n in range(1, 10)),
}
_LONGEST_NAME = 60

T = TypeVar("T")


def safe_name(text: str) -> str:
    """Return a text as part of a file name on any system: letters, digits, dot, dash, underscore."""
    name = re.sub(r"[^A-Za-z0-9._-]+", "-", text).strip("-.")[:_LONGEST_NAME].rstrip("-.") or "picture"
    return f"x-{name}" if name.split(".")[0].lower() in _RESERVED else name


def default_folder(command: str, name: str) -> Path:
    """Return ``outputs/<command>-<name>`` in the working folder, or the first free of -2, -3 …"""
    base = Path("outputs") / (f"{command}-{safe_name(name)}" if name else command)
    candidate, number = base, 1
    while candidate.exists() or _partial(candidate).exists():
        number += 1
        candidate = base.with_name(f"{base.name}-{number}")
    return candidate


def check_folder(out: Path, *, force: bool) -> None:
    """Raise WriteError unless `out` is free, or replaceable and `force` is given."""
    if not out.name:
        raise WriteError(f"--out {str(out)!r} names no folder of its own; give a name such as outputs/mine")
    if out.exists() and not out.is_dir():
        raise WriteError(f"{out}: is a file; --out must name a folder (choose another name)")
    if _partial(out).exists():
        raise WriteError(
            f"{_partial(out)}: is left from a run that was cut off, or another run is writing it; "
            "remove it or choose another --out"
        )
    if not out.exists() or not any(out.iterdir()):
        return
    if not force:
        raise WriteError(f"{out}: exists; choose another --out, or give --force to replace an earlier result")
    if not _is_ours(out):
        raise WriteError(
            f"{out}: holds no {RESULT} of scalesim, so --force leaves it alone; choose another --out"
        )
    foreign = _foreign(out)
    if foreign:
        raise WriteError(
            f"{out}: holds {foreign}, which no run of scalesim wrote, so --force leaves it alone; "
            "move that away or choose another --out"
        )


@contextmanager
def output_folder(out: Path, *, force: bool = False) -> Iterator[Path]:
    """Give the folder to write in; on success it becomes `out`, on any failure it is removed.

    Raises: WriteError naming the folder and the remedy
    """
    check_folder(out, force=force)
    out = Path(os.path.normpath(out.absolute()))
    check_folder(out, force=force)
    partial = _partial(out)
    made = [parent for parent in out.parents if not parent.exists()]
    _try(lambda: partial.mkdir(parents=True), partial, "cannot be made")
    try:
        yield partial
        _try(lambda: _put_in_place(partial, out), out, "cannot be put in place")
    except BaseException as error:
        shutil.rmtree(partial, ignore_errors=True)
        _remove_empty(made)
        if isinstance(error, OSError) and not isinstance(error, WriteError) and error.filename:
            raise WriteError(f"{out}: cannot be written ({error.strerror}); choose another --out") from None
        raise


def _remove_empty(folders: list[Path]) -> None:
    """Remove folders made for an output that failed, innermost first, as far as they are empty."""
    for folder in folders:
        try:
            folder.rmdir()
        except OSError:
            return


def _put_in_place(partial: Path, out: Path) -> None:
    if out.exists() and not any(out.iterdir()):
        out.rmdir()  # an empty folder of the user's is as good as none
    if not out.exists():
        partial.rename(out)
        return
    replaced = out.with_name(out.name + ".replaced")
    out.rename(replaced)
    try:
        partial.rename(out)
    except OSError:
        replaced.rename(out)
        raise
    shutil.rmtree(replaced, ignore_errors=True)


def _partial(out: Path) -> Path:
    return out.with_name(out.name + ".partial")


def _is_ours(out: Path) -> bool:
    try:
        document = json.loads((out / RESULT).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return isinstance(document, dict) and {"schema", "command", "version"} <= document.keys()


def _foreign(out: Path) -> str:
    """Return the name of a file in our own folder that its result does not list, "" when there is none."""
    listed = set(json.loads((out / RESULT).read_text(encoding="utf-8")).get("written", []))
    for path in sorted(out.rglob("*")):
        name = path.relative_to(out).as_posix()
        if path.is_file() and name != RESULT and name not in listed:
            return name
    return ""


def _try(action: Callable[[], T], path: Path, problem: str) -> T:
    try:
        return action()
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise WriteError(f"{path}: {problem} ({reason}); choose another --out") from None
