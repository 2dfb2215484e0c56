"""One value, checked: whatever was given becomes the key's type, or an error in one line.

A value may be Python's, a word from a chain's text, or what TOML or JSON hold; no form can get past a
rule that another form obeys.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from scalesim.errors import ParameterError, nearest
from scalesim.schema import numbers, words
from scalesim.schema.param import Param
from scalesim.schema.refuse import refused


def convert(place: str, value: Any, schema: Param) -> Any:
    """Return a value as the key's type.

    Parameters:  place : what begins the error, such as "line-drop: lines"
    Raises: ParameterError naming place, value, limit and remedy
    """
    return _CONVERT[schema.type](place, value, schema)


def _any(place: str, value: Any, schema: Param) -> Any:
    return value


def _list(place: str, value: Any, schema: Param) -> tuple[Any, ...]:
    if schema.or_text and isinstance(value, str):
        value = [word.strip() for word in value.split(",") if word.strip()]
    wanted = f"a list of {counted(schema)}"
    if not isinstance(value, list | tuple):
        raise refused(place, value, wanted, schema)
    if len(value) < schema.fewest or (schema.most is not None and len(value) > schema.most):
        raise refused(place, f"a list of {len(value)} {_plural(schema.item, len(value))}", wanted, schema)
    own = schema.of or Param("any")
    return tuple(
        convert(f"{place}: {schema.item} {number}", entry, own)
        for number, entry in enumerate(value, start=schema.first)
    )


def counted(schema: Param) -> str:
    """Return how many entries a list has in words: "3 numbers", "at least 1 pattern", "1 to 2 fields"."""
    few, most = schema.fewest, schema.most
    if most is None:
        return f"at least {few} {_plural(schema.item, few)}" if few else _plural(schema.item, 2)
    return f"{most if few == most else f'{few} to {most}'} {_plural(schema.item, most)}"


def _plural(word: str, count: int) -> str:
    return word if count == 1 else word[:-1] + "ies" if word.endswith("y") else word + "s"


def _row(place: str, value: Any, schema: Param) -> tuple[Any, ...]:
    if not isinstance(value, list | tuple) or len(value) != len(schema.keys):
        raise refused(place, value, f"a list of {' and '.join(schema.keys)}", schema)
    pairs = zip(schema.keys.items(), value, strict=True)
    return tuple(convert(f"{place}: {name}", entry, own) for (name, own), entry in pairs)


def _table(place: str, value: Any, schema: Param) -> dict[str, Any]:
    if not isinstance(value, Mapping):
        raise refused(place, value, "a table of keys", schema)
    return read_table(place, value, schema.keys)


def _map(place: str, value: Any, schema: Param) -> dict[str, Any] | str:
    if schema.or_text and isinstance(value, str):
        return value
    if not isinstance(value, Mapping):
        raise refused(place, value, f"a table of {_plural(schema.item, 2)}", schema)
    own = schema.of or Param("any")
    return {name: convert(f"{place}: {name}", entry, own) for name, entry in value.items()}


def read_table(place: str, table: Mapping[str, Any], params: Mapping[str, Param]) -> dict[str, Any]:
    """Return the keys that a table gives, converted; keys left out stay out.

    Raises: ParameterError for an unknown or missing key, or a value that is not what it must be
    """
    check_keys(place, table, params)
    return {name: convert(f"{place}: {name}", value, params[name]) for name, value in table.items()}


def check_keys(place: str, table: Mapping[str, Any], params: Mapping[str, Param]) -> None:
    """Raise ParameterError for a key that is not known, with the nearest one, or one that is missing."""
    for name in table:
        if name not in params:
            raise ParameterError(f"{place}: unknown key {_named(name)}; {nearest(str(name)[:60], params)}")
    for name, schema in params.items():
        if schema.required and name not in table:
            hint = "; ".join(part for part in (schema.doc, schema.remedy) if part)
            raise ParameterError(f"{place}: key '{name}' is missing; give {name}=… ({hint})")


def _named(name: Any) -> str:
    text = str(name)
    return f"'{text if len(text) <= 60 else text[:57] + '…'}'"


_CONVERT: dict[str, Callable[[str, Any, Param], Any]] = {
    "whole": numbers.whole,
    "number": numbers.number,
    "exact": numbers.exact,
    "choice": words.choice,
    "switch": words.switch,
    "taps": numbers.taps,
    "aspect": numbers.aspect,
    "file": words.file,
    "text": words.text,
    "free": words.free,
    "date": words.date,
    "list": _list,
    "row": _row,
    "table": _table,
    "map": _map,
    "any": _any,
}
