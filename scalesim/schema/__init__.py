"""One schema for everything that is given by keys: stages, displays, notes, studies, dials, operator files.

`Param` says what a key accepts; `convert` checks one value; `document` checks a table of them, from
Python, a chain's text, TOML or JSON alike; `json_schema` tells an editor the same.
"""

from scalesim.schema.convert import convert
from scalesim.schema.document import (
    changed_keys,
    files_for,
    files_from,
    from_keys,
    read_table,
    settle,
    toml_document,
)
from scalesim.schema.param import Param, param, params_of
from scalesim.schema.text import Exact, key_text

__all__ = [
    "Exact",
    "Param",
    "changed_keys",
    "convert",
    "files_for",
    "files_from",
    "from_keys",
    "key_text",
    "param",
    "params_of",
    "read_table",
    "settle",
    "toml_document",
]
