"""The TOML form of a chain: a `name`, `[[stage]]` tables with `kind` and the keys of the text, and dials.

A `[[dial]]` table says what a control of the box sets: `key` (``position.lines``), its `steps` as a list
or as `first`, `last` and `step`, and what the box calls it (`label`). The text form has no dials.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import Any

from scalesim.chain.dial import Dial, make_dial, range_of, spaced
from scalesim.chain.text import make_stage
from scalesim.core.limits import STAGES
from scalesim.errors import ParameterError
from scalesim.schema import Exact, Param, changed_keys, key_text, read_table, toml_document
from scalesim.stages import Stage

CHAIN = {
    "name": Param("text", default="", fewest=0, doc="what the chain is called"),
    "stage": Param("any", doc="what each box does, in series"),
    "dial": Param("any", optional=True, doc="what the controls of a box set"),
}
"""The keys of a chain's file; its stages and dials are checked table by table."""

DIAL = {
    "key": Param("text", doc="the key a control sets", remedy='such as "position.lines"'),
    "label": Param("text", default="", fewest=0, doc="what the box calls it"),
    "steps": Param(
        "list", of=Param("any"), optional=True, fewest=0, item="value", doc="the values, in order"
    ),
    "first": Param("exact", optional=True, doc="instead of steps: the first value"),
    "last": Param("exact", optional=True, doc="the last value"),
    "step": Param("exact", optional=True, doc="the distance of two values"),
}
"""The keys of a `[[dial]]` table."""


def parse_toml(text: str) -> tuple[str, list[Stage], list[Dial]]:
    """Return (name or "", stages, dials) of a chain written in TOML.

    Raises: ParameterError naming the place
    """
    document = toml_document(text, "chain file", "the sample chains")
    given = read_table("chain file", {"stage": [], **document}, CHAIN)
    name = given.get("name", "")
    tables = document.get("stage", [])
    if not isinstance(tables, list) or not tables:
        raise ParameterError(
            'chain file has no [[stage]] table; add one with kind = "line-drop" and lines = 240'
        )
    if len(tables) > STAGES:
        raise ParameterError(f"chain file has {len(tables)} stages; at most {STAGES}")
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
    keys = read_table(place, table, DIAL)
    try:
        return make_dial(stages, keys["key"], _steps(place, keys), keys.get("label", ""))
    except ParameterError as error:
        text = str(error)
        raise ParameterError(text if text.startswith(place) else f"{place}: {text}") from None


def _steps(place: str, table: Mapping[str, Any]) -> Sequence[Any]:
    span = [name for name in ("first", "last", "step") if name in table]
    steps: Sequence[Any] | None = table.get("steps")
    if steps is not None and span:
        raise ParameterError(f"{place}: steps is given beside {', '.join(span)}; give one or the other")
    if steps is not None:
        return steps
    if len(span) < 3:
        raise ParameterError(f"{place}: give steps = [0, 0.25, 0.5], or first, last and step")
    return spaced(table["first"], table["last"], table["step"], place)


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
    if isinstance(value, Fraction):
        whole = isinstance(value, Exact) and value.denominator == 1
        return int(value) if whole else key_text(value)
    return value
