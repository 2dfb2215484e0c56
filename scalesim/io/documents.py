"""TOML files read from disk: any document, and a chain with the files it names."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from scalesim.chain import Chain
from scalesim.errors import ReadError


def read_toml(path: Path) -> dict[str, Any]:
    """Return a TOML file's document, or raise ReadError naming it."""
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise ReadError(f"{path}: no such file; check the path") from None
    except (OSError, ValueError, RecursionError) as error:
        raise ReadError(f"{path}: cannot be read as TOML ({' '.join(str(error).split())})") from None


def read_toml_text(path: Path, what: str, otherwise: str = "") -> str:
    """Return the text of a TOML file; raise ReadError saying `what` it ought to be, and what else to give."""
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        remedy = f", or {otherwise}" if otherwise else ""
        raise ReadError(f"{path}: no such {what} file; check the path{remedy}") from None
    except (OSError, ValueError) as error:
        raise ReadError(
            f"{path}: cannot be read as a {what} file ({type(error).__name__}); it must be a TOML text"
        ) from None


def read_chain_file(path: Path, otherwise: str = "") -> Chain:
    """Return the chain of a TOML file, the files it names found beside it.

    Parameters:  otherwise : what else could be given, for the error of a file that is not there
    Raises: ReadError; ParameterError for what is no chain
    """
    return Chain.from_toml(read_toml_text(path, "chain", otherwise)).files_from(path.parent)
