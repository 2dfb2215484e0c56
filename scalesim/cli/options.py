"""Options several commands share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Literal, TypeVar

import rich_click as click
from click import get_current_context

if TYPE_CHECKING:
    from scalesim.chain import Chain
    from scalesim.core.framing import Sides

F = TypeVar("F", bound=Callable[..., object])


def output_options(command: F) -> F:
    """Add --out, --force and --json."""
    command = click.option(
        "--json", "as_json", is_flag=True, help="Print one JSON document and nothing else."
    )(command)
    command = click.option(
        "--force", is_flag=True, help="Replace an earlier result, if nothing in it was changed."
    )(command)
    return click.option(
        "--out",
        type=click.Path(path_type=Path),
        metavar="DIR",
        help="Folder to write (default: under outputs/).",
    )(command)


def folder_for(command: str, name: str, out: Path | None, *, force: bool, resume: bool = False) -> Path:
    """Return the folder a command writes, claimed until it ends; from here on an interruption tidies up.

    With `resume` it is the one of which an earlier run left rows.

    Raises: WriteError for a folder that cannot be written or is another's
    """
    from scalesim import interrupt
    from scalesim.io.folder import reserved

    interrupt.from_now_on_disk()
    return get_current_context().with_resource(reserved(command, name, out, force=force, resume=resume))


def range_option(command: F) -> F:
    """Add --range of picture files, full by default."""
    return click.option(
        "--range",
        "code_range",
        type=click.Choice(["full", "limited"]),
        default="full",
        help="Code range of picture files: full 0 to 255, limited 16 to 235.",
    )(command)


def framing_options(command: F) -> F:
    """Add --trim and --native, as (top, bottom, left, right), a number, "auto" or None."""
    command = click.option(
        "--native",
        callback=lambda _context, _option, text: _native(text),
        metavar="auto or LINES",
        help="Undo a whole-number enlargement exactly, back to so many frame lines.",
    )(command)
    return click.option(
        "--trim",
        callback=lambda _context, _option, text: _trim(text),
        metavar="auto or TOP,BOTTOM,LEFT,RIGHT",
        help="Take off a border that a capture program added. Both apply to the captures if there are "
        "any, else to the frames.",
    )(command)


def every_option(command: F) -> F:
    """Add --every."""
    return click.option(
        "--every",
        metavar="1s or N",
        help="How often to take a frame out of each clip: a time, or a number of frames (default "
        "only the first).",
    )(command)


def _trim(text: str | None) -> Sides | Literal["auto"] | None:
    from scalesim.errors import ParameterError

    if text is None or text.strip() == "auto":
        return None if text is None else "auto"
    try:
        top, bottom, left, right = (int(part) for part in text.split(","))
    except ValueError:
        raise ParameterError(
            f"--trim {text}: write it as auto, or TOP,BOTTOM,LEFT,RIGHT such as 20,20,0,0"
        ) from None
    return top, bottom, left, right


def _native(text: str | None) -> int | Literal["auto"] | None:
    from scalesim.errors import ParameterError

    if text is None or text.strip() == "auto":
        return None if text is None else "auto"
    if not text.strip().isdigit() or int(text) < 1:
        raise ParameterError(f"--native {text}: write it as auto, or the frame's lines such as 480")
    return int(text)


def read_chain(text: str) -> Chain:
    """Return the chain given as text or as the name of a TOML file.

    Raises: ParameterError, ReadError
    """
    from scalesim.chain import Chain
    from scalesim.errors import ParameterError
    from scalesim.io.documents import read_chain_file

    if not text.strip().lower().endswith(".toml"):
        return Chain(text)
    path = Path(text.strip())
    try:
        return read_chain_file(path, "give the chain as text")
    except ParameterError as error:
        raise ParameterError(f"{path.name}: {error}") from None


def words(text: str | None) -> list[str] | None:
    """Return the comma-separated words of an option, None when it was not given."""
    return None if text is None else [word.strip() for word in text.split(",") if word.strip()]
