"""How much room the words of a plot take, in dots: headings, legends, names and labels; desk and phone."""

from __future__ import annotations

import textwrap
from dataclasses import replace
from typing import TYPE_CHECKING

from scalesim.page.plots.svg import clean
from scalesim.plot import Axis, Panel, Plot

if TYPE_CHECKING:
    from matplotlib.figure import Figure

LONGEST_NAME, SLIM_NAME, _SLIM_LEGEND = 34, 16, 44
_LETTER, _LINE = 6.6, 15
"""Dots of a letter's width, about, and of a line of text."""
LEFT, RIGHT, _TOP, BELOW = 74, 18, 12, 50
"""Dots kept around the panels for ticks and labels."""
_LEGEND_LINE, _HEADING, _ABOVE, BAR, BETWEEN = 22, 26, 42, 92, 16
SLIM = 350
"""Dots of the width of a plot on a phone: a screen of 390 less the page's edges."""


def dots_above(plot: Plot) -> int:
    """Return the dots above the panels: heading, legend, and the words of a third axis."""
    third = _ABOVE if any(panel.above for panel in plot.panels) else 0
    return _TOP + _legend_height(plot) + heading_height(plot) + third


def heading_lines(plot: Plot) -> list[str]:
    return textwrap.wrap(clean(plot.title, 96), max(10, int((plot.size[0] - 16) / 7.5)))


def heading_height(plot: Plot) -> int:
    return _HEADING + _LINE * (len(heading_lines(plot)) - 1) if plot.heading else 0


def _legend_height(plot: Plot) -> int:
    if not plot.legend:
        return 0
    labels = dict.fromkeys(series.label for p in plot.panels for series in p.series if series.label)
    more = sum(legend_label(label, plot.size[0]).count("\n") for label in labels)
    return -(-len(labels) // plot.legend) * _LEGEND_LINE + _LINE * more


def legend_label(text: str, width: int) -> str:
    """Return a legend's label: on one line, or on a phone on as many as it takes."""
    text = clean(text, 84)
    return text if width > SLIM else "\n".join(textwrap.wrap(text, _SLIM_LEGEND))


def more_dots(label: str, room: float) -> int:
    """Return the dots that a label takes beyond its first line."""
    return _LINE * in_lines(label, room).count("\n")


def in_lines(label: str, room: float) -> str:
    """Return an axis' label on as many lines as it needs in a room of so many dots."""
    letters = max(8, int(room / _LETTER))
    return "\n".join(textwrap.wrap(label, letters, break_long_words=False)) if label.strip() else label


def name_of(text: str, longest: int) -> str:
    """Return a name at an axis: shortened to what a desk has room for, on two lines where that is narrow."""
    text = clean(text, LONGEST_NAME)
    return text if longest >= LONGEST_NAME else "\n".join(textwrap.wrap(text, longest))


def names_width(figure: Figure, axis: Axis, longest: int) -> float:
    """Return how wide the names at an axis are, in dots; 0 for numbers."""
    if not axis.ticks:
        return 0.0
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]  # every raster canvas has one
    widths = []
    for _, text in axis.ticks:
        written = figure.text(0, 0, name_of(text, longest))
        widths.append(written.get_window_extent(renderer).width)
        written.remove()
    return float(max(widths)) + (24.0 if axis.label else 0.0)


def below_names(figure: Figure, axis: Axis, room: float) -> float:
    """Return the dots that names below a panel of a width take beyond one line."""
    if not axis.ticks:
        return 0.0
    names = names_below(axis, room)
    if names is None:
        return names_width(figure, replace(axis, label=""), LONGEST_NAME) - _LINE
    return _LINE * max(name.count("\n") for name in names)


def names_below(axis: Axis, room: float) -> list[str] | None:
    """Return the names at an axis' ticks, each on as many lines as its share of a width asks; None where a
    word is wider than that, so that they are written upright."""
    letters = int(room / len(axis.ticks) / _LETTER)
    names = [
        textwrap.wrap(clean(text, LONGEST_NAME), max(letters, 1), break_long_words=False)
        for _, text in axis.ticks
    ]
    if any(len(line) > letters for lines in names for line in lines):
        return None
    return ["\n".join(lines) for lines in names]


def ends_width(figure: Figure, panel: Panel, longest: int) -> float:
    """Return how much room the names at the ends of a panel's lines take, in dots."""
    names = tuple((0.0, series.end) for series in panel.series if series.end)
    return names_width(figure, Axis("", ticks=names), longest) + 14 if names else 0.0
