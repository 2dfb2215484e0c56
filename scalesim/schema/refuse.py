"""What an error says of a value that is refused."""

from __future__ import annotations

from typing import Any

from scalesim.errors import ParameterError, nearest
from scalesim.schema.param import Param

_MOST_SHOWN = 60


def shown(value: Any, *, quoted: bool = False) -> str:
    """Return a refused value for an error: at most 60 characters, words in quotes.

    Parameters:  quoted : numbers written as texts are quoted too, where only a number will do
    """
    word = isinstance(value, str) and (quoted or not any(ch.isdigit() for ch in value))
    try:
        text = repr(value) if word else str(value)
    except (ValueError, RecursionError):  # Python writes no whole number of more than 4300 digits
        return "a number of thousands of digits"
    return text if len(text) <= _MOST_SHOWN else text[: _MOST_SHOWN - 3] + "…"


def refused(place: str, value: Any, limit: str, schema: Param) -> ParameterError:
    """Return the error for a value that is not what it must be."""
    remedy = f" ({schema.remedy})" if schema.remedy else ""
    said = shown(value, quoted=schema.bare)
    return ParameterError(f"{place} is {said}; it must be {limit}{remedy}")


def unknown_word(place: str, value: Any, schema: Param) -> ParameterError:
    """Return the error for a word that is none of the valid ones."""
    valid = "valid: " + ", ".join(schema.choices)
    hint = nearest(value, schema.choices) if isinstance(value, str) else valid
    remedy = f" ({schema.remedy})" if schema.remedy else ""
    return ParameterError(f"{place} is {shown(value, quoted=schema.bare)}; {hint}{remedy}")
