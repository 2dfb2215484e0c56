"""Numbers of every kind: decimals and fractions, whole numbers, exact ones, aspects and taps."""

from __future__ import annotations

import math
import re
from decimal import Decimal
from fractions import Fraction
from numbers import Real
from typing import Any

from scalesim.errors import ParameterError
from scalesim.schema.param import Param
from scalesim.schema.refuse import refused, shown, unknown_word
from scalesim.schema.text import Exact

_MOST_TAPS = 255
_FRACTION = re.compile(r"[+-]?\d{1,12}/\d{1,12}", re.ASCII)
_DECIMAL = re.compile(r"\d{1,6}(\.\d{1,6})?", re.ASCII)
_EXACT = re.compile(r"[+-]?(\d{1,12}/\d{1,12}|\d{1,12}(\.\d{0,12})?|\.\d{1,12})", re.ASCII)
_TAP = Param("number")


def number(place: str, value: Any, schema: Param) -> float:
    """Return a finite number inside its range."""
    found = finite(value, bare=schema.bare)
    if found is None:
        raise refused(place, value, _kind("a number" if schema.bare else "a finite number", schema), schema)
    _check_range(place, value, found, schema)
    return found


def whole(place: str, value: Any, schema: Param) -> int:
    """Return a whole number inside its range; 240.0 is one."""
    found = finite(value, bare=schema.bare)
    if found is None or found != int(found):
        raise refused(place, value, _kind("a whole number", schema), schema)
    _check_range(place, value, found, schema)
    return int(found)


def finite(value: Any, *, bare: bool = True) -> float | None:
    """Return a finite number as a float, None for anything else; `bare` refuses one written as a text."""
    if isinstance(value, str):
        found = None if bare else _parsed(value)
    elif isinstance(value, Real | Decimal) and not isinstance(value, bool):
        try:
            found = float(value)
        except (ValueError, OverflowError):  # more digits than a float holds
            found = None
    else:
        found = None
    return found if found is not None and math.isfinite(found) else None


def _parsed(text: str) -> float | None:
    """Return a number written as a decimal or as a fraction such as 1/3.

    Decimals go by `float`, because a Fraction works out every digit of 1e99999999.
    """
    try:
        if _FRACTION.fullmatch(text.strip()):
            return float(Fraction(text.strip()))
        # Python reads 1_0 as ten; nobody means it
        return None if "_" in text or not text.isascii() else float(text)
    except (ValueError, ZeroDivisionError):
        return None


def _kind(kind: str, schema: Param) -> str:
    """Return what a number must be; in a file, whose reader has no other help, with the whole range."""
    if schema.bare:
        return " ".join([kind, " and ".join(range_words(schema))]).strip()
    return " ".join([kind, "of", schema.unit.removeprefix("of ")]) if schema.unit else kind


def range_words(schema: Param) -> list[str]:
    """Return the limits of a number in words: "at least 1", "at most 16"."""
    limits = (("at least", schema.at_least), ("above", schema.above), ("at most", schema.at_most))
    return [f"{words} {limit:g}" for words, limit in limits if limit is not None]


def _check_range(place: str, value: Any, found: float, schema: Param) -> None:
    limit = ""
    if schema.at_least is not None and found < schema.at_least:
        limit = f"at least {schema.at_least:g}"
    elif schema.above is not None and found <= schema.above:
        limit = f"above {schema.above:g}"
    elif schema.at_most is not None and found > schema.at_most:
        limit = f"at most {schema.at_most:g}"
    if not limit:
        return
    if schema.bare:
        limit = _kind("a whole number" if schema.type == "whole" else "a number", schema)
    raise refused(place, value, limit, schema)


def exact(place: str, value: Any, schema: Param) -> Fraction:
    """Return a number as the fraction its decimals say: 0.1 is 1/10; below 10^12."""
    found: Fraction | None = None
    if isinstance(value, Fraction | int) and not isinstance(value, bool):
        found = Fraction(value)
    elif isinstance(value, str):
        if _EXACT.fullmatch(value.strip()) and finite(value, bare=False) is not None:
            found = Fraction(value.strip())
    elif (plain := finite(value)) is not None:
        found = Fraction(repr(plain)).limit_denominator(10**12)
    if found is None or abs(found) >= 10**12:
        said = value if isinstance(value, str) and len(value) <= 60 else shown(value)
        raise ParameterError(
            f"{place}: {said} is no finite number; write a decimal or a fraction such as 1/8"
        )
    _check_range(place, value, float(found), schema)
    return Exact(found)


def aspect(place: str, value: Any, schema: Param) -> Fraction:
    """Return width over height: one of the schema's choices, or any between 1:4 and 4:1."""
    found = None if isinstance(value, bool) else _ratio(value)
    if schema.choices:
        known = isinstance(value, str | Fraction) and found in map(_ratio, schema.choices)
        if found is None or not known:
            raise unknown_word(place, value, schema)
    elif found is None:
        raise refused(place, value, "width:height such as 4:3 or 16:9", schema)
    elif not Fraction(1, 4) <= found <= 4:
        raise refused(place, value, "between 1:4 and 4:1", schema)
    return found


def _ratio(value: Any) -> Fraction | None:
    try:
        if not isinstance(value, str):
            return Fraction(value).limit_denominator(1000)
        width, _, height = value.replace("/", ":").partition(":")
        parts = [width.strip(), (height or "1").strip()]
        if not all(_DECIMAL.fullmatch(part) for part in parts):
            return None
        return (Fraction(parts[0]) / Fraction(parts[1])).limit_denominator(1000)
    except (ValueError, TypeError, ZeroDivisionError, OverflowError):
        return None


def taps(place: str, value: Any, schema: Param) -> tuple[float, ...] | str:
    """Return the taps as numbers, or one of the schema's words ("paired") as it stands."""
    if isinstance(value, str) and value.strip() in schema.choices:
        return value.strip()
    parts: Any = value.split("/") if isinstance(value, str) else value
    if isinstance(parts, int | float) and not isinstance(parts, bool):
        parts = [parts]
    if isinstance(parts, dict):
        parts = None
    try:
        taps = tuple(number(place, part, _TAP) for part in parts)
    except (TypeError, ParameterError):
        raise refused(place, value, "numbers joined by / such as 1/2/1, or paired", schema) from None
    if len(taps) > _MOST_TAPS:
        raise refused(place, f"{len(taps)} taps", f"at most {_MOST_TAPS} taps", schema)
    if len(taps) % 2 == 0 or taps != taps[::-1]:
        raise refused(place, value, "an odd number of taps, the same from both ends (1/2/1)", schema)
    if not 1e-9 <= abs(sum(taps)) < 1e9:
        raise refused(
            place, value, "taps whose sum is neither 0 nor beyond 1e9, so that flat keeps its level", schema
        )
    return taps
