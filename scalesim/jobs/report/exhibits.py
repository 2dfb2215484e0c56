"""What is placed, numbered: each item under a name of its own, and where it comes from told below it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from scalesim.jobs.report.article import Article, word_of
from scalesim.jobs.report.choose import chosen, origin_of
from scalesim.jobs.report.faults import Fault, faults_of
from scalesim.jobs.report.reference import Reference
from scalesim.plot import Plot
from scalesim.result import Cell, Exhibit, Layer, Links, Picture, Plate, Result, Table, Viewer


@dataclass(frozen=True, eq=False)
class Placed:
    """A reference and what stands in its place; `exhibit` is None for what has no number.

    `faults` are the outlines at fault in its pictures, on their source.
    """

    asked: Reference
    exhibit: Exhibit | None
    items: tuple[Any, ...]
    faults: tuple[Fault, ...] = ()


def placed(article: Article, answers: Mapping[str, Result]) -> tuple[Placed, ...]:
    """Return what an article places, in its order.

    Parameters:  answers : place as the article writes it -> the answer there
    Raises: ParameterError, with the line of the article, for what an answer does not have
    """
    counts = {"Figure": 0, "Table": 0}
    found = []
    for asked in article.references:
        answer = answers[asked.place]
        items, own = chosen(asked, answer, f"{article.name} line {asked.line}")
        word = word_of(asked)
        if not word:
            found.append(Placed(asked, None, items))
            continue
        counts[word] += 1
        anchor = f"{word.lower()}-{counts[word]}"
        exhibit = Exhibit(
            word,
            counts[word],
            anchor,
            _ended(asked.caption or own),
            origin_of(asked, answer),
            tuple(_own(item, anchor, place) for place, item in enumerate(items)),
        )
        found.append(Placed(asked, exhibit, (), faults_of(asked, answer, items)))
    return tuple(found)


def _ended(caption: str) -> str:
    """Return a caption as a sentence."""
    return caption if caption.endswith((".", "!", "?", "…")) else f"{caption}."


def _own(item: Any, anchor: str, place: int) -> Any:
    """Return an item under a name that no other in the article has, without buttons to what is not here."""
    stem = f"{anchor}-{'abcdefghijklmnopqrstuvwxyz'[place % 26]}{place // 26 or ''}"
    if isinstance(item, Picture):
        return replace(item, name=f"pictures/{stem}", shown="", whole=None, figures=_closed(item.figures))
    if isinstance(item, Plot):
        return replace(item, name=anchor)
    if isinstance(item, Table):
        return replace(
            item,
            columns=_closed(item.columns),
            rows=tuple(_closed(row) for row in item.rows),
            folded=False,
        )
    if isinstance(item, Viewer):
        return replace(item, layers=tuple(_layer(layer, stem) for layer in item.layers))
    if isinstance(item, Plate):
        return _plate(item, anchor)
    return item


def _closed(cells: Any) -> tuple[Any, ...]:
    """Return cells that open nothing: what they rest on is on another page."""
    return tuple(replace(each, opens="") if isinstance(each, Cell) else each for each in cells)


def _layer(layer: Layer, stem: str) -> Layer:
    name = f"pictures/{stem}-{_stem(layer.name)}"
    fields = tuple(
        (replace(picture, name=f"pictures/{stem}-{_stem(picture.name)}"), box)
        for picture, box in layer.fields
    )
    return replace(layer, name=name, fields=fields)


def _plate(plate: Plate, anchor: str) -> Plate:
    """Return a plate whose pictures have names of their own; its stills are this article's."""
    panels = tuple(
        replace(
            panel,
            picture=replace(panel.picture, name=f"pictures/{anchor}-{letter}"),
            figures=_closed(panel.figures),
        )
        for letter, panel in zip("abcd", plate.panels, strict=False)
    )
    small = plate.locator and replace(plate.locator, name=f"pictures/{anchor}-whole")
    stills = Links(
        "As a still for a video edit:",
        tuple((f"stills/{anchor}-{height}.png", words) for height, words in STILLS),
    )
    return replace(plate, panels=panels, locator=small, stills=stills, card="")


STILLS = ((1080, "1920x1080"), (2160, "3840x2160"))


def _stem(name: str) -> str:
    return name.rpartition("/")[2]
