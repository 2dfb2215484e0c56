"""The TOML form of a chain: a `name` and `[[stage]]` tables with `kind` and the same keys as the text."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from scalesim.chain.text import make_stage
from scalesim.errors import ParameterError, nearest
from scalesim.stages import Stage
from scalesim.stages._schema import changed_keys, key_text

_TOP = ("name", "stage")


def parse_toml(text: str) -> tuple[str, list[Stage]]:
    """Return (name or "", stages) of a chain written in TOML.

    Raises: ParameterError naming the place
    """
    try:
        document = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a number or nesting beyond what Python reads, too
        reason = " ".join(str(error).split())
        raise ParameterError(f"chain file is not valid TOML: {reason}; see the sample chains") from None
    for key in document:
        if key not in _TOP:
            raise ParameterError(f"chain file: unknown key '{key}'; {nearest(key, _TOP)}")
    name = document.get("name", "")
    if not isinstance(name, str):
        raise ParameterError(f"chain file: name is {name!r}; it must be a text in quotes")
    tables = document.get("stage", [])
    if not isinstance(tables, list) or not tables:
        raise ParameterError(
            'chain file has no [[stage]] table; add one with kind = "line-drop" and lines = 240'
        )
    return name, [_stage(f"stage {n} of {len(tables)}", table) for n, table in enumerate(tables, start=1)]


def write_toml(name: str, stages: Sequence[Stage]) -> str:
    """Return the TOML form, defaults omitted."""
    import tomlkit

    document = tomlkit.document()
    if name:
        document["name"] = name
    tables = tomlkit.aot()
    for stage in stages:
        table = tomlkit.table()
        table["kind"] = stage.kind
        for key, value in changed_keys(stage).items():
            table[key] = _plain(value)
        tables.append(table)
    document["stage"] = tables
    return tomlkit.dumps(document)


def _stage(place: str, table: Any) -> Stage:
    if not isinstance(table, dict):
        raise ParameterError(f"{place}: is {table!r}; it must be a [[stage]] table")
    keys = dict(table)
    kind = keys.pop("kind", None)
    if not isinstance(kind, str):
        raise ParameterError(f"{place}: kind is {kind!r}; it must be the name of a stage in quotes")
    return make_stage(place, kind, keys)


def _plain(value: Any) -> Any:
    """Return a settled value as TOML's own types; thirds and aspects as the text form writes them."""
    if isinstance(value, tuple):
        return [int(tap) if tap == int(tap) else tap for tap in value]
    if isinstance(value, float):
        text = key_text(value)
        return text if "/" in text else (int(value) if value == int(value) else value)
    return key_text(value) if isinstance(value, Fraction) else value
