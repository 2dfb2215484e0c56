"""What of a folder is ours, as we wrote it: told by sizes and digests in its result document.

Nothing else is ever replaced or removed: neither what somebody put there, nor what somebody edited.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from scalesim.texts import readable

RESULT = "result.json"
FILES = "written_files"
SEAL = "own_sha256"
"""Key of the document's own digest: of its text with this value left empty."""

_LEFT_BY_BROWSERS = (".DS_Store", "Thumbs.db")
"""What file browsers of macOS and Windows write into a folder that is looked at: nobody's work."""

MOST_BYTES = 256 * 2**20
"""A result document larger than this is none of ours."""


def described(folder: Path) -> dict[str, dict[str, Any]]:
    """Return name -> bytes and SHA-256 of every file below a folder but its own result document."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file())
    names = {path.relative_to(folder).as_posix(): path for path in paths}
    known = {*names, *_parents(names)}
    return {
        name: {"bytes": path.stat().st_size, "sha256": _digest(path)}
        for name, path in names.items()
        if name != RESULT and not _is_the_systems(name, known)
    }


def sealed(document: dict[str, Any]) -> str:
    """Return the text of a result document, with a digest of itself by which an edited one is known.

    UTF-8 can hold it: the digest is of what is written, bytes of names that are no text escaped.
    """
    digest = hashlib.sha256(_written({**document, SEAL: ""}).encode("utf-8")).hexdigest()
    return _written({**document, SEAL: digest})


def _written(document: dict[str, Any]) -> str:
    return readable(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n")


def is_result(folder: Path) -> bool:
    """Return whether a folder holds a result document of ours, edited or not."""
    return {"schema", "command", "version"} <= _document(folder).keys()


def strangers(folder: Path) -> list[str]:
    """Return what lies in a folder and is not as we wrote it: names, each with what is the matter."""
    document = _document(folder)
    listed = document.get(FILES)
    listed = listed if isinstance(listed, dict) else {}
    holders = {RESULT: "", **listed}.keys()
    parents = _parents(holders)
    found = []
    for name, entry in entries(folder):
        if why := _matter(name, entry, listed, parents):
            found.append(f"{name} ({why})")
    if not _is_sealed(folder, document):
        found.insert(0, f"{RESULT} (edited, or of an earlier version)")
    return found


def _matter(name: str, entry: os.DirEntry[str], listed: dict[str, Any], parents: set[str]) -> str:
    """Return why an entry of a folder is not ours, "" when it is."""
    info = entry.stat(follow_symlinks=False)
    if entry.is_symlink() or _is_junction(info):
        return "a link"
    if stat.S_ISDIR(info.st_mode):
        return "" if name in parents else "a folder of another"
    if not stat.S_ISREG(info.st_mode):
        return "not a file"
    if name == RESULT or _is_the_systems(name, {RESULT, *listed, *parents}):
        return ""
    if name not in listed:
        return "of another"
    told = listed[name]
    if not isinstance(told, dict) or told.get("bytes") != info.st_size:
        return "edited"
    return "" if told.get("sha256") == _digest(Path(entry.path)) else "edited"


def _parents(names: Iterable[str]) -> set[str]:
    return {parent.as_posix() for name in names for parent in Path(name).parents}


def _is_the_systems(name: str, known: set[str]) -> bool:
    """Return whether the system wrote a file by itself beside what is known.

    On disks of other systems macOS keeps what it notes of `x` in a file `._x` (AppleDouble).
    """
    above, slash, last = name.rpartition("/")
    return last in _LEFT_BY_BROWSERS or (last.startswith("._") and f"{above}{slash}{last[2:]}" in known)


def entries(folder: Path, above: str = "") -> Iterator[tuple[str, os.DirEntry[str]]]:
    """Yield everything below a folder with its name relative to it; links are not followed."""
    with os.scandir(folder) as listing:
        found = sorted(listing, key=lambda entry: entry.name)
    for entry in found:
        name = f"{above}{entry.name}"
        yield name, entry
        if entry.is_dir(follow_symlinks=False) and not _is_junction(entry.stat(follow_symlinks=False)):
            yield from entries(Path(entry.path), f"{name}/")


def _is_junction(info: os.stat_result) -> bool:
    """Return whether it is a folder of Windows that leads elsewhere without being a symlink."""
    junction = getattr(stat, "IO_REPARSE_TAG_MOUNT_POINT", None)
    return junction is not None and getattr(info, "st_reparse_tag", 0) == junction


def _document(folder: Path) -> dict[str, Any]:
    text = _text(folder)
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return document if isinstance(document, dict) else {}


def _text(folder: Path) -> str:
    """Return the text of a folder's result document, "" for one that is missing, no plain file, or huge."""
    path = folder / RESULT
    try:
        info = path.lstat()
        if not stat.S_ISREG(info.st_mode) or info.st_size > MOST_BYTES:
            return ""
        return path.read_bytes().decode("utf-8")
    except (OSError, ValueError):
        return ""


def _is_sealed(folder: Path, document: dict[str, Any]) -> bool:
    digest = document.get(SEAL)
    if not isinstance(digest, str) or not digest:
        return False
    bare = _text(folder).replace(f'"{SEAL}": "{digest}"', f'"{SEAL}": ""')
    return hashlib.sha256(bare.encode("utf-8")).hexdigest() == digest


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
