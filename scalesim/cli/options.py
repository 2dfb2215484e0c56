"""Options several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import rich_click as click

if TYPE_CHECKING:
    from scalesim.chain import Chain

F = TypeVar("F", bound=Callable[..., object])


def output_options(command: F) -> F:
    """Add --out, --force and --json."""
    command = click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document and nothing else."
    )(command)
    command = click.option("--force", is_flag=True, help="Replace an existing result folder.")(command)
    return click.option(
        "--out",
        type=click.Path(path_type=Path),
        metavar="DIR",
        help="Folder to write (default: under outputs/).",
    )(command)


def range_option(command: F) -> F:
    """Add --range of picture files, full by default."""
    return click.option(
        "--range",
        "code_range",
        type=click.Choice(["full", "limited"]),
        default="full",
        help="Code range of picture files: full 0-255, limited 16-235.",
    )(command)


def read_toml(path: Path, what: str, otherwise: str) -> str:
    """Return the text of a TOML file; raise ReadError saying `what` it ought to be, and what else to give."""
    from scalesim.errors import ReadError

    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise ReadError(f"{path}: no such {what} file; check the path, or {otherwise}") from None
    except (OSError, UnicodeDecodeError) as error:
        raise ReadError(
            f"{path}: cannot be read as a {what} file ({type(error).__name__}); it must be a TOML text"
        ) from None


def read_chain(text: str) -> Chain:
    """Return the chain given as text or as the name of a TOML file.

    Raises: ParameterError, ReadError
    """
    from scalesim.chain import Chain
    from scalesim.errors import ParameterError

    if not text.strip().lower().endswith(".toml"):
        return Chain(text)
    path = Path(text.strip())
    content = read_toml(path, "chain", "give the chain as text")
    try:
        return _beside(path, Chain.from_toml(content))
    except ParameterError as error:
        raise ParameterError(f"{path.name}: {error}") from None


def _beside(path: Path, chain: Chain) -> Chain:
    """Return a chain whose operator files are named from the working folder, not from the chain file's."""
    from dataclasses import replace

    from scalesim.stages.measured import Measured

    stages = [
        replace(stage, file=str(path.parent / stage.file)) if isinstance(stage, Measured) else stage
        for stage in chain.stages
    ]
    return chain.with_stages(tuple(stages))


def words(text: str | None) -> list[str] | None:
    """Return the comma-separated words of an option, None when it was not given."""
    return None if text is None else [word.strip() for word in text.split(",") if word.strip()]
