"""The same schemas for editors: JSON Schema, draft 2020-12, which TOML editors read too.

It says what can be said of one key at a time. What two keys must agree on, and the range of a number
written as a text ("1/3"), only the program checks.

Source: JSON Schema Core and Validation, draft 2020-12
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from scalesim.schema.param import Param
from scalesim.schema.text import key_text

DIALECT = "https://json-schema.org/draft/2020-12/schema"

_NUMBER_TEXT = r"^\s*[+-]?(\d+/\d+|(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?)\s*$"
_DATE_TEXT = r"^\d{4}(-\d{2}(-\d{2}([T ].*)?)?)?$"
_ASPECT_TEXT = r"^\s*\d{1,6}(\.\d{1,6})?\s*([:/]\s*\d{1,6}(\.\d{1,6})?\s*)?$"
_NOT_BLANK = r"\S"


def table_schema(
    keys: Mapping[str, Param], doc: str = "", example: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """Return the JSON Schema of a table: its keys, those that must be given, and no other."""
    shown = {} if example is None else {"examples": [dict(example)]}
    wanted = [name for name, schema in keys.items() if schema.required]
    return {
        "type": "object",
        **({"description": doc} if doc else {}),
        "properties": {name: value_schema(schema) for name, schema in keys.items()},
        **({"required": wanted} if wanted else {}),
        "additionalProperties": False,
        **shown,
    }


def value_schema(schema: Param) -> dict[str, Any]:
    """Return the JSON Schema of one key's value, its unit and meaning as the description."""
    words = "; ".join(part for part in (schema.doc, schema.remedy) if part)
    unit = f" [{schema.unit}]" if schema.unit else ""
    about = {"description": words + unit} if words or unit else {}
    default = {} if not _has_default(schema) else {"default": _plain(schema.default)}
    return {**about, **_OF[schema.type](schema), **default}


def document(title: str, body: Mapping[str, Any]) -> dict[str, Any]:
    """Return a JSON Schema that stands alone."""
    return {"$schema": DIALECT, "title": title, **body}


def list_of(table: dict[str, Any], parts: Mapping[str, dict[str, Any]]) -> dict[str, Any]:
    """Return a table whose `parts` are lists of tables that the program checks one by one."""
    lists = {
        name: {**table["properties"][name], "type": "array", "items": part, "minItems": _fewest(table, name)}
        for name, part in parts.items()
    }
    return {**table, "properties": {**table["properties"], **lists}}


def _fewest(table: dict[str, Any], name: str) -> int:
    return int(name in table.get("required", []))


def kinds_schema(
    kinds: Mapping[str, Mapping[str, Param]], docs: Mapping[str, str], examples: list[dict[str, Any]]
) -> dict[str, Any]:
    """Return the JSON Schema of a table whose `kind` says which keys it has.

    Parameters:  kinds : kind -> its keys; docs : kind -> what it does; examples : whole tables
    """
    return {
        "type": "object",
        "properties": {"kind": {"enum": list(kinds), "description": "which of these it is"}},
        "required": ["kind"],
        "allOf": [
            {
                "if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]},
                "then": _of_kind(kind, table_schema(keys, docs.get(kind, ""))),
            }
            for kind, keys in kinds.items()
        ],
        "examples": examples,
    }


def _of_kind(kind: str, table: dict[str, Any]) -> dict[str, Any]:
    return {**table, "properties": {"kind": {"const": kind}, **table["properties"]}}


def _has_default(schema: Param) -> bool:
    return not schema.required and schema.default is not None and not schema.optional


def _plain(value: Any) -> Any:
    """Return a default in JSON's own types."""
    if isinstance(value, Fraction):
        return key_text(value)
    return [_plain(part) for part in value] if isinstance(value, tuple) else value


def _number(schema: Param) -> dict[str, Any]:
    limits = {"minimum": schema.at_least, "exclusiveMinimum": schema.above, "maximum": schema.at_most}
    kind = "integer" if schema.type == "whole" else "number"
    plain = {"type": kind, **{name: limit for name, limit in limits.items() if limit is not None}}
    return plain if schema.bare else {"anyOf": [plain, {"type": "string", "pattern": _NUMBER_TEXT}]}


def _choice(schema: Param) -> dict[str, Any]:
    return {"enum": list(schema.choices)}


def _switch(schema: Param) -> dict[str, Any]:
    return {"enum": [True, False, "on", "off"]}


def _taps(schema: Param) -> dict[str, Any]:
    number = _number(Param("number"))
    words = {"enum": list(schema.choices)}
    joined = {"type": "string", "pattern": r"^\s*[^/\s]+(\s*/\s*[^/\s]+)*\s*$"}
    taps = {"type": "array", "items": number, "minItems": 1, "maxItems": 255}
    return {"anyOf": [words, {"type": "number"}, taps, joined], "examples": ["1/2/1", [1, 2, 1]]}


def _aspect(schema: Param) -> dict[str, Any]:
    if schema.choices:
        return {"enum": list(schema.choices)}
    number = {"type": "number", "minimum": 0.25, "maximum": 4}
    return {"anyOf": [{"type": "string", "pattern": _ASPECT_TEXT}, number], "examples": ["4:3", "16:9"]}


def _text(schema: Param) -> dict[str, Any]:
    return {"type": "string", **({"pattern": _NOT_BLANK} if schema.fewest else {})}


def _free(schema: Param) -> dict[str, Any]:
    return {"type": ["string", "number", "boolean"]}


def _date(schema: Param) -> dict[str, Any]:
    return {"type": "string", "pattern": _DATE_TEXT, "examples": ["2024-03-05", "2024-03"]}


def _any(schema: Param) -> dict[str, Any]:
    return {}


def _list(schema: Param) -> dict[str, Any]:
    most = {} if schema.most is None else {"maxItems": schema.most}
    entries = {"items": value_schema(schema.of)} if schema.of else {}
    plain = {"type": "array", **entries, "minItems": schema.fewest, **most}
    return _or_text(schema, plain)


def _row(schema: Param) -> dict[str, Any]:
    places = [value_schema(own) for own in schema.keys.values()]
    return {"type": "array", "prefixItems": places, "items": False, "minItems": len(places)}


def _table(schema: Param) -> dict[str, Any]:
    return table_schema(schema.keys)


def _map(schema: Param) -> dict[str, Any]:
    entries = {"additionalProperties": value_schema(schema.of)} if schema.of else {}
    return _or_text(schema, {"type": "object", **entries})


def _or_text(schema: Param, plain: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [plain, {"type": "string"}]} if schema.or_text else plain


_OF: dict[str, Callable[[Param], dict[str, Any]]] = {
    "whole": _number,
    "number": _number,
    "exact": _number,
    "choice": _choice,
    "switch": _switch,
    "taps": _taps,
    "aspect": _aspect,
    "file": _text,
    "text": _text,
    "free": _free,
    "date": _date,
    "list": _list,
    "row": _row,
    "table": _table,
    "map": _map,
    "any": _any,
}
