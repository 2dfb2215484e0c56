"""One schema for the keys of a stage, checked alike from text, TOML and Python.

A stage is a frozen dataclass whose fields are made with `param`. Its `__post_init__` turns whatever
was given (a number, a word from a chain's text, a TOML value) into the key's type and checks the
range, so no form can get past a rule another form obeys.
"""

from __future__ import annotations

import dataclasses
import math
import re
from collections.abc import Mapping
from dataclasses import MISSING, dataclass
from fractions import Fraction
from pathlib import PurePath
from typing import Any, Literal

from scalesim.errors import ParameterError, nearest

ParamType = Literal["whole", "number", "choice", "switch", "taps", "aspect", "file"]

_MOST_TAPS = 255
_FRACTION = re.compile(r"[+-]?\d{1,12}/\d{1,12}")
_DECIMAL = re.compile(r"\d{1,6}(\.\d{1,6})?")

_PLAIN_DENOMINATORS = 64
"""A float equal to a fraction with a denominator up to this is written as the fraction (1/3)."""


@dataclass(frozen=True)
class Param:
    """What a key accepts: its type, unit, range and meaning. `remedy` ends the error for a bad value."""

    type: ParamType
    unit: str = ""
    at_least: float | None = None
    above: float | None = None
    at_most: float | None = None
    choices: tuple[str, ...] = ()
    optional: bool = False
    doc: str = ""
    remedy: str = ""


def param(default: Any = MISSING, *, type: ParamType = "number", doc: str = "", **limits: Any) -> Any:
    """Return a dataclass field holding a `Param`; a default of None makes the key optional."""
    schema = Param(type=type, doc=doc, optional=default is None, **limits)
    return dataclasses.field(default=default, metadata={"param": schema})


def params_of(stage: Any) -> dict[str, Param]:
    """Return the keys of a stage (class or instance) and their schemas, in the order they are written."""
    return {field.name: field.metadata["param"] for field in dataclasses.fields(stage)}


def settle(stage: Any) -> None:
    """Convert and check every key of a freshly made stage; called from `__post_init__`.

    Raises: ParameterError naming stage, key, value, limit and remedy
    """
    for name, schema in params_of(stage).items():
        value = getattr(stage, name)
        if value is None and schema.optional:
            continue
        place = f"{stage.kind}: {name}"
        settled = _CONVERT[schema.type](place, value, schema)
        object.__setattr__(stage, name, settled)


def from_keys(stage_class: Any, keys: Mapping[str, Any]) -> Any:
    """Make a stage from a mapping of keys.

    Raises: ParameterError for an unknown or missing key, or a value outside its range
    """
    known = params_of(stage_class)
    for name in keys:
        if name not in known:
            raise ParameterError(f"{stage_class.kind}: unknown key '{name}'; {nearest(name, known)}")
    for field in dataclasses.fields(stage_class):
        if field.default is MISSING and field.name not in keys:
            schema = known[field.name]
            raise ParameterError(
                f"{stage_class.kind}: key '{field.name}' is missing; give {field.name}=… ({schema.doc})"
            )
    return stage_class(**keys)


def changed_keys(stage: Any) -> dict[str, Any]:
    """Return the keys whose values differ from their defaults, in the order they are written."""
    return {
        field.name: getattr(stage, field.name)
        for field in dataclasses.fields(stage)
        if field.default is MISSING or getattr(stage, field.name) != field.default
    }


def key_text(value: Any) -> str:
    """Return a settled value in the text form of a chain, before quoting."""
    if isinstance(value, bool):
        return "on" if value else "off"
    if isinstance(value, tuple):
        # the slash joins taps, so a tap itself is never written as a fraction
        return "/".join(str(int(tap)) if tap == int(tap) else repr(tap) for tap in value)
    if isinstance(value, Fraction):
        return f"{value.numerator}:{value.denominator}"
    if isinstance(value, float):
        return _number_text(value)
    return str(value)


def _number_text(value: float) -> str:
    if value == int(value):
        return str(int(value))
    plain = Fraction(value).limit_denominator(_PLAIN_DENOMINATORS)
    # 0.1 stays 0.1, but 0.3333333333333333 reads better as 1/3
    if float(plain) == value and len(repr(value)) > 8:
        return f"{plain.numerator}/{plain.denominator}"
    return repr(value)


def _bad(place: str, value: Any, limit: str, schema: Param) -> ParameterError:
    remedy = f" ({schema.remedy})" if schema.remedy else ""
    return ParameterError(f"{place} is {_shown(value)}; it must be {limit}{remedy}")


def _shown(value: Any) -> str:
    # numbers read from a text are shown bare, words in quotes
    word = isinstance(value, str) and not any(ch.isdigit() for ch in value)
    text = repr(value) if word else str(value)
    return text if len(text) <= 60 else text[:57] + "…"


def _number(place: str, value: Any, schema: Param) -> float:
    limit = "a finite number" + (f" of {schema.unit}" if schema.unit else "")
    if isinstance(value, bool):
        raise _bad(place, value, limit, schema)
    try:
        number = _parsed(value) if isinstance(value, str) else float(value)
    except (ValueError, TypeError, ZeroDivisionError, OverflowError):
        raise _bad(place, value, limit, schema) from None
    if not math.isfinite(number):
        raise _bad(place, value, limit, schema)
    _check_range(place, value, number, schema)
    return number


def _parsed(text: str) -> float:
    """Return a number written as a decimal or as a fraction such as 1/3.

    Decimals go by `float`, because a Fraction works out every digit of 1e99999999.
    """
    if _FRACTION.fullmatch(text.strip()):
        return float(Fraction(text.strip()))
    if "_" in text or not text.isascii():  # Python reads 1_0 as ten; nobody means it
        raise ValueError
    return float(text)


def _whole(place: str, value: Any, schema: Param) -> int:
    try:
        number = _number(place, value, dataclasses.replace(schema, at_least=None, at_most=None, above=None))
    except ParameterError:
        raise _bad(place, value, _whole_limit(schema), schema) from None
    if number != int(number):
        raise _bad(place, value, _whole_limit(schema), schema)
    _check_range(place, value, number, schema)
    return int(number)


def _whole_limit(schema: Param) -> str:
    return "a whole number" + (f" of {schema.unit}" if schema.unit else "")


def _check_range(place: str, value: Any, number: float, schema: Param) -> None:
    if schema.at_least is not None and number < schema.at_least:
        raise _bad(place, value, f"at least {schema.at_least:g}", schema)
    if schema.above is not None and number <= schema.above:
        raise _bad(place, value, f"above {schema.above:g}", schema)
    if schema.at_most is not None and number > schema.at_most:
        raise _bad(place, value, f"at most {schema.at_most:g}", schema)


def _choice(place: str, value: Any, schema: Param) -> str:
    if not isinstance(value, str) or value not in schema.choices:
        hint = (
            nearest(value, schema.choices)
            if isinstance(value, str)
            else "valid: " + ", ".join(schema.choices)
        )
        raise ParameterError(f"{place} is {_shown(value)}; {hint}")
    return value


def _switch(place: str, value: Any, schema: Param) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, str) and value in ("on", "off"):
        return value == "on"
    raise _bad(place, value, "on or off", schema)


def _taps(place: str, value: Any, schema: Param) -> tuple[float, ...] | str:
    """Return the taps as numbers, or one of the schema's words ("paired") as it stands."""
    if isinstance(value, str) and value.strip() in schema.choices:
        return value.strip()
    parts: Any = value.split("/") if isinstance(value, str) else value
    if isinstance(parts, int | float) and not isinstance(parts, bool):
        parts = [parts]
    if isinstance(parts, dict):
        parts = None
    try:
        taps = tuple(_number(place, part, Param("number")) for part in parts)
    except (TypeError, ParameterError):
        raise _bad(place, value, "numbers joined by / such as 1/2/1, or paired", schema) from None
    if len(taps) > _MOST_TAPS:
        raise _bad(place, f"{len(taps)} taps", f"at most {_MOST_TAPS} taps", schema)
    if len(taps) % 2 == 0 or taps != taps[::-1]:
        raise _bad(place, value, "an odd number of taps, the same from both ends (1/2/1)", schema)
    if not 1e-9 <= abs(sum(taps)) < 1e9:
        raise _bad(
            place, value, "taps whose sum is neither 0 nor beyond 1e9, so that flat keeps its level", schema
        )
    return taps


def _aspect(place: str, value: Any, schema: Param) -> Fraction:
    try:
        if isinstance(value, bool):
            raise TypeError
        if isinstance(value, str):
            width, _, height = value.replace("/", ":").partition(":")
            aspect = (_exact(width) / _exact(height or "1")).limit_denominator(1000)
        else:
            aspect = Fraction(value).limit_denominator(1000)
    except (ValueError, TypeError, ZeroDivisionError, OverflowError):
        raise _bad(place, value, "width:height such as 4:3 or 16:9", schema) from None
    if not Fraction(1, 4) <= aspect <= 4:
        raise _bad(place, value, "between 1:4 and 4:1", schema)
    return aspect


def _file(place: str, value: Any, schema: Param) -> str:
    name = str(value) if isinstance(value, PurePath) else value
    if not isinstance(name, str) or not name.strip() or not name.isprintable():
        raise _bad(place, value, "the name of a file", schema)
    return name.strip()


def _exact(text: str) -> Fraction:
    if not _DECIMAL.fullmatch(text.strip()):
        raise ValueError
    return Fraction(text.strip())


_CONVERT = {
    "whole": _whole,
    "number": _number,
    "choice": _choice,
    "switch": _switch,
    "taps": _taps,
    "aspect": _aspect,
    "file": _file,
}
