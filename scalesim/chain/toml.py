"""The TOML form of a chain: a `name`, `[[stage]]` tables with `kind` and the keys of the text, and dials.

A `[[dial]]` table says what a control of the box sets: `key` (``position.lines``), its `steps` as a list
or as `first`, `last` and `step`, and what the box calls it (`label`). The text form has no dials.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from scalesim.chain.dial import Dial, make_dial, range_of, spaced
from scalesim.chain.text import make_stage
from scalesim.errors import ParameterError, nearest
from scalesim.schema import changed_keys, key_text
from scalesim.stages import Stage

_TOP = ("name", "stage", "dial")
_DIAL = ("key", "label", "steps", "first", "last", "step")


def parse_toml(text: str) -> tuple[str, list[Stage], list[Dial]]:
    """Return (name or "", stages, dials) of a chain written in TOML.

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
    stages = [_stage(f"stage {n} of {len(tables)}", table) for n, table in enumerate(tables, start=1)]
    return name, stages, _dials(stages, document.get("dial", []))


def write_toml(name: str, stages: Sequence[Stage], dials: Sequence[Dial] = ()) -> str:
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
    if dials:
        document["dial"] = tomlkit.aot()
    for dial in dials:
        table = tomlkit.table()
        table.update(_dial_table(dial))
        document["dial"].append(table)
    return tomlkit.dumps(document)


def _stage(place: str, table: Any) -> Stage:
    if not isinstance(table, dict):
        raise ParameterError(f"{place}: is {table!r}; it must be a [[stage]] table")
    keys = dict(table)
    kind = keys.pop("kind", None)
    if not isinstance(kind, str):
        raise ParameterError(f"{place}: kind is {kind!r}; it must be the name of a stage in quotes")
    return make_stage(place, kind, keys)


def _dials(stages: Sequence[Stage], tables: Any) -> list[Dial]:
    if not isinstance(tables, list):
        raise ParameterError(f"chain file: dial is {tables!r}; write [[dial]] tables with key and steps")
    return [_dial(f"dial {n} of {len(tables)}", stages, table) for n, table in enumerate(tables, start=1)]


def _dial(place: str, stages: Sequence[Stage], table: Any) -> Dial:
    if not isinstance(table, dict):
        raise ParameterError(f"{place}: is {table!r}; it must be a [[dial]] table")
    for key in table:
        if key not in _DIAL:
            raise ParameterError(f"{place}: unknown key '{key}'; {nearest(key, _DIAL)}")
    address, label = table.get("key"), table.get("label", "")
    if not isinstance(address, str) or not isinstance(label, str):
        raise ParameterError(f'{place}: key and label must be texts, such as key = "position.lines"')
    try:
        return make_dial(stages, address, _steps(place, table), label)
    except ParameterError as error:
        text = str(error)
        raise ParameterError(text if text.startswith(place) else f"{place}: {text}") from None


def _steps(place: str, table: dict[str, Any]) -> list[Any]:
    span = [name for name in ("first", "last", "step") if name in table]
    steps = table.get("steps")
    if steps is not None and span:
        raise ParameterError(f"{place}: steps is given beside {', '.join(span)}; give one or the other")
    if isinstance(steps, list):
        return steps
    if steps is not None or len(span) < 3:
        raise ParameterError(f"{place}: give steps = [0, 0.25, 0.5], or first, last and step")
    return list(spaced(table["first"], table["last"], table["step"], place))


def _dial_table(dial: Dial) -> dict[str, Any]:
    span = range_of(dial.steps)
    steps: dict[str, Any] = {"steps": [_plain_step(step) for step in dial.steps]}
    if span is not None:
        steps = dict(zip(("first", "last", "step"), map(_plain, span), strict=True))
    label = {"label": dial.label} if dial.label else {}
    return {"key": dial.key, **steps, **label}


def _plain_step(value: Any) -> Any:
    # a list of lists would read as steps within steps: taps stay a text
    return key_text(value) if isinstance(value, tuple) else _plain(value)


def _plain(value: Any) -> Any:
    """Return a settled value as TOML's own types; thirds and aspects as the text form writes them."""
    if isinstance(value, tuple):
        return [int(tap) if tap == int(tap) else tap for tap in value]
    if isinstance(value, float):
        text = key_text(value)
        return text if "/" in text else (int(value) if value == int(value) else value)
    return key_text(value) if isinstance(value, Fraction) else value
