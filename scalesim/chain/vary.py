"""What to try: a key's address and the values to go through, from text or Python.

Text: ``position.lines=-4:4:0.125`` (first:last:step, both ends included, fractions such as 1/8 allowed)
or ``fit.how=squeeze|crop``. Python: ``{"position.lines": (-4, 4, 1/8)}``, a tuple of first, last and
step, or a list of the values themselves.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from scalesim.chain.dial import settled, spaced
from scalesim.chain.keys import find_key
from scalesim.errors import ParameterError
from scalesim.stages import Stage
from scalesim.texts import echoed


@dataclass(frozen=True)
class Varied:
    """A key and its values in the order they are tried, as the stage holds them.

    Parameters:
        key : the address, such as "position.lines"
        values : at least one, each different
        ordered : whether neighbouring values are alike: numbers that rise or fall
        unit : of the values, "" when they have none
    """

    key: str
    values: tuple[Any, ...]
    ordered: bool
    unit: str = ""


def varied(stages: Sequence[Stage], key: str, values: Iterable[Any]) -> Varied:
    """Return a key with its values checked against the chain.

    Raises: ParameterError naming key, value and limit
    """
    kept = settled(stages, key, values, f"vary {key}")
    schema = find_key(stages, key).schema
    rising = schema.type in ("whole", "number") and all(value is not None for value in kept)
    if rising:
        steps = [b > a for a, b in pairwise(kept)]
        rising = len(set(steps)) <= 1
    return Varied(key, kept, rising, schema.unit)


def parse_vary(
    stages: Sequence[Stage], vary: Mapping[str, Any] | str | Iterable[str], *, most: int | None = None
) -> tuple[Varied, ...]:
    """Return what to vary, from a mapping or from texts ``key=values``.

    Raises: ParameterError for a text that cannot be read, a key the chain does not have or that is given
        twice, more than `most` values of one key, and values that are no range or that the stage does
        not accept
    """
    found: dict[tuple[int, str], Varied] = {}
    for key, spec in _pairs(vary):
        place = find_key(stages, key)
        at = (place.stage, place.key)
        if at in found:
            raise ParameterError(f"vary {key}: is given twice; give all its values once")
        values = list(_values(key, spec, place.schema.type))
        if most is not None and len(values) > most:  # before each of them is checked
            raise ParameterError(
                f"vary {key}: has {len(values)} values; at most {most} unless yes is given "
                "(a larger step, or a shorter range)"
            )
        found[at] = varied(stages, key, values)
    if not found:
        raise ParameterError("vary is empty; name a key and its values, such as position.lines=-4:4:1/8")
    return tuple(found.values())


def _pairs(vary: Any) -> list[tuple[str, Any]]:
    if isinstance(vary, Mapping):
        return list(vary.items())
    pairs = []
    for text in [vary] if isinstance(vary, str) else vary:
        key, equals, spec = text.partition("=") if isinstance(text, str) else ("", "", "")
        if not equals or not spec.strip():
            raise ParameterError(
                f"vary is {text!r}; write key=first:last:step such as position.lines=-4:4:1/8, "
                "or key=value|value"
            )
        pairs.append((key.strip(), spec.strip()))
    return pairs


def _values(key: str, spec: Any, kind: str) -> Iterable[Any]:
    place = f"vary {key}"
    if isinstance(spec, str):
        numeric = kind in ("whole", "number")
        if numeric and ":" in spec:
            return _range(place, spec.split(":"))
        return [value.strip() for value in spec.split("|")]
    if isinstance(spec, tuple):
        return _range(place, spec)
    if isinstance(spec, Iterable) and not isinstance(spec, Mapping | bytes):
        return list(spec)
    return [spec]


def _range(place: str, parts: Sequence[Any]) -> list[float]:
    if len(parts) != 3:
        shown = echoed(":".join(str(part) for part in parts))
        raise ParameterError(
            f"{place}: {shown} is no range; give first, last and step (-4:4:1/8), or the values as a|b|c"
        )
    first, last, step = parts
    return spaced(first, last, step, place)
