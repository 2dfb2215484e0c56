"""A result's document in two forms: absolute paths for who asked, and relative ones beside the files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from scalesim.io.folder import RESULT
from scalesim.result import SCHEMA, Result
from scalesim.texts import readable
from scalesim.version import __version__


def document(result: Result, files: dict[str, str], command: str = "") -> dict[str, Any]:
    """Return the result's document with paths relative to its folder, forward slashes.

    Parameters:  command : the name it was asked for by, when that is not the result's own
    """
    head = {"schema": SCHEMA, "command": command or result.kind, "version": __version__, "out": "."}
    return {**head, "files": {**files, "result": RESULT}, **result.to_dict()}


def save_document(written: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Write `result.json` into a folder; return the document with the names of all files that lie there.

    By these names a later run knows which files are its to replace.
    """
    names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    whole = {**written, "written": names}
    text = json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False)
    (folder / RESULT).write_text(readable(text) + "\n", encoding="utf-8")
    return whole


def with_absolute_paths(written: dict[str, Any], out: Path) -> dict[str, Any]:
    """Return the document as `--json` prints it: `out` and the files as absolute paths."""
    out = out.absolute()
    files = {name: str(out / relative) for name, relative in written["files"].items()}
    return {**written, "out": str(out), "files": files}
