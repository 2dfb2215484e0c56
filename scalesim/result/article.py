"""What only a write-up shows: the author's words, and exhibits of earlier answers, numbered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Prose:
    """Words of an author, as a page and as a text hold them; nothing in them is escaped any more.

    Parameters:
        html : markup that is known to be harmless: made by a parser that escapes every tag in the source
        markdown : the same, for a text
    """

    html: str
    markdown: str


@dataclass(frozen=True)
class Quote:
    """What an earlier answer found, in its own sentences; `origin` says which, in small letters."""

    sentences: tuple[str, ...]
    origin: str


@dataclass(frozen=True, eq=False)
class Exhibit:
    """A numbered figure or table of a write-up.

    Parameters:
        word, number : "Figure" or "Table", and which, from 1
        anchor : its place in a page, unique there
        caption : plain words
        origin : where it comes from, in small letters
        items : what it shows: pictures, a plot, a table, a viewer, or a plate
    """

    word: str
    number: int
    anchor: str
    caption: str
    origin: str
    items: tuple[Any, ...]

    @property
    def name(self) -> str:
        """What the text calls it."""
        return f"{self.word} {self.number}"


@dataclass(frozen=True, eq=False)
class Sheet:
    """A plot or table to be drawn as stills for a video edit.

    Parameters:
        name : stem of its files; title : stands above
        caption, foot : below, the second in small letters
        item : what is drawn, a `Plot` or a `Table`
    """

    name: str
    title: str
    caption: str
    foot: str
    item: Any


def within(items: Iterable[Any]) -> Iterator[Any]:
    """Yield items with an exhibit's own in its place."""
    for item in items:
        if isinstance(item, Exhibit):
            yield from item.items
        else:
            yield item
