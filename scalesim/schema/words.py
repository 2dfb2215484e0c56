"""Words: choices, switches, names of files, free text and dates."""

from __future__ import annotations

import datetime
import re
from contextlib import suppress
from pathlib import PurePath
from typing import Any

from scalesim.schema.numbers import finite
from scalesim.schema.param import Param
from scalesim.schema.refuse import refused, unknown_word

_MONTH = re.compile(r"\d{4}(-(0[1-9]|1[0-2]))?", re.ASCII)


def choice(place: str, value: Any, schema: Param) -> str:
    """Return one of the valid words."""
    if not isinstance(value, str) or value not in schema.choices:
        raise unknown_word(place, value, schema)
    return value


def switch(place: str, value: Any, schema: Param) -> bool:
    """Return on or off as a truth value."""
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value in ("on", "off"):
        return value == "on"
    raise refused(place, value, "on or off", schema)


def file(place: str, value: Any, schema: Param) -> str:
    """Return the name of a file."""
    name = str(value) if isinstance(value, PurePath) else value
    if not isinstance(name, str) or not name.strip() or not name.isprintable():
        raise refused(place, value, "the name of a file", schema)
    return name.strip()


def text(place: str, value: Any, schema: Param) -> str:
    """Return a text that is not empty, unless it may be."""
    if not isinstance(value, str) or len(value.strip()) < schema.fewest:
        raise refused(place, value, "a text in quotes", schema)
    return value


def free(place: str, value: Any, schema: Param) -> str | int | float | bool:
    """Return a text, a finite number or a switch as it stands; a date or time as its text."""
    if isinstance(value, str | bool):
        return value
    if isinstance(value, datetime.date | datetime.time):
        return str(value)
    # what no document can hold (NaN, a whole number of 400 digits) stops here
    if isinstance(value, int | float) and finite(value) is not None:
        return value
    raise refused(place, value, "a text in quotes or a finite number", schema)


def date(place: str, value: Any, schema: Param) -> str:
    """Return a date, with or without its time, or a month or year, as its text (ISO 8601)."""
    if isinstance(value, datetime.date):  # a date with its time is one too
        return str(value)
    if isinstance(value, str):
        text = value.strip()
        if _MONTH.fullmatch(text):
            return text
        with suppress(ValueError):  # no date: refused below
            datetime.datetime.fromisoformat(text)
            return text
    raise refused(place, value, "a date such as 2024-03-05, or a month such as 2024-03 in quotes", schema)
