"""TOML files read from disk: any document, and a chain with the files it names."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from scalesim.chain import Chain
from scalesim.core.files import read_text, shown
from scalesim.core.limits import TEXT_MEGABYTES
from scalesim.errors import ReadError
from scalesim.texts import echoed


def read_toml(path: Path, what: str) -> dict[str, Any]:
    """Return a TOML file's document, or raise ReadError naming it and saying `what` it ought to be."""
    text = read_text(path, what, TEXT_MEGABYTES)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise ReadError(f"{shown(path)}: cannot be read as TOML ({echoed(_reason(error))})") from None


def _reason(error: Exception) -> str:
    return " ".join(str(error).split())


def read_toml_text(path: Path, what: str, otherwise: str = "") -> str:
    """Return the text of a TOML file; raise ReadError saying `what` it ought to be, and what else to give."""
    return read_text(
        path, what, TEXT_MEGABYTES, "check the path" + (f", or {otherwise}" if otherwise else "")
    )


def read_chain_file(path: Path, otherwise: str = "") -> Chain:
    """Return the chain of a TOML file, the files it names found beside it.

    Parameters:  otherwise : what else could be given, for the error of a file that is not there
    Raises: ReadError; ParameterError for what is no chain
    """
    return Chain.from_toml(read_toml_text(path, "chain", otherwise)).files_from(path.parent)
