"""A table of a text file, column by column: numbers with their units, and words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import check_file, shown
from scalesim.core.limits import TABLE_GIGABYTES, TABLE_ROWS
from scalesim.errors import ReadError
from scalesim.io.tables.cells import is_quantity, quantity
from scalesim.io.traces.dialect import SAMPLE_BYTES, Dialect, cells_of, dialect_of
from scalesim.io.traces.text import Rows, parts_of
from scalesim.texts import one_line

MOST_COLUMNS = 64
MOST_WORDS = 10_000


@dataclass(frozen=True, eq=False)
class Column:
    """A column.

    Parameters:
        title : as the file's head names it, "" for none
        values : (rows,) float64, nan where a cell holds no number; in a column of words all are
        units : (rows,) whole numbers into `unit_names` for units beside the numbers, None where none has one
        words : (rows,) whole numbers into `texts`, None in a column of numbers
    """

    title: str
    values: NDArray
    units: NDArray | None = None
    unit_names: tuple[str, ...] = ()
    words: NDArray | None = None
    texts: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Sheet:
    """A table: its columns, the number of lines before its first row, and how it was read."""

    name: str
    columns: tuple[Column, ...]
    head_lines: int
    notes: tuple[str, ...]

    @property
    def rows(self) -> int:
        """Rows of every column."""
        return len(self.columns[0].values)


def read_sheet(path: str | Path, advance: Callable[[int], None] = lambda _: None) -> Sheet:
    """Return the table of a text file.

    Parameters:  advance : called with the characters read since the last call
    Raises: ReadError, one line, for what is no table of numbers
    """
    check_file(path, "log", 1000 * TABLE_GIGABYTES, too_large="log less often, or cut it in pieces")
    name = shown(Path(path).name)
    try:
        with open(path, "rb") as file:
            sample = file.read(SAMPLE_BYTES)
        dialect, titles = _dialect(sample, len(sample) < SAMPLE_BYTES, name)
        if dialect.cells > MOST_COLUMNS:
            raise ReadError(f"{name}: has {dialect.cells} columns; a log has at most {MOST_COLUMNS}")
        columns = _columns(Path(path), dialect, titles, name, advance)
    except ReadError:
        raise
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise ReadError(f"{name}: cannot be read ({reason}): check the permissions") from None
    many = f"{dialect.cells} columns between {dialect.between}" if dialect.cells > 1 else "1 column"
    mark = "comma" if dialect.decimal == "," else "point"
    return Sheet(name, columns, dialect.head_lines, (f"{name}: {many}, a decimal {mark}",))


def _dialect(sample: bytes, whole: bool, name: str) -> tuple[Dialect, list[str]]:
    """Return the dialect and the title of every column."""
    found = dialect_of(sample, whole, name, number=is_quantity, what="log", columns="time and lag", fewest=1)
    text = sample.decode(found.encoding, errors="ignore").replace("\r\n", "\n").replace("\r", "\n")
    head = [line for line in text.split("\n")[: found.head_lines] if line.strip()]
    if found.separator == "," and found.cells == 2 and head and len(cells_of(head[-1], ",")) == 1:
        # one title over two numbers: the comma is a decimal one
        found = replace(found, separator=";", decimal=",", cells=1, columns=(0,))
    titles = [""] * found.cells
    for line in head:
        row = cells_of(line.lstrip("#"), found.separator)
        # a last column that most rows leave empty, remarks say, is titled all the same
        if len(row) >= found.cells and not any(is_quantity(cell, found.decimal) is not None for cell in row):
            titles = [one_line(cell)[:60] for cell in row[: found.cells]]
    return replace(found, head_lines=_before_gaps(text.split("\n"), found)), titles


def _before_gaps(lines: list[str], found: Dialect) -> int:
    """Return the lines of head, less those at its end that are rows with an empty cell."""
    first = found.head_lines
    while first and _is_gapped(cells_of(lines[first - 1], found.separator), found):
        first -= 1
    return first


def _is_gapped(row: list[str], found: Dialect) -> bool:
    """Return whether a row holds two numbers or more, and nothing else where numbers stand."""
    kept = [row[place] for place in found.columns if place < len(row) and row[place]]
    return len(kept) > 1 and all(is_quantity(cell, found.decimal) is not None for cell in kept)


def _columns(
    path: Path, dialect: Dialect, titles: list[str], name: str, advance: Callable[[int], None]
) -> tuple[Column, ...]:
    rows = Rows(dialect, name)
    made = [_Building(title) for title in titles]
    count = 0
    for part in parts_of(path, dialect, advance, name):
        quick = rows.quick(part) if rows.plain and b"#" not in part else None
        if quick is not None:
            count += len(quick)
            for column, values in zip(made, quick.T, strict=True):
                column.add_numbers(np.ascontiguousarray(values))
        else:
            lines = [line for line in part.decode("utf-8").split("\n") if line.strip(' \t"')]
            cells = [cells_of(line, dialect.separator) for line in lines if not line.lstrip().startswith("#")]
            count += len(cells)
            for place, column in enumerate(made):
                column.add([row[place] if place < len(row) else "" for row in cells], dialect.decimal)
        if count > TABLE_ROWS:
            raise ReadError(f"{name}: more than {TABLE_ROWS // 1_000_000} million rows; log less often")
    if not count:
        raise ReadError(f"{name}: holds no rows; log at least one reading")
    return tuple(column.done() for column in made)


class _Building:
    """A column as its parts come."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.values: list[NDArray] = []
        self.units: list[NDArray] = []
        self.words: list[NDArray] = []
        self.unit_names: dict[str, int] = {"": 0}
        self.texts: dict[str, int] = {"": 0}

    def add_numbers(self, values: NDArray) -> None:
        self.values.append(values)
        self.units.append(np.zeros(len(values), np.int8))
        self.words.append(np.zeros(len(values), np.int32))

    def add(self, cells: list[str], decimal: str) -> None:
        try:
            plain = [cell.replace(",", ".") for cell in cells] if decimal == "," else cells
            self.add_numbers(np.array(plain, dtype=np.float64))
            return
        except ValueError:
            pass
        values = np.full(len(cells), np.nan)
        units, words = np.zeros(len(cells), np.int8), np.zeros(len(cells), np.int32)
        known: dict[str, tuple[float, str] | None] = {}
        for row, cell in enumerate(cells):
            if cell not in known:
                known[cell] = quantity(cell, decimal)
            found = known[cell]
            if found is not None:
                values[row] = found[0]
                units[row] = self.unit_names.setdefault(found[1], min(len(self.unit_names), 100))
            elif cell:
                words[row] = self.texts.setdefault(cell, min(len(self.texts), MOST_WORDS))
        self.values.append(values)
        self.units.append(units)
        self.words.append(words)

    def done(self) -> Column:
        values, words = np.concatenate(self.values), np.concatenate(self.words)
        worded = int((words > 0).sum())
        if worded > np.isfinite(values).sum():
            texts = tuple(one_line(text)[:60] for text in self.texts)
            return Column(self.title, np.full(len(values), np.nan), words=words, texts=texts)
        units = np.concatenate(self.units) if len(self.unit_names) > 1 else None
        return Column(self.title, values, units, tuple(self.unit_names))
