"""Linked pictures as data: layers, places, the weights behind a slice, and what a number rests on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from scalesim.result.items import Box, Picture

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True)
class Taps:
    """What the lines of a picture are made of: line i is patterns[use[i]] times the source's from first[i]

    Parameters:
        patterns, use, first : as above; all () where the lines are no fixed mixture
        encoding : what is mixed: "code" values, "light", or "any" for choices
    """

    patterns: tuple[tuple[float, ...], ...]
    use: tuple[int, ...]
    first: tuple[int, ...]
    encoding: str


@dataclass(frozen=True, eq=False)
class Layer:
    """A picture of a viewer, with its place.

    Parameters:
        id : unique in its viewer
        values : as of a `Picture`; with a palette, (lines, samples) uint8 numbers of its colours
        name : stem of its file, as of a `Picture`
        fields : two more, with their places, which alternate when asked for
        light : False for what is no light, such as a difference map
        palette : colours as (red, green, blue) codes
        percent : of white, at the ends of a palette that goes from less over none to more; 0 for others
        looks : where its lines and its samples look on the source, each as (scale, offset): scale times the
            coordinate, whose edges are integers, plus offset; () for the source itself
        taps : what its lines are made of; no_taps : why that is not known
        of : of what is no light, the id of the layer it is a map of
    """

    id: str
    name: str
    values: NDArray | Callable[[], NDArray]
    label: str
    caption: str
    place: Box
    fields: tuple[tuple[Picture, Box], ...] = ()
    light: bool = True
    palette: tuple[tuple[int, int, int], ...] = ()
    percent: float = 0.0
    looks: tuple[tuple[float, float], ...] = ()
    taps: Taps | None = None
    no_taps: str = ""
    of: str = ""


@dataclass(frozen=True)
class Scale:
    """A scale of colours: from low to high, what stands at its ends and middle, and what it is in words."""

    colours: tuple[tuple[int, int, int], ...]
    ends: tuple[str, str, str]
    alt: str


@dataclass(frozen=True)
class Pointed:
    """What a measure judged in one layer.

    Parameters:
        layer : its id; shows : id of a layer that maps it, "" for none
        total, faulty : how many cases there are, and how many of them are at fault
        cases : the worst, worst first, each (begin and end on the source's lines, on its samples, how badly
            in percent)
    """

    layer: str
    total: int
    faulty: int
    cases: tuple[tuple[float, float, float, float, float], ...]
    shows: str = ""


@dataclass(frozen=True)
class Judged:
    """What a measure judged, layer by layer.

    Parameters:
        key, label : of the measure; what : the cases in the plural, such as "outlines"
        says : what is said of one, {} standing for how badly in percent
    """

    key: str
    label: str
    what: str
    says: str
    found: tuple[Pointed, ...]


@dataclass(frozen=True, eq=False)
class Viewer:
    """Linked pictures to move, enlarge and wipe against each other.

    Parameters:
        name, title : of what is shown; the heading
        text : paragraphs in front
        layers : in the order they are offered
        pair : ids of the two layers that it opens with
        start : (x, y) of the middle to begin with, in units of the face
        scale : of the layers that are no light; None without any
        source : id of the layer of what was sent, "" for none
        contestants : ids of the layers that are flipped through, in their order
        mode : how it opens, "beside", "wipe" or "flip"; "" leaves that to the width of the screen
        judged : what measures judged in them, to be lit up
    """

    name: str
    title: str
    text: tuple[str, ...]
    layers: tuple[Layer, ...]
    pair: tuple[str, str]
    start: tuple[float, float]
    scale: Scale | None = None
    source: str = ""
    contestants: tuple[str, ...] = ()
    mode: Literal["", "beside", "wipe", "flip"] = ""
    judged: tuple[Judged, ...] = ()
