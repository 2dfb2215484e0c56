"""A plot's data drawn as SVG: the one place that knows how plots look."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from scalesim.page.plots.ends import write_ends
from scalesim.page.plots.labels import draw_labels, write_at
from scalesim.page.plots.svg import HUES, INK, MARKS, QUIET, RULE, clean, new_figure, styled, svg_of
from scalesim.plot import Axis, Heat, Panel, Plot, Role, Rule, Series

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ROLES: dict[Any, str] = {"ink": INK, "quiet": QUIET, "rule": RULE}
_LONGEST_NAME, _SLIM_NAME, _SLIM_LEGEND = 34, 16, 44
_LETTER, _LINE = 6.6, 15
"""Dots of a letter's width, about, and of a line of text."""
_LEFT, _RIGHT, _TOP, _BELOW = 74, 18, 12, 50
"""Dots kept around the panels for ticks and labels."""
_LEGEND_LINE, _HEADING, _ABOVE, _BAR, _BETWEEN = 22, 26, 42, 92, 16


SLIM = 350
"""Dots of the width of a plot on a phone: a screen of 390 less the page's edges."""


def slim(plot: Plot) -> Plot:
    """Return a plot for a phone: as wide as its page, names, labels and legend on several lines."""
    roomy = min(plot.size[1], 400 * len(plot.panels))
    one = replace(plot, name=f"{plot.name}-slim", size=(SLIM, roomy), legend=min(plot.legend, 1))
    return replace(one, size=(SLIM, roomy + max(0, _above(one) - _above(plot))))


@lru_cache(maxsize=32)  # a page and the file beside it show the same
def plot_svg(plot: Plot) -> str:
    """Return a plot as an SVG element whose colours are stand-ins (see `coloured`)."""
    with drawn(plot) as figure:
        return svg_of(figure, plot.name, plot.title)


@contextmanager
def drawn(plot: Plot) -> Iterator[Figure]:
    """Draw a plot, its colours stand-ins, to be used while its style holds."""
    with styled(plot.name):
        yield _figure(plot)


def _figure(plot: Plot) -> Figure:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    width, height = plot.size
    figure = new_figure(width, height)
    FigureCanvasAgg(figure)  # measures texts
    top = _above(plot)
    longest = _LONGEST_NAME if width > SLIM else _SLIM_NAME
    tall = (height - top - _BELOW) / len(plot.panels)
    names = (max(_LEFT, _names_width(figure, p.y, longest) + 14) for p in plot.panels)
    left = max(room + _more(p.y.label, tall) for room, p in zip(names, plot.panels, strict=True))
    right = _RIGHT + (_BAR if any(panel.heat for panel in plot.panels) else 0)
    right = max(right, *(round(_ends_width(figure, panel, longest)) for panel in plot.panels))
    room = width - left - right
    below = _BELOW + _more(plot.panels[-1].x.label, room) + _below_names(figure, plot.panels[-1].x, room)
    each = (height - top - below - _BETWEEN * (len(plot.panels) - 1)) / len(plot.panels)
    drawn: list[Any] = []
    for number, panel in enumerate(plot.panels):
        bottom = height - top - each * (number + 1) - _BETWEEN * number
        axes = figure.add_axes(
            (left / width, bottom / height, (width - left - right) / width, each / height),
            sharex=drawn[0] if drawn else None,
        )
        _draw(figure, axes, panel, longest, last=number == len(plot.panels) - 1)
        drawn.append(axes)
    start = left if width > SLIM else 8.0
    if plot.heading:
        figure.text(start / width, 1 - 8 / height, "\n".join(_heading(plot)), fontsize=13, va="top")
    if plot.legend:
        handles, labels = _legend_entries(drawn)
        heading = _heading_height(plot)
        figure.legend(
            handles,
            [_legend_label(label, width) for label in labels],
            loc="upper left",
            ncols=plot.legend,
            frameon=False,
            bbox_to_anchor=((start - 8) / width, 1 - heading / height),
            handletextpad=0.4,
            columnspacing=1.6,
        )
    return figure


def _above(plot: Plot) -> int:
    """Return the dots above the panels: heading, legend, and the words of a third axis."""
    third = _ABOVE if any(panel.above for panel in plot.panels) else 0
    return _TOP + _legend_height(plot) + _heading_height(plot) + third


def _heading(plot: Plot) -> list[str]:
    return textwrap.wrap(clean(plot.title, 96), max(10, int((plot.size[0] - 16) / 7.5)))


def _heading_height(plot: Plot) -> int:
    return _HEADING + _LINE * (len(_heading(plot)) - 1) if plot.heading else 0


def _legend_height(plot: Plot) -> int:
    if not plot.legend:
        return 0
    labels = dict.fromkeys(series.label for p in plot.panels for series in p.series if series.label)
    more = sum(_legend_label(label, plot.size[0]).count("\n") for label in labels)
    return -(-len(labels) // plot.legend) * _LEGEND_LINE + _LINE * more


def _legend_label(text: str, width: int) -> str:
    """Return a legend's label: on one line, or on a phone on as many as it takes."""
    text = clean(text, 84)
    return text if width > SLIM else "\n".join(textwrap.wrap(text, _SLIM_LEGEND))


def _more(label: str, room: float) -> int:
    """Return the dots that a label takes beyond its first line."""
    return _LINE * _in_lines(label, room).count("\n")


def _in_lines(label: str, room: float) -> str:
    """Return an axis' label on as many lines as it needs in a room of so many dots."""
    letters = max(8, int(room / _LETTER))
    return "\n".join(textwrap.wrap(label, letters, break_long_words=False)) if label.strip() else label


def _name(text: str, longest: int) -> str:
    """Return a name at an axis: shortened to what a desk has room for, on two lines where that is narrow."""
    text = clean(text, _LONGEST_NAME)
    return text if longest >= _LONGEST_NAME else "\n".join(textwrap.wrap(text, longest))


def _legend_entries(drawn: list[Any]) -> tuple[list[Any], list[str]]:
    """Return handles and labels of all panels, each label once."""
    found: dict[str, Any] = {}
    for axes in drawn:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            found.setdefault(label, handle)
    return list(found.values()), list(found)


def _names_width(figure: Figure, axis: Axis, longest: int) -> float:
    """Return how wide the names at an axis are, in dots; 0 for numbers."""
    if not axis.ticks:
        return 0.0
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]  # every raster canvas has one
    widths = []
    for _, text in axis.ticks:
        written = figure.text(0, 0, _name(text, longest))
        widths.append(written.get_window_extent(renderer).width)
        written.remove()
    return float(max(widths)) + (24.0 if axis.label else 0.0)


def _below_names(figure: Figure, axis: Axis, room: float) -> float:
    """Return the dots that names below a panel of a width take beyond one line."""
    if not axis.ticks:
        return 0.0
    names = _names_below(axis, room)
    if names is None:
        return _names_width(figure, replace(axis, label=""), _LONGEST_NAME) - _LINE
    return _LINE * max(name.count("\n") for name in names)


def _names_below(axis: Axis, room: float) -> list[str] | None:
    """Return the names at an axis' ticks, each on as many lines as its share of a width asks; None where a
    word is wider than that, so that they are written upright."""
    letters = int(room / len(axis.ticks) / _LETTER)
    names = [
        textwrap.wrap(clean(text, _LONGEST_NAME), max(letters, 1), break_long_words=False)
        for _, text in axis.ticks
    ]
    if any(len(line) > letters for lines in names for line in lines):
        return None
    return ["\n".join(lines) for lines in names]


def _ends_width(figure: Figure, panel: Panel, longest: int) -> float:
    """Return how much room the names at the ends of a panel's lines take, in dots."""
    names = tuple((0.0, series.end) for series in panel.series if series.end)
    return _names_width(figure, Axis("", ticks=names), longest) + 14 if names else 0.0


def _draw(figure: Figure, axes: Any, panel: Panel, longest: int, *, last: bool) -> None:
    if panel.heat is not None:
        _draw_heat(figure, axes, panel.heat)
    for rule in panel.rules:
        _draw_rule(axes, rule)
    for series in panel.series:
        _draw_series(axes, series)
    _set_axis(axes, "x", panel.x, longest, named=last)
    _set_axis(axes, "y", panel.y, longest, named=True)
    axes.set_axisbelow(True)
    for rule in panel.rules:
        _write_rule(axes, rule)
    if panel.above is not None:
        above = axes.secondary_xaxis("top")
        above.set_xticks(*zip(*panel.above.ticks, strict=True))
        above.set_xlabel(panel.above.label, color=QUIET)
    write_ends(axes, [series for series in panel.series if series.end], longest)
    for series in panel.series:
        if series.texts:
            points = [
                (x, y) for x, y in zip(series.x, series.y, strict=True) if x is not None and y is not None
            ]
            labels = [_point_label(text, longest) for text in series.texts]
            if series.placed == "free":
                draw_labels(axes, points, labels, QUIET)
            else:
                write_at(axes, points, labels, above=series.placed == "above")


def _point_label(text: str, longest: int) -> str:
    """Return a point's label: its name, and perhaps more on the lines below."""
    name, *more = text.split("\n")
    return "\n".join((clean(name, longest), *(clean(line) for line in more)))


def _colour(role: Role) -> str:
    return HUES[role % len(HUES)] if isinstance(role, int) else _ROLES[role]


def _mark(series: Series) -> str:
    if series.style in ("ticks", "across"):
        return "|" if series.style == "ticks" else "_"
    if series.mark == -1:
        return "."
    number = series.mark if series.mark is not None else series.role if isinstance(series.role, int) else 0
    return MARKS[number % len(MARKS)]


def _draw_series(axes: Any, series: Series) -> None:
    x, y = (np.array([np.nan if v is None else v for v in each], float) for each in (series.x, series.y))
    colour, lined = _colour(series.role), series.style in ("line", "both")
    size = series.size or (1.6 if series.style == "line" else 7.0)
    look: dict[str, Any] = {
        "color": colour,
        "linestyle": "-" if lined else "none",
        "label": clean(series.label, 84) if series.label else "_",
        "alpha": series.alpha,
    }
    if series.style == "line":
        axes.plot(x, y, linewidth=size, **look)
        return
    if series.style == "stems":
        axes.vlines(x, 0, y, colors=colour, linewidth=2.2)
    look |= {"marker": _mark(series), "markersize": size}
    look |= {"clip_on": False} if not series.ringed else {"markeredgecolor": "white"}
    if series.hollow:
        look["markerfacecolor"] = "none"
    if series.style == "ticks":
        look["markeredgewidth"] = 1.8
    if series.error:
        look.pop("clip_on")
        axes.errorbar(
            x, y, yerr=series.error, ecolor=colour, elinewidth=1.4, capsize=3, linewidth=1.2, **look
        )
    else:
        axes.plot(x, y, linewidth=1.6, **look)


def _draw_rule(axes: Any, rule: Rule) -> None:
    line = axes.axhline if rule.axis == "y" else axes.axvline
    style: dict[str, Any] = {"dashes": (4, 3)} if rule.dashed else {}
    line(rule.at, color=_colour(rule.role), linewidth=0.8, zorder=0, **style)


def _write_rule(axes: Any, rule: Rule) -> None:
    """Write a line's words at its right or upper end, now that the axis has its limits."""
    if rule.text and rule.axis == "y":
        right = axes.get_xlim()[1]
        axes.text(right, rule.at, rule.text, ha="right", va="bottom", color=QUIET)
    elif rule.text:
        (low, high), top = axes.get_xlim(), axes.get_ylim()[1]
        side = "left" if rule.at < (low + high) / 2 else "right"
        axes.annotate(
            rule.text,
            (rule.at, top),
            (4 if side == "left" else -4, -2),
            textcoords="offset points",
            ha=side,
            va="top",
            color=QUIET,
        )


def _draw_heat(figure: Figure, axes: Any, heat: Heat) -> None:
    values = np.array([[np.nan if v is None else v for v in column] for column in heat.values], float)
    colours = "viridis_r" if heat.reverse else "viridis"
    ends = {"vmin": heat.low, "vmax": heat.high}
    mesh = axes.pcolormesh(heat.x_edges, heat.y_edges, values.T, cmap=colours, rasterized=True, **ends)
    left, bottom, width, height = axes.get_position().bounds
    bar = figure.colorbar(mesh, cax=figure.add_axes((left + width + 0.02, bottom, 0.025, height)))
    bar.set_label("\n".join(textwrap.wrap(heat.label, 60)))


def _set_axis(axes: Any, which: str, axis: Axis, longest: int, *, named: bool) -> None:
    low, high = getattr(axes, f"get_{which}lim")()
    ends = [low if axis.low is None else axis.low, high if axis.high is None else axis.high]
    getattr(axes, f"set_{which}lim")(*(reversed(ends) if axis.downward else ends))
    if axis.ticks:
        places, texts = zip(*axis.ticks, strict=True)
        names: list[str] | None = [_name(text, longest) for text in texts]
        if which == "x" and (names := _names_below(axis, axes.get_window_extent().width)) is None:
            names = [clean(text, _LONGEST_NAME) for text in texts]
            axes.tick_params(axis="x", labelrotation=90)
        getattr(axes, f"set_{which}ticks")(places, names)
    if not axis.line:
        axes.tick_params(axis=which, length=0)
        axes.spines["left" if which == "y" else "bottom"].set_visible(False)
    if named:
        room = axes.get_window_extent()
        label = _in_lines(axis.label, room.width if which == "x" else room.height)
        getattr(axes, f"set_{which}label")(label)
    else:
        axes.tick_params(labelbottom=False)
    if axis.grid:
        axes.grid(axis=which, color=RULE, linewidth=0.6)
