"""Cells of a table: numbers with or without a unit beside them, and times of day."""

from __future__ import annotations

import re
from datetime import datetime

from scalesim.io.traces.dialect import number_of

TIME_UNITS = {
    "s": 1.0,
    "sec": 1.0,
    "secs": 1.0,
    "second": 1.0,
    "seconds": 1.0,
    "ms": 1e-3,
    "msec": 1e-3,
    "millisecond": 1e-3,
    "milliseconds": 1e-3,
    "us": 1e-6,
    "µs": 1e-6,
    "μs": 1e-6,
    "microsecond": 1e-6,
    "microseconds": 1e-6,
    "ns": 1e-9,
    "nanosecond": 1e-9,
    "nanoseconds": 1e-9,
    "min": 60.0,
    "mins": 60.0,
    "minute": 60.0,
    "minutes": 60.0,
    "h": 3600.0,
    "hr": 3600.0,
    "hour": 3600.0,
    "hours": 3600.0,
}
"""Seconds in each unit of time, as people write them."""
FRAMES = ("frame", "frames", "fr", "f")
CLOCK = "clock"
"""Unit of a cell that is a time of day or a date, in seconds since midnight or 1970."""
_VALUE = re.compile(r"([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*([a-zA-Zµμ]+)\Z")
_OF_DAY = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{1,2}(?:[.,]\d+)?))?\Z")
_WORDS = re.compile(r"[a-zA-Zµμ]+")


def quantity(cell: str, decimal: str) -> tuple[float, str] | None:
    """Return a cell's number and the unit beside it ("" for none), None when it holds neither."""
    plain = number_of(cell, decimal)
    if plain is not None:
        return plain, ""
    found = _VALUE.match(cell)
    if found is not None and (unit := known_unit(found.group(2))):
        value = number_of(found.group(1), decimal)
        return None if value is None else (value, unit)
    found = _OF_DAY.match(cell)
    if found is not None:
        hours, minutes, seconds = found.groups()
        return 3600 * int(hours) + 60 * int(minutes) + float((seconds or "0").replace(",", ".")), CLOCK
    if cell[:4].isdigit() and cell[4:5] == "-":
        try:
            return datetime.fromisoformat(cell).timestamp(), CLOCK
        except (ValueError, OverflowError, OSError):
            return None
    return None


def is_quantity(cell: str, decimal: str) -> float | None:
    """Return the number of a cell as `quantity` reads it, for a guess of the dialect."""
    found = quantity(cell, decimal)
    return None if found is None else found[0]


def known_unit(word: str) -> str:
    """Return a unit's plain name, "" for a word that is none."""
    if word in TIME_UNITS:
        return word
    small = word.lower()
    return small if small in TIME_UNITS or small in FRAMES[:2] else ""


def unit_in(title: str) -> str:
    """Return the unit that a column's title names, "" for none: the last of its words that is one."""
    words = [known_unit(word) for word in _WORDS.findall(title.replace("_", " "))]
    units = [word for word in words if word]
    return units[-1] if units else ""
