"""The head of an article: a few keys in TOML between two lines `+++`."""

from __future__ import annotations

from typing import Any

from scalesim.errors import ParameterError
from scalesim.schema import Param, read_table, toml_document

FENCE = "+++"

HEAD = {
    "title": Param("text", doc="heading of the page"),
    "author": Param("text", fewest=0, default="", doc="who wrote it; said under the title"),
    "date": Param("date", optional=True, doc="when; likewise"),
    "summary": Param("text", fewest=0, default="", doc="a sentence or two that open the page"),
    "versions": Param(
        "list",
        of=Param("text"),
        item="version",
        fewest=0,
        default=(),
        doc="other versions of scalesim whose results may be placed, beside this one's",
        remedy='versions = ["0.1.0"]',
    ),
}
"""What an article may say of itself before its first word."""


def split_head(text: str, name: str) -> tuple[dict[str, Any], str, int]:
    """Return an article's head, the text below it, and the number of that text's first line.

    Parameters:  text : of the whole file; name : of it, for errors
    Raises: ParameterError for a head that is missing, never ends, or is refused by the schema
    """
    lines = text.splitlines()
    if not lines or lines[0].strip() != FENCE:
        raise ParameterError(
            f'{name}: has no head; begin it with a line {FENCE}, then title = "…", then a line {FENCE}'
        )
    for number, line in enumerate(lines[1:], start=1):
        if line.strip() == FENCE:
            own = "\n".join(("", *lines[1:number]))  # its lines are those of the file, for errors
            table = toml_document(own, f"{name}: its head", "the example in the README")
            return (
                _whole(read_table(f"{name}: head", table, HEAD)),
                "\n".join(lines[number + 1 :]),
                number + 2,
            )
    raise ParameterError(f"{name}: its head never ends; close it with a line {FENCE}")


def _whole(given: dict[str, Any]) -> dict[str, Any]:
    """Return the head with the defaults of what was left out."""
    return {key: given.get(key, None if schema.optional else schema.default) for key, schema in HEAD.items()}
