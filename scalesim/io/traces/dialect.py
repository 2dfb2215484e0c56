"""How a text of columns is written: encoding, separator, decimal sign, head, names, units, time.

Nothing is asked of the user that the text itself tells: the dialect is the one in which the last lines of its
beginning are rows of as many numbers each.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

from scalesim.errors import ReadError
from scalesim.texts import one_line

SAMPLE_BYTES = 1 << 17
MOST_HEADER = 500
_TRIED = 40
_SEPARATORS = ("\t", ";", ",", " ")
_NUMBER = re.compile(r"[+-]?((\d+\.?\d*|\.\d+)(e[+-]?\d+)?|nan|inf)\Z", re.IGNORECASE)
_VALUE = re.compile(r"([+-]?(?:\d+[.,]?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([a-zA-Zµμ/]*)")
_INTERVAL = re.compile(
    r"sampl\w*[ _]*(interval|period)|time[ _]*(increment|interval|base[ _]*increment)|x[ _]*incr\w*|"
    r"h[ _]*(resolution|interval)|\bincrement\b|\bdelta ?t\b|\bdt\b|\binterval\b",
    re.IGNORECASE,
)
_RATE = re.compile(r"sampl\w*[ _]*(rate|freq\w*)|\bsps\b", re.IGNORECASE)
_PREFIX = {
    "": 1.0,
    "k": 1e3,
    "K": 1e3,
    "M": 1e6,
    "G": 1e9,
    "m": 1e-3,
    "u": 1e-6,
    "µ": 1e-6,
    "μ": 1e-6,
    "n": 1e-9,
}
_SECOND = re.compile(r"(?<![a-zA-Z])([munpµμ]?)(s|sec|secs|second|seconds)(?![a-zA-Z])")
_VOLT = re.compile(r"(?<![a-zA-Z])([mkuµμ]?)(V|volt|volts|Volt|Volts|VOLT)(?![a-zA-Z])")
_BRACKETS = re.compile(r"\s*[(\[][^)\]]*[)\]]\s*$")
_UNIT = re.compile(r"\W*[munpkµμ]?(s|secs?|seconds?|v|volts?)\W*", re.IGNORECASE)
_SPELT = {"millisecond": "ms", "microsecond": "us", "nanosecond": "ns", "millivolt": "mV", "microvolt": "uV"}
_SAID = {"\t": "tabs", ";": "semicolons", ",": "commas", " ": "blanks"}

Number = Callable[[str, str], float | None]
"""Gives the number of a cell for a decimal sign, None where it holds none."""


@dataclass(frozen=True)
class Dialect:
    """How a text is written.

    Parameters:
        encoding : of its bytes; separator, decimal : of its cells
        head_lines : before the first row; cells : of a row
        columns : numbers, from 0, of the cells that hold numbers; names : theirs, "" for none
        volts : scale to volts of each column, None where no unit is told
        seconds : scale to seconds of the first column, None where its unit is not told
        interval_s : between samples as the head tells it, None where it does not
    """

    encoding: str
    separator: str
    decimal: str
    head_lines: int
    cells: int
    columns: tuple[int, ...]
    names: tuple[str, ...]
    volts: tuple[float | None, ...]
    seconds: float | None
    interval_s: float | None

    @property
    def between(self) -> str:
        """What stands between its cells, in words."""
        return _SAID[self.separator]

    @property
    def said(self) -> str:
        """How it was read, in words."""
        mark = "a decimal comma" if self.decimal == "," else "a decimal point"
        head = f"{self.head_lines} lines of head" if self.head_lines != 1 else "1 line of head"
        return f"{len(self.columns)} columns between {self.between}, {mark}, {head}"


def dialect_of(
    sample: bytes,
    whole: bool,
    name: str,
    *,
    number: Number | None = None,
    what: str = "trace",
    columns: str = "time and volts",
    fewest: int = 2,
) -> Dialect:
    """Return the dialect of a text's beginning.

    Parameters:
        whole : the sample is the whole text; name : of the file, for errors
        number : the number of a cell, None for none; left out, only a bare one is
        what, columns : what the text ought to be and to hold, for errors; fewest : its lines
    Raises: ReadError where no line is a row of numbers
    """
    encoding = _encoding(sample)
    try:
        text = sample.decode(encoding, errors="ignore" if not whole else "strict")
    except UnicodeDecodeError:
        encoding, text = "latin-1", sample.decode("latin-1")
    if "\0" in text:
        raise ReadError(f"{name}: is no text, NumPy file or WAV; export the {what} as CSV")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if not whole:
        lines = lines[:-1]
    filled = [number for number, line in enumerate(lines) if line.strip()]
    if len(filled) < fewest:
        raise ReadError(f"{name}: holds {len(filled)} lines of text; export a whole {what} as CSV")
    number = number or number_of
    best: tuple[int, str, str, tuple[int, ...], int] | None = None
    for separator in _SEPARATORS:
        for decimal in (".", ","):
            if separator == decimal and not any('"' in lines[k] for k in filled[-_TRIED:]):
                continue  # one sign can be both only where cells are quoted
            last = [cells_of(lines[k], separator) for k in filled[-_TRIED:]]
            shapes = [(len(cells), _numeric(cells, decimal, number)) for cells in last]
            numbers = Counter(shape for shape in shapes if shape[1])
            if not numbers:
                continue
            (shape, rows), *_ = numbers.most_common(1)
            after_head = len(shapes) - shapes.index(shape)
            if 2 * rows > after_head and (best is None or len(shape[1]) > best[0]):
                best = len(shape[1]), separator, decimal, shape[1], shape[0]
    if best is None:
        shown = one_line(lines[filled[-1]].strip()[:40])
        raise ReadError(
            f"{name}: no rows of numbers were found (one line is '{shown}'); export {columns} in columns"
        )
    _, separator, decimal, places, cells = best
    return _described(lines, filled, encoding, separator, decimal, places, cells, name, number)


def cells_of(line: str, separator: str) -> list[str]:
    """Return the cells of a line, quotes taken off; empty ones at its end do not count."""
    cells = line.split() if separator == " " else _split(line, separator)
    cells = [cell.strip().strip('"').strip() for cell in cells]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _split(line: str, separator: str) -> list[str]:
    """Return what stands between separators; one within quotes is a part of its cell (RFC 4180)."""
    if '"' in line:
        try:
            return next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])
        except csv.Error:  # no quotes of a table
            pass
    return line.split(separator)


def number_of(cell: str, decimal: str) -> float | None:
    """Return a cell's number, None when it is none."""
    plain = cell.replace(",", ".") if decimal == "," and "." not in cell else cell
    return float(plain) if _NUMBER.match(plain) else None


def _numeric(cells: list[str], decimal: str, number: Number) -> tuple[int, ...]:
    return tuple(k for k, cell in enumerate(cells) if number(cell, decimal) is not None)


def _encoding(sample: bytes) -> str:
    for mark, name in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if sample.startswith(mark):
            return name
    return "utf-8"


def _described(
    lines: list[str],
    filled: list[int],
    encoding: str,
    separator: str,
    decimal: str,
    places: tuple[int, ...],
    cells: int,
    name: str,
    number: Number,
) -> Dialect:
    first = next(
        k
        for k in filled
        if (_row := cells_of(lines[k], separator)) and set(places) <= set(_numeric(_row, decimal, number))
    )
    if first > MOST_HEADER:
        raise ReadError(
            f"{name}: {first} lines come before the first row of numbers; export the trace as CSV"
        )
    head = lines[:first]
    names = [""] * len(places)
    units = [""] * len(places)
    for line in head:
        row = cells_of(line, separator)
        if len(row) > max(places) and not _numeric(row, decimal, number):
            own = [one_line(row[k])[:40] for k in places]
            if any(names) and all(_unit_only(cell) for cell in own):
                units = own
            else:
                names = own
    said = [f"{a} {_spelt(b)}" for a, b in zip((_spelt(n) for n in names), units, strict=True)]
    interval = _interval(head, separator)
    return Dialect(
        encoding,
        separator,
        decimal,
        first,
        cells,
        places,
        tuple(_BRACKETS.sub("", name).strip() for name in names),
        tuple(_scale(_VOLT, each) for each in said),
        _scale(_SECOND, said[0]),
        interval,
    )


def _spelt(text: str) -> str:
    for long, short in _SPELT.items():
        text = re.sub(rf"{long}s?", short, text, flags=re.IGNORECASE)
    return text


def _unit_only(cell: str) -> bool:
    return not cell or _UNIT.fullmatch(_spelt(cell)) is not None


def _scale(unit: re.Pattern[str], text: str) -> float | None:
    found = unit.search(text) or (unit.search(text.lower()) if unit is _SECOND else None)
    return _PREFIX.get(found.group(1), 1e-12) if found else None


def _interval(head: list[str], separator: str) -> float | None:
    """Return the seconds between samples that the head tells."""
    for line in head:
        for pattern, inverse in ((_INTERVAL, False), (_RATE, True)):
            found = pattern.search(line)
            value = _VALUE.search(line, found.end()) if found else None
            if value is None:
                continue
            number = float(value.group(1).replace(",", ".").rstrip("."))
            unit = value.group(2) or line[found.end() : value.start()] if found else ""
            prefix = re.search(r"([kKMGmunµμ]?)(?:S|Sa|Hz|s|sec)\b", unit)
            number *= _PREFIX[prefix.group(1)] if prefix else 1.0
            if number > 0:
                return 1 / number if inverse else number
    return None
