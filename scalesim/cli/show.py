"""Showing results on a terminal."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from scalesim.result import Result, Table


def show_json(document: dict[str, Any]) -> None:
    """Print one document on standard output."""
    print(json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False))


def note(messages: Iterable[str]) -> None:
    """Print notes on standard error."""
    for message in messages:
        print(f"note: {message}", file=sys.stderr)


def show_result(result: Result, out: Path) -> None:
    """Print the sentences, the table and where the files are."""
    from rich.console import Console

    console = Console(highlight=False)
    for sentence in result.sentences():
        console.print(sentence, markup=False)
    console.print(_rich_table(result.table()))
    console.print(f"Files: {out}", markup=False, soft_wrap=True)


def _rich_table(table: Table) -> Any:
    from rich import box
    from rich.table import Table as RichTable
    from rich.text import Text

    shown = RichTable(title=table.title, box=box.SIMPLE_HEAD, title_justify="left", title_style="bold")
    for name, align in zip(table.columns, table.aligned, strict=True):
        shown.add_column(str(name), justify="right" if align == "right" else "left", overflow="fold")
    for row in table.rows:
        shown.add_row(*(Text(str(cell)) for cell in row))
    return shown
