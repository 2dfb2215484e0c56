"""Saving a result: its pictures, and its document in two forms (absolute paths, and relative)."""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from scalesim.io.folder import RESULT, output_folder
from scalesim.io.pictures.write import write_png
from scalesim.result import SCHEMA, Document, Result
from scalesim.version import __version__


def save_pictures(result: Result, folder: Path, names: Iterable[str] | None = None) -> dict[str, str]:
    """Write the result's pictures as `<name>.png`; return name -> file name."""
    wanted = None if names is None else set(names)
    files = {}
    for name, values in result.pictures.items():
        if wanted is None or name in wanted:
            files[name] = f"{name}.png"
            write_png(folder / files[name], values)
    return files


def save_result(result: Result, out: Path, *, force: bool = False) -> dict[str, Any]:
    """Write a result's pictures and document into a folder of its own; return it with absolute paths.

    Raises: WriteError
    """
    with output_folder(out, force=force) as partial:
        written = save_document(document(result, save_pictures(result, partial)), partial)
    return with_absolute_paths(written, out)


def document(result: Document, files: dict[str, str]) -> dict[str, Any]:
    """Return the result's document with paths relative to its folder, forward slashes."""
    head = {"schema": SCHEMA, "command": result.kind, "version": __version__, "out": "."}
    return {**head, "files": {**files, "result": RESULT}, **result.to_dict()}


def save_document(written: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Write `result.json` into a folder; return the document with the names of all files that lie there.

    By these names a later run knows which files are its to replace.
    """
    names = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    whole = {**written, "written": names}
    text = json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False)
    (folder / RESULT).write_text(text + "\n", encoding="utf-8")
    return whole


def with_absolute_paths(written: dict[str, Any], out: Path) -> dict[str, Any]:
    """Return the document as `--json` prints it: `out` and the files as absolute paths."""
    out = out.absolute()
    files = {name: str(out / relative) for name, relative in written["files"].items()}
    return {**written, "out": str(out), "files": files}
