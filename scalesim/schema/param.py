"""`Param`: what one key accepts, with its unit, range, default and meaning."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import MISSING, dataclass
from typing import Any, Literal

ParamType = Literal[
    "whole",
    "number",
    "exact",
    "choice",
    "switch",
    "taps",
    "aspect",
    "file",
    "text",
    "free",
    "date",
    "list",
    "row",
    "table",
    "map",
    "any",
]


@dataclass(frozen=True)
class Param:
    """What a key accepts.

    Parameters:
        type : "whole", "number", "exact" (a number kept as a `Fraction`), "choice", "switch", "taps",
            "aspect", "file", "text", "free" (a text, number, switch or date, kept as given), "date",
            "list" (entries of one kind), "row" (a list whose places have names), "table", "map" (a table
            of free names) or "any" (checked elsewhere)
        unit, doc : for people; `remedy` ends the error for a bad value
        at_least, above, at_most : range of a number
        choices : valid words of a choice, or of an aspect; words that taps may be instead of numbers
        optional : None stands for "not given"
        default : value of a key left out; without one (...) the key must be given, unless it is optional
        bare : a number must be written as one: "3" in quotes is refused
        or_text : a text will do: a list's with commas between, a map's as it stands
        of : what the entries of a list or map accept; `item` is what one is called, `first` its number
        keys : what the keys of a table, or the places of a row, accept
        fewest, most : entries of a list; a text with `fewest` 0 may be empty
    """

    type: ParamType
    unit: str = ""
    at_least: float | None = None
    above: float | None = None
    at_most: float | None = None
    choices: tuple[str, ...] = ()
    optional: bool = False
    doc: str = ""
    remedy: str = ""
    default: Any = ...
    bare: bool = False
    or_text: bool = False
    of: Param | None = None
    item: str = "entry"
    first: int = 1
    keys: Mapping[str, Param] = dataclasses.field(default_factory=dict)
    fewest: int = 1
    most: int | None = None

    @property
    def required(self) -> bool:
        """Whether the key must be given."""
        return self.default is ... and not self.optional


def param(default: Any = MISSING, *, type: ParamType = "number", doc: str = "", **limits: Any) -> Any:
    """Return a dataclass field holding a `Param`; a default of None makes the key optional."""
    given = ... if default is MISSING else default
    schema = Param(type=type, doc=doc, optional=default is None, default=given, **limits)
    return dataclasses.field(default=default, metadata={"param": schema})


def params_of(record: Any) -> dict[str, Param]:
    """Return the keys of a stage, display … (class or instance) and their schemas, in written order."""
    return {field.name: field.metadata["param"] for field in dataclasses.fields(record)}
