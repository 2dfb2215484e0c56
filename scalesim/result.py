"""What every job returns, so that terminal, JSON and page need no renderer of their own for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

SCHEMA = 1
"""Version of the documents' keys; it grows when a key changes its meaning or goes away."""


@dataclass(frozen=True)
class Table:
    """A titled table of texts; `align` has one of "left" or "right" per column."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    align: tuple[str, ...] = ()


class Document(Protocol):
    """Anything that can be written as a result's document."""

    @property
    def kind(self) -> str:
        """The command that gives it, such as "predict"."""

    def to_dict(self) -> dict[str, Any]:
        """Return the document's own keys: plain numbers, texts, lists; None where a value cannot be had."""


class Result(Document, Protocol):
    """The finished answer of a job."""

    @property
    def pictures(self) -> Mapping[str, Any]:
        """Name -> (lines, samples, 3) code values, to be written pixel-exact as `<name>.png`."""

    def sentences(self) -> list[str]:
        """Return what was found, in a reviewer's words."""

    def table(self) -> Table:
        """Return the numbers with their units."""
