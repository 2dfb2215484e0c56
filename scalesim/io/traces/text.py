"""A text of columns, streamed: only the values are held, and a bad row is named by its number."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from scalesim.core.files import shown
from scalesim.core.limits import TRACE_VALUES
from scalesim.core.trace import Trace
from scalesim.errors import ReadError
from scalesim.io.traces.clock import Clock, looks_like_time
from scalesim.io.traces.dialect import SAMPLE_BYTES, Dialect, cells_of, dialect_of, number_of
from scalesim.texts import one_line

PART_BYTES = 1 << 23
LONGEST_LINE = 1 << 16
MOST_CHANNELS = 4


def read_text_trace(path: Path, advance: Callable[[int], None]) -> Trace:
    """Return the trace of a text.

    Raises: ReadError for a text without rows of numbers, one with gaps, or with time that runs back
    """
    name = shown(path.name)
    with open(path, "rb") as file:
        sample = file.read(SAMPLE_BYTES)
    dialect = dialect_of(sample, len(sample) < SAMPLE_BYTES, name)
    rows = Rows(dialect, name)
    clock: Clock | None = None
    held: list[NDArray] = []
    count, timed = 0, False
    for part in parts_of(path, dialect, advance, name):
        values = rows.values(part)
        if not len(values):
            continue
        if not count:
            timed = values.shape[1] > 1 and looks_like_time(values[:, 0])
            clock = Clock(dialect.seconds or 1.0, name, dialect.head_lines) if timed else None
        if clock is not None:
            clock.add(values[:, 0])
        kept = values[:, 1:] if timed else values
        _check_finite(kept, dialect, count, name)
        held.append(kept[:, :MOST_CHANNELS].astype(np.float32))
        count += len(values)
        if count * held[0].shape[1] > TRACE_VALUES:
            raise ReadError(f"{name}: more than {TRACE_VALUES // 1_000_000} million values; record less")
    if count < 2:
        raise ReadError(f"{name}: holds {count} rows of numbers; export a whole trace")
    return _trace(held, dialect, clock, timed, name)


def _trace(held: list[NDArray], dialect: Dialect, clock: Clock | None, timed: bool, name: str) -> Trace:
    first = 1 if timed else 0
    columns = dialect.columns[first:][:MOST_CHANNELS]
    notes = [f"{name}: {dialect.said}"]
    if len(dialect.columns) - first > MOST_CHANNELS:
        notes.append(f"{name}: only the first {MOST_CHANNELS} channels are read")
    channels: dict[str, NDArray] = {}
    for k, column in enumerate(columns):
        scale = dialect.volts[first + k]
        label = dialect.names[first + k] or f"column {column + 1}"
        label = label if label not in channels else f"{label} ({column + 1})"
        channels[label] = np.concatenate([part[:, k] for part in held]) * np.float32(scale or 1.0)
        if scale is None:
            notes.append(f"{name}: {label} has no unit; it is taken as volts")
        elif scale != 1:
            notes.append(f"{name}: {label} is in {1000 if scale == 1e-3 else scale:g} parts of a volt")
    interval, start = float("nan"), 0.0
    counts = clock is not None and clock.by_ones and dialect.seconds is None
    if counts:
        notes.append(f"{name}: its first column counts rows and is no time")
    elif clock is not None:
        interval, start = clock.settled()
        if dialect.seconds is None:
            notes.append(f"{name}: its first column is taken as time in seconds")
    if np.isnan(interval) and dialect.interval_s is not None:
        interval = dialect.interval_s
        notes.append(f"{name}: {interval * 1e9:.6g} ns between samples, from its head")
    return Trace(name, interval, channels, start, tuple(c + 1 for c in columns), tuple(notes))


def parts_of(path: Path, dialect: Dialect, advance: Callable[[int], None], name: str) -> Iterator[bytes]:
    """Yield whole lines after the head, in UTF-8, some megabytes at a time."""
    with open(path, encoding=dialect.encoding, errors="replace", newline=None) as file:
        for _ in range(dialect.head_lines):
            file.readline(LONGEST_LINE)
        left = ""
        while True:
            text = file.read(PART_BYTES)
            advance(len(text))
            if not text:
                break
            text = left + text
            cut = text.rfind("\n") + 1
            left = text[cut:]
            if len(left) > LONGEST_LINE:
                raise ReadError(f"{name}: a line is longer than {LONGEST_LINE} characters; export it as CSV")
            yield text[:cut].encode("utf-8")
        yield left.encode("utf-8")


class Rows:
    """Rows of numbers out of lines: all at once where every cell is one, else line by line."""

    def __init__(self, dialect: Dialect, name: str) -> None:
        self.dialect, self.name = dialect, name
        self.line = dialect.head_lines
        self.plain = dialect.columns == tuple(range(dialect.cells))

    def values(self, part: bytes) -> NDArray:
        """Return (rows, columns) float64 of some whole lines."""
        lines = part.count(b"\n") + (1 if part and not part.endswith(b"\n") else 0)
        found = self.quick(part) if self.plain else None
        if found is None:
            found = self._slow(part)
        self.line += lines
        return found

    def quick(self, part: bytes) -> NDArray | None:
        """Return the values where every cell of these lines is a number, None where one is not."""
        text = part.strip()
        if b'"' in text or self.dialect.separator == self.dialect.decimal:
            return None
        separator = self.dialect.separator.encode()
        if self.dialect.decimal == ",":
            text = text.replace(b",", b".")
        if separator not in (b" ", b"\t"):
            text = text.replace(separator + b"\n", b"\n").rstrip(separator).replace(separator, b" ")
        width = len(self.dialect.columns)
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            try:
                flat = np.fromstring(text.decode("ascii"), sep=" ")
            except (ValueError, DeprecationWarning):
                return None
        return flat.reshape(-1, width) if len(flat) == width * (text.count(b"\n") + 1) else None

    def _slow(self, part: bytes) -> NDArray:
        found = []
        wanted = self.dialect.columns
        for number, line in enumerate(part.decode("utf-8").split("\n"), start=self.line + 1):
            if not line.strip():
                continue
            cells = cells_of(line, self.dialect.separator)
            row = [number_of(cells[k], self.dialect.decimal) if k < len(cells) else None for k in wanted]
            if None in row:
                raise self._refused(number, cells, row)
            found.append(row)
        return np.array(found, dtype=np.float64).reshape(-1, len(wanted))

    def _refused(self, number: int, cells: list[str], row: list[float | None]) -> ReadError:
        column = self.dialect.columns[row.index(None)]
        if column >= len(cells):
            return ReadError(
                f"{self.name}: line {number} has {len(cells)} columns, those before have "
                f"{self.dialect.cells}; export the trace again, without remarks below it"
            )
        return ReadError(
            f"{self.name}: line {number} has '{one_line(cells[column][:30])}' in column {column + 1}, which "
            "is no number; export again (a channel that left the screen has no value: set it lower)"
        )


def _check_finite(values: NDArray, dialect: Dialect, before: int, name: str) -> None:
    if not (np.abs(values) < 1e30).all():  # nan is not less, either
        row = before + int(np.flatnonzero(~(np.abs(values) < 1e30).all(axis=1))[0])
        raise ReadError(
            f"{name}: row {row + 1} (line {row + 1 + dialect.head_lines}) holds no finite number; the "
            "signal left the range there: set more volts a division, and export again"
        )
