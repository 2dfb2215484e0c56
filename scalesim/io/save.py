"""A result's document in two forms: absolute paths for who asked, and relative ones beside the files."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from scalesim.io.output.ours import FILES, RESULT, described, sealed
from scalesim.result import SCHEMA, Result
from scalesim.version import __version__


def document(result: Result, files: dict[str, str], command: str = "") -> dict[str, Any]:
    """Return the result's document with paths relative to its folder, forward slashes.

    Parameters:  command : the name it was asked for by, when that is not the result's own
    """
    head = {"schema": SCHEMA, "command": command or result.kind, "version": __version__, "out": "."}
    return {**head, "files": {**files, "result": RESULT}, **result.to_dict()}


def save_document(written: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Write `result.json` into a folder; return the document with what lies there.

    `written` names the files, `written_files` gives each one's bytes and SHA-256, and `own_sha256` is the
    document's own digest: by these a later run knows what is its to replace.
    """
    files = described(folder)
    text = sealed({**written, "written": list(files), FILES: files})
    (folder / RESULT).write_text(text, encoding="utf-8", newline="\n")
    whole: dict[str, Any] = json.loads(text)
    return whole


def with_absolute_paths(written: dict[str, Any], out: Path) -> dict[str, Any]:
    """Return the document as `--json` prints it: `out` and the files as absolute paths."""
    out = out.absolute()
    files = {name: str(out / relative) for name, relative in written["files"].items()}
    return {**written, "out": str(out), "files": files}
