"""An answer's parts with their large pictures put away: what the page and the text are written from.

Parts come one at a time, and each one's pictures are handed to a store before the next is made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.marks import strokes_of
from scalesim.draw.views import cut
from scalesim.figure import Figure
from scalesim.page.arranged import part_of
from scalesim.page.sheets import sheet_picture
from scalesim.page.stills import SIZES, card_picture, locator, still_picture
from scalesim.result import (
    Box,
    Cell,
    Exhibit,
    Item,
    Layer,
    Links,
    Part,
    Picture,
    Plate,
    PlatePanel,
    Sheet,
    Viewer,
)


class Store(Protocol):
    """Where pictures go, by name."""

    def add(self, name: str, values: NDArray[Any], palette: Sequence[tuple[int, int, int]] = ()) -> None:
        """Keep a picture."""

    def image(self, name: str) -> str:
        """Return what an `img` shows."""

    def source(self, name: str) -> str | dict[str, str]:
        """Return what the viewer loads."""


_GONE = np.zeros((0, 0, 3), np.uint8)
"""Stands for the values of a picture that is in the store."""


def kept(part: Part, store: Store) -> Part:
    """Return a part whose pictures are in the store; stills become links to one picture of each size."""
    return replace(part, items=tuple(each for item in part.items for each in _kept(item, store)))


def _kept(item: Item, store: Store) -> list[Item]:
    if isinstance(item, Picture):
        return [_picture(item, store)]
    if isinstance(item, Viewer):
        return [replace(item, layers=tuple(_layer(layer, store) for layer in item.layers))]
    if isinstance(item, Figure | Sheet):
        return [_stills(item, store)]
    if isinstance(item, Plate):
        return [_shown(item, store)]
    if isinstance(item, Exhibit):
        return [replace(item, items=tuple(each for one in item.items for each in _kept(one, store)))]
    return [item]


def _picture(picture: Picture, store: Store) -> Picture:
    values = picture.values() if callable(picture.values) else picture.values
    store.add(picture.name, values)
    if picture.whole is not None:
        store.add(picture.shown, picture.whole() if callable(picture.whole) else picture.whole)
    size = picture.size or (int(values.shape[0]), int(values.shape[1]))
    return replace(picture, values=_GONE, whole=None, size=size)


def _layer(layer: Layer, store: Store) -> Layer:
    values = layer.values() if callable(layer.values) else layer.values
    store.add(layer.name, values, layer.palette)
    fields = tuple((_picture(picture, store), place) for picture, place in layer.fields)
    return replace(layer, values=_GONE, fields=fields)


def _stills(shown: Figure | Sheet, store: Store) -> Links:
    """Return links: a still is as large as a screen, and a page must be whole without files beside it."""
    links = []
    for size in SIZES:
        name = f"{shown.name}-{size[1]}"
        drawn = sheet_picture(shown, size) if isinstance(shown, Sheet) else still_picture(shown, size)
        store.add(name, drawn)
        links.append((f"{name}.png", f"{size[0]}x{size[1]}"))
    return Links(f"A still for a video edit, “{shown.title}”:", tuple(links))


_ROOMS = {1: (330, 820), 2: (330, 600), 3: (300, 400), 4: (300, 296)}
"""(height, width) in dots of each panel, by their number: what the first screen of a page has room for."""
_LOCATOR = 96


def kept_cover(cover: Figure | Plate | None, store: Store) -> Plate | None:
    """Return what opens a page with its pictures in the store; of a saved answer it is drawn already."""
    if isinstance(cover, Figure):
        return _plate(cover, store)
    return None if cover is None else _shown(cover, store)


def _shown(plate: Plate, store: Store) -> Plate:
    """Return a plate that is drawn already, with its pictures in the store."""
    panels = tuple(replace(each, picture=_picture(each.picture, store)) for each in plate.panels)
    return replace(
        plate, panels=panels, locator=None if plate.locator is None else _picture(plate.locator, store)
    )


def _plate(figure: Figure, store: Store) -> Plate:
    """Return a figure as its page shows it, with its stills and the picture for links in the store."""
    window, zoom = part_of(figure, _ROOMS[len(figure.views)])
    panels = []
    for letter, view in zip("abcd", figure.views, strict=False):
        shown = Picture(f"pictures/{_stem(figure)}-{letter}", cut(view, window, zoom), view.label)
        marks = tuple((each.points, each.filled, each.quiet) for each in strokes_of(view, window, zoom))
        figures = tuple(Cell(text, opens=opens) for text, opens in view.opens)
        panels.append(PlatePanel(_picture(shown, store), view.said, zoom.words(view), marks, figures))
    located = locator(figure, window, _LOCATOR)
    small = frame = None
    if located is not None:
        dots, (x, y, width, height) = located
        said = "the whole picture; the frame is the part above"
        small = _picture(Picture(f"pictures/{_stem(figure)}-whole", dots, alt=said), store)
        frame = Box(x, y, width, height)
    card = f"{figure.name.rpartition('/')[0]}/card"
    store.add(card, card_picture(figure))
    stills = replace(_stills(figure, store), text="As a still for a video edit:")
    return Plate(figure.title, figure.caption, figure.mark_words, tuple(panels), small, frame, stills, card)


def _stem(figure: Figure) -> str:
    return figure.name.rpartition("/")[2]
