"""The map of what differs between two pictures of a tube, as a layer of a viewer with its scale."""

from __future__ import annotations

from numpy.typing import NDArray

from scalesim.draw import diverging
from scalesim.result import Box, Layer, Scale

LIMIT = 25.0
"""Percent of bright light at the ends of the map's colours."""

_MINUS = "\N{MINUS SIGN}"


def difference_layer(apart: NDArray, label: str, white: str, place: Box, of: str) -> Layer:
    """Return the map; `apart` is in percent of bright light, `of` is what it is a map of."""
    return Layer(
        "difference",
        "pictures/difference",
        diverging.steps_of(apart, LIMIT),
        label,
        f"Scale ± {LIMIT:g} % of bright light. White is {white}.",
        place,
        light=False,
        palette=diverging.colours(),
        percent=LIMIT,
        of=of,
    )


def difference_scale(what: str, darker: str, equal: str, lighter: str) -> Scale:
    """Return the scale of the map's colours; `what` is compared, the others stand at its places."""
    return Scale(
        diverging.colours(),
        (f"{_MINUS}{LIMIT:g} %, {darker}", f"0, {equal}", f"+{LIMIT:g} %, {lighter}"),
        f"Scale of {what}: from {LIMIT:g} percent darker, blue, over equal, white, to {LIMIT:g} percent "
        "lighter, orange",
    )
