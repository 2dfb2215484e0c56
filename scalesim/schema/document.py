"""Tables of keys: records made from them, the keys that a record writes, and the files they name."""

from __future__ import annotations

import dataclasses
import os
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import MISSING
from pathlib import Path
from typing import Any, TypeVar

from scalesim.errors import ParameterError
from scalesim.schema.convert import check_keys, convert
from scalesim.schema.convert import read_table as read_table
from scalesim.schema.param import params_of

R = TypeVar("R")


def settle(record: Any, place: str | None = None) -> None:
    """Convert and check every key of a freshly made record; called from `__post_init__`.

    Parameters:  place : what begins an error; the record's `kind` when left out
    Raises: ParameterError naming place, key, value, limit and remedy
    """
    for name, schema in params_of(record).items():
        value = getattr(record, name)
        if value is None and schema.optional:
            continue
        begin = record.kind if place is None else place
        object.__setattr__(record, name, convert(f"{begin}: {name}", value, schema))


def from_keys(record_class: Any, keys: Mapping[str, Any], place: str | None = None) -> Any:
    """Make a stage, display … from a mapping of keys.

    Raises: ParameterError for an unknown or missing key, or a value outside its range
    """
    check_keys(record_class.kind if place is None else place, keys, params_of(record_class))
    return record_class(**keys)


def changed_keys(record: Any) -> dict[str, Any]:
    """Return the keys whose values differ from their defaults, in the order they are written."""
    return {
        field.name: getattr(record, field.name)
        for field in dataclasses.fields(record)
        if field.default is MISSING or getattr(record, field.name) != field.default
    }


def files_from(record: R, folder: str | Path) -> R:
    """Return a record read from a document in `folder`, its files named from the working folder.

    A document names files relative to itself, so that it can be moved together with them. Names have forward
    slashes on every system, so that a chain's text is the same.
    """
    return _with_files(record, lambda name: (Path(folder) / name).as_posix())


def files_for(record: R, folder: str | Path) -> R:
    """Return a record as a document in `folder` writes it: its files named relative to that folder."""

    def relative(name: str) -> str:
        try:
            return Path(os.path.relpath(name, folder)).as_posix()
        except ValueError:  # another drive has no relative name
            return str(Path(name).absolute())

    return _with_files(record, lambda name: name if Path(name).is_absolute() else relative(name))


def _with_files(record: R, rename: Callable[[str], str]) -> R:
    names = {
        name: rename(getattr(record, name))
        for name, schema in params_of(record).items()
        if schema.type == "file" and getattr(record, name) is not None
    }
    return dataclasses.replace(record, **names) if names else record  # type: ignore[type-var]  # a dataclass


def toml_document(text: str, what: str, otherwise: str) -> dict[str, Any]:
    """Return the tables of a TOML text; raise ParameterError saying `what` it ought to be.

    Parameters:  what : such as "chain file"; otherwise : where to see a good one
    """
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # a number or nesting beyond what Python reads, too
        reason = " ".join(str(error).split())
        raise ParameterError(f"{what} is not valid TOML: {reason}; see {otherwise}") from None
