"""Showing results on a terminal."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from scalesim.result import Result, Table
from scalesim.texts import exact, plain, shortened


def show_json(document: dict[str, Any]) -> None:
    r"""Print one document on standard output: UTF-8 whatever the locale is.

    Bytes of a name that are no text are written as ``\udce9``, by which Python finds the file again.
    """
    text = exact(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False)) + "\n"
    packed = text.encode("utf-8", "backslashreplace")
    sys.stdout.flush()
    binary = getattr(sys.stdout, "buffer", None)
    if binary is None:  # a stream of texts only, as notebooks have
        sys.stdout.write(packed.decode("utf-8"))
    else:
        binary.write(packed)
        binary.flush()


def note(messages: Iterable[str]) -> None:
    """Print notes on standard error."""
    for message in messages:
        print(f"note: {plain(shortened(message))}", file=sys.stderr)


def show_result(result: Result, out: Path) -> None:
    """Print the sentences, the table and where the files are."""
    from rich.console import Console

    console = Console(highlight=False, markup=False, emoji=False)
    for sentence in result.sentences():
        console.print(plain(sentence))
    console.print(_rich_table(result.table()))
    console.print(f"Files: {plain(str(out))}", soft_wrap=True)


def _rich_table(table: Table) -> Any:
    from rich import box
    from rich.table import Table as RichTable
    from rich.text import Text

    shown = RichTable(
        title=Text(plain(table.title)), box=box.SIMPLE_HEAD, title_justify="left", title_style="bold"
    )
    for name, align in zip(table.columns, table.aligned, strict=True):
        shown.add_column(
            Text(plain(str(name))), justify="right" if align == "right" else "left", overflow="fold"
        )
    for row in table.rows:
        shown.add_row(*(Text(plain(str(cell))) for cell in row))
    return shown
