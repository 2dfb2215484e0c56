"""A comparison as Markdown: the page's text and tables, with the figures beside it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from scalesim.page.compare_tables import Cell, MetricTable, TextTable

_SIGNS = re.compile(r"([\\`*_{}\[\]<>#|~&])")


def escaped(text: str) -> str:
    """Return a text whose signs mean nothing in Markdown, HTML or a table, on one line."""
    return _SIGNS.sub(r"\\\1", " ".join(text.split()))


def text_table(table: TextTable) -> str:
    """Return a table of texts."""
    align = ["--:" if number in table.right else ":--" for number in range(len(table.columns))]
    return f"{_caption(table.title)}\n\n{_table(table.columns, table.rows, align)}"


def metric_table(table: MetricTable) -> str:
    """Return a metric table, the best in bold, and its footnotes."""
    names = ["", *(f"{chain} ({screen})" for chain, screen in table.chains)]
    lines = []
    for column, cells in table.rows:
        better = f" ({column.better} is better)" if column.better else ""
        label = ", ".join(filter(None, (column.label, column.unit))) + better
        lines.append([escaped(label), *map(_value, cells)])
    align = [":--", *("--:" for _ in table.chains)]
    notes = "".join(f"\n\\[{number}\\] {escaped(note)}  " for number, note in enumerate(table.notes, 1))
    said = _raw_table([escaped(name) for name in names], lines, align)
    return f"{_caption(table.title)}\n\n{said}" + (f"\n{notes}" if notes else "")


def _value(cell: Cell) -> str:
    text = escaped(f"{cell.text} [{cell.note}]" if cell.note else cell.text)
    return f"**{text}**" if cell.best else text


def code_block(text: str) -> str:
    """Return a text as an indented block, in which nothing means anything."""
    return "\n".join("    " + line for line in text.splitlines())


def figure(path: str, words: str) -> str:
    """Return a picture with its words."""
    return f"![{escaped(words)}]({path})\n\n*{escaped(words)}*"


def _caption(title: str) -> str:
    return f"**{escaped(title)}**"


def _table(names: Sequence[str], rows: Sequence[Sequence[str]], align: Sequence[str]) -> str:
    return _raw_table([escaped(n) for n in names], [[escaped(cell) for cell in row] for row in rows], align)


def _raw_table(names: Sequence[str], rows: Sequence[Sequence[str]], align: Sequence[str]) -> str:
    lines = [names, align, *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)
