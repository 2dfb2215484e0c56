"""Keys by their address: ``position.lines``, or ``line-drop#2.phase`` for the second of a kind.

One way to name any key of any stage of a chain, for a sweep, a dial of a box, or a slider. Values go
through the stage's own schema, so an address can set nothing a chain's text could not.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from scalesim.errors import ParameterError, nearest
from scalesim.schema import Param, params_of
from scalesim.stages import STAGES, Stage

_ADDRESS = re.compile(r"([^\s.#=]+)(?:#(\d{1,3}))?\.([^\s.#=]+)")

_VARIES = ("whole", "number", "choice", "switch", "taps", "aspect")
"""Types of keys that have values to go through; a file's name has none."""


@dataclass(frozen=True)
class Address:
    """A key of one stage of a chain.

    Parameters:
        stage : the stage's place in the chain, 0 for the first
        key : the key's name
        schema : what it accepts
    """

    stage: int
    key: str
    schema: Param


def find_key(stages: Sequence[Stage], address: str) -> Address:
    """Return where ``kind.key`` or ``kind#2.key`` stands in a chain; without a number it is the first.

    Raises: ParameterError for what is no address, a kind the chain does not have, an unknown key, or a
        key that cannot vary; each with what would do
    """
    match = _ADDRESS.fullmatch(address.strip()) if isinstance(address, str) else None
    if match is None:
        raise ParameterError(
            f"key {address!r} is no address; write kind.key such as position.lines, "
            "or kind#2.key for the second of a kind"
        )
    kind, number, key = match[1], int(match[2] or 1), match[3]
    place = _place(stages, address.strip(), kind, number)
    schemas = params_of(stages[place])
    if key not in schemas:
        raise ParameterError(f"{address}: unknown key '{key}' of {kind}; {nearest(key, schemas)}")
    if schemas[key].type not in _VARIES:
        able = [name for name, schema in schemas.items() if schema.type in _VARIES]
        raise ParameterError(
            f"{address} cannot vary: it is a {schemas[key].type}; vary {' or '.join(able) or 'another stage'}"
        )
    return Address(place, key, schemas[key])


def get_key(stages: Sequence[Stage], address: str) -> Any:
    """Return the value a key has now (None for an optional one left out)."""
    found = find_key(stages, address)
    return getattr(stages[found.stage], found.key)


def with_stage_keys(stages: Sequence[Stage], values: Mapping[str, Any]) -> tuple[Stage, ...]:
    """Return the stages with some keys changed; each value is checked as the stage checks it.

    Raises: ParameterError as `find_key` does, or naming stage, key, value and limit
    """
    changes: dict[int, dict[str, Any]] = {}
    for address, value in values.items():
        found = find_key(stages, address)
        changes.setdefault(found.stage, {})[found.key] = value
    out = list(stages)
    for place, keys in changes.items():
        out[place] = replace(out[place], **keys)
    return tuple(out)


def _place(stages: Sequence[Stage], address: str, kind: str, number: int) -> int:
    places = [place for place, stage in enumerate(stages) if stage.kind == kind]
    if 1 <= number <= len(places):
        return places[number - 1]
    if kind not in STAGES:
        raise ParameterError(f"{address}: unknown kind '{kind}'; {nearest(kind, STAGES)}")
    present = list(dict.fromkeys(stage.kind for stage in stages))
    if places:
        raise ParameterError(
            f"{address}: the chain has {len(places)} {kind}, so # must be 1 to {len(places)}"
        )
    raise ParameterError(
        f"{address}: the chain has no {kind}; add one where the box does it, or name a key of "
        + ", ".join(present)
    )
