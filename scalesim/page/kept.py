"""An answer's parts with their large pictures put away: what the page and the text are written from.

Parts come one at a time, and each one's pictures are handed to a store before the next is made.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from scalesim.page.stills import SIZES, still_picture
from scalesim.result import Item, Layer, Part, Picture, Still, Viewer


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
    """Return a part whose pictures are in the store; stills become pictures, one for each size."""
    return replace(part, items=tuple(each for item in part.items for each in _kept(item, store)))


def _kept(item: Item, store: Store) -> list[Item]:
    if isinstance(item, Picture):
        return [_picture(item, store)]
    if isinstance(item, Viewer):
        return [replace(item, layers=tuple(_layer(layer, store) for layer in item.layers))]
    if isinstance(item, Still):
        return [_still(item, size, store) for size in SIZES]
    return [item]


def _picture(picture: Picture, store: Store) -> Picture:
    values = picture.values() if callable(picture.values) else picture.values
    store.add(picture.name, values)
    if picture.whole is not None:
        store.add(picture.shown, picture.whole)
    size = picture.size or (int(values.shape[0]), int(values.shape[1]))
    return replace(picture, values=_GONE, whole=None, size=size)


def _layer(layer: Layer, store: Store) -> Layer:
    values = layer.values() if callable(layer.values) else layer.values
    store.add(layer.name, values, layer.palette)
    fields = tuple((_picture(picture, store), place) for picture, place in layer.fields)
    return replace(layer, values=_GONE, fields=fields)


def _still(still: Still, size: tuple[int, int], store: Store) -> Picture:
    name = f"{still.name}-{size[1]}"
    store.add(name, still_picture(still, size))
    said = f"{still.title}, {size[0]}x{size[1]}"
    return Picture(name, _GONE, still.title, said, size=(size[1], size[0]), beside=True)
