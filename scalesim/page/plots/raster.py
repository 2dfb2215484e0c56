"""A plot as dots, in the colours of the dark ground that stills have."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.draw.lettering import INK as LIGHT
from scalesim.draw.lettering import PAPER
from scalesim.draw.lettering import QUIET as PALE
from scalesim.page.plots.draw import drawn
from scalesim.page.plots.svg import DARK_HUES, HUES, INK, QUIET, RULE
from scalesim.plot import Plot
from scalesim.typeset import typeset

LARGER = 2.2
"""Dots of the smaller still for one of the plot's own: it is seen from farther away than a page."""


def plot_dots(plot: Plot, times: int) -> NDArray[np.uint8]:
    """Return a plot, (height, width, 3) uint8.

    Parameters:  times : 1 for the smaller of the two sizes of a still, 2 for the larger
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    with drawn(replace(plot, name=f"{plot.name}-dots")) as figure:
        set_for_stills(figure)
        figure.set_dpi(figure.dpi * LARGER * times)
        canvas: Any = FigureCanvasAgg(figure)  # its methods have no types
        canvas.draw()
        found: NDArray[np.uint8] = np.asarray(canvas.buffer_rgba())[:, :, :3].copy()
    return found


def set_for_stills(figure: Any) -> None:
    """Put a Matplotlib figure into the colours of a still, and its words as they are printed."""
    from matplotlib.text import Annotation, Text

    for artist in figure.findobj():
        _recolour(artist)
        if isinstance(artist, Annotation) and artist.arrow_patch is not None:
            _recolour(artist.arrow_patch)  # no child of its figure
        if isinstance(artist, Text):
            artist.set_text(typeset(artist.get_text()))
    figure.set_facecolor(_hex(PAPER))


def _hex(colour: tuple[int, int, int]) -> str:
    return "#" + "".join(f"{value:02x}" for value in colour)


_COLOURS = {INK: _hex(LIGHT), QUIET: _hex(PALE), RULE: "#4a4f55", **dict(zip(HUES, DARK_HUES, strict=True))}
_KINDS = ("color", "facecolor", "edgecolor", "markerfacecolor", "markeredgecolor")


def _recolour(artist: Any) -> None:
    """Put a plot's stand-ins for colours into those of a still; what has other colours keeps them."""
    from matplotlib.colors import to_hex, to_rgba

    for kind in _KINDS:
        get, put = getattr(artist, f"get_{kind}", None), getattr(artist, f"set_{kind}", None)
        if get is None or put is None:
            continue
        value = get()
        if isinstance(value, np.ndarray) and value.ndim == 2:
            rows = [to_rgba(_COLOURS.get(to_hex(row), to_hex(row)), row[3]) for row in value]
            if len(rows):
                put(rows)
        elif isinstance(value, str | tuple) and value and value != "none":
            alpha = to_rgba(value)[3]
            swapped = _COLOURS.get(to_hex(value))
            if swapped:
                put(to_rgba(swapped, alpha))
