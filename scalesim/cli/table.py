"""A table and paragraphs on a terminal, within its width.

A column of numbers keeps its width. Columns of words give way, but never below their longest word; the last
one moves below its row when there is too little room for it.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from rich.cells import cell_len

from scalesim.result import Cell, Table
from scalesim.texts import plain
from scalesim.typeset import MINUS, NO_BREAK, typeset

_BETWEEN = "   "
_INDENT = "  "
_RULE = "\N{BOX DRAWINGS LIGHT HORIZONTAL}"
_PLAINER = {MINUS: "-", _RULE: "-", "\N{EN DASH}": "-", "…": "...", "±": "+/-"}
_NUMBERED = re.compile(rf"{NO_BREAK}\[\d+\]$")
_SENTENCE = 40
"""A cell that is longer than this is a sentence."""


def wrapped(text: str, width: int, first: str = "", later: str = "") -> list[str]:
    """Return a text as lines within a width, broken between words; a word that is longer stands alone.

    A number stays with its unit: no-break spaces count as letters.
    """
    lines = textwrap.wrap(
        typeset(plain(text)),
        max(width, 20),
        initial_indent=first,
        subsequent_indent=later,
        break_long_words=False,
        break_on_hyphens=False,
    )
    return lines or [first.rstrip()]


def table_lines(table: Table, width: int) -> list[str]:
    """Return a table as lines within a width, its footnotes below."""
    notes = {note: number for number, note in enumerate(table.notes, start=1)}
    heads = [_text(cell, {}) for cell in table.columns]
    rows = [[_text(cell, notes) for cell in row] for row in table.rows]
    rows = _numbers_below_each_other(rows, table.aligned)
    lines = [*wrapped(table.title, width), "", *_body(heads, rows, table.aligned, width)]
    for note, number in notes.items():
        lines += wrapped(f"[{number}] {note}", width, _INDENT, _INDENT * 3)
    return lines


def _body(heads: list[str], rows: list[list[str]], align: Sequence[str], width: int) -> list[str]:
    """Return the rows below each other; with the last column below its row, or as records, where too wide."""
    widths = _widths(heads, rows, align, width)
    apart = widths is None or _is_cramped(rows, widths)
    if apart:
        widths = _widths(heads[:-1], [row[:-1] for row in rows], align, width)
    if not widths:
        return _records(heads, rows, width)
    lines = [*_row(heads, widths, align), _INDENT + _BETWEEN.join(_RULE * each for each in widths)]
    for row in rows:
        lines += _row(row, widths, align)
        if apart and row[-1]:
            lines += wrapped(row[-1], width, _INDENT * 3, _INDENT * 3)
    return lines


def _records(heads: list[str], rows: list[list[str]], width: int) -> list[str]:
    lines: list[str] = []
    for row in rows:
        for number, (head, text) in enumerate(zip(heads, row, strict=True)):
            indent = _INDENT * (2 if number else 1)
            lines += wrapped(f"{head}: {text}", width, indent, _INDENT * 4)
    return lines


def shown_in(text: str, encoding: str | None) -> str:
    """Return a line as a terminal of an encoding prints it: plain spaces, and signs it lacks spelled out."""
    text = text.replace(NO_BREAK, " ")
    for sign, plainer in _PLAINER.items():
        if sign in text:
            try:
                sign.encode(encoding or "ascii")
            except (UnicodeEncodeError, LookupError):
                text = text.replace(sign, plainer)
    return text


def _text(cell: str | Cell, notes: dict[str, int]) -> str:
    """Return a cell as one line, with the number of its footnote."""
    number = notes.get(cell.note) if isinstance(cell, Cell) else None
    text = typeset(plain(" ".join(str(cell).split())))
    return f"{text}{NO_BREAK}[{number}]" if number else text


def _numbers_below_each_other(rows: list[list[str]], align: Sequence[str]) -> list[list[str]]:
    """Leave room for the footnotes' numbers in columns of numbers, where some have one."""
    rooms = [
        max((len(found[0]) for row in rows if (found := _NUMBERED.search(row[k]))), default=0)
        if side == "right"
        else 0
        for k, side in enumerate(align)
    ]
    return [
        [text + NO_BREAK * _lacking(text, room) for text, room in zip(row, rooms, strict=True)]
        for row in rows
    ]


def _lacking(text: str, room: int) -> int:
    found = _NUMBERED.search(text)
    return room - (len(found[0]) if found else 0)


def _widths(
    heads: Sequence[str], rows: Sequence[Sequence[str]], align: Sequence[str], width: int
) -> list[int] | None:
    """Return the width of every column, None when their longest words are too wide together."""
    columns = list(zip(heads, *rows, strict=False))
    most = [max(map(cell_len, column)) for column in columns]
    least = [
        max(max(map(cell_len, _words(text)), default=0) for text in column)
        if align[k] != "right"
        else max(*map(cell_len, column[1:]), *map(cell_len, _words(column[0])), 0)
        for k, column in enumerate(columns)
    ]
    room = width - len(_INDENT) - len(_BETWEEN) * (len(columns) - 1)
    if sum(least) > room:
        return None
    widths = list(most)
    while sum(widths) > room:  # the widest gives way first
        widest = max((k for k in range(len(widths)) if widths[k] > least[k]), key=lambda k: widths[k])
        widths[widest] -= 1
    return widths


def _is_cramped(rows: Sequence[Sequence[str]], widths: Sequence[int]) -> bool:
    """Return whether the last column holds sentences in too little room."""
    longest = max((cell_len(row[-1]) for row in rows), default=0)
    return len(widths) > 1 and longest > _SENTENCE and longest > 3 * widths[-1]


def _words(text: str) -> list[str]:
    return text.split(" ")


def _row(cells: Sequence[str], widths: Sequence[int], align: Sequence[str]) -> list[str]:
    """Return a row's lines; cells beyond the widths are left out."""
    columns = [_folded(text, width) for text, width in zip(cells, widths, strict=False)]
    height = max(map(len, columns))
    lines = []
    for at in range(height):
        parts = [
            _padded(column[at] if at < len(column) else "", width, side)
            for column, width, side in zip(columns, widths, align, strict=False)
        ]
        lines.append((_INDENT + _BETWEEN.join(parts)).rstrip())
    return lines


def _folded(text: str, width: int) -> list[str]:
    """Return a cell's lines: words put together while they fit, by their width on a terminal."""
    lines = [""]
    for word in _words(text):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if lines[-1] and cell_len(longer) > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _padded(text: str, width: int, side: str) -> str:
    space = " " * max(0, width - cell_len(text))
    return space + text if side == "right" else text + space
