"""A plot's data drawn as SVG: the one place that knows how plots look."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from scalesim.page.plots import layout
from scalesim.page.plots.ends import write_ends
from scalesim.page.plots.labels import draw_labels, write_at
from scalesim.page.plots.svg import HUES, INK, MARKS, QUIET, RULE, clean, new_figure, styled, svg_of
from scalesim.plot import Axis, Heat, Panel, Plot, Role, Rule, Series

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ROLES: dict[Any, str] = {"ink": INK, "quiet": QUIET, "rule": RULE}


def slim(plot: Plot) -> Plot:
    """Return a plot for a phone: as wide as its page, names, labels and legend on several lines."""
    roomy = min(plot.size[1], 400 * len(plot.panels))
    one = replace(plot, name=f"{plot.name}-slim", size=(layout.SLIM, roomy), legend=min(plot.legend, 1))
    return replace(one, size=(layout.SLIM, roomy + max(0, layout.dots_above(one) - layout.dots_above(plot))))


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
    top = layout.dots_above(plot)
    longest = layout.LONGEST_NAME if width > layout.SLIM else layout.SLIM_NAME
    tall = (height - top - layout.BELOW) / len(plot.panels)
    names = (max(layout.LEFT, layout.names_width(figure, p.y, longest) + 14) for p in plot.panels)
    left = max(room + layout.more_dots(p.y.label, tall) for room, p in zip(names, plot.panels, strict=True))
    right = layout.RIGHT + (layout.BAR if any(panel.heat for panel in plot.panels) else 0)
    right = max(right, *(round(layout.ends_width(figure, panel, longest)) for panel in plot.panels))
    room = width - left - right
    below = (
        layout.BELOW
        + layout.more_dots(plot.panels[-1].x.label, room)
        + layout.below_names(figure, plot.panels[-1].x, room)
    )
    each = (height - top - below - layout.BETWEEN * (len(plot.panels) - 1)) / len(plot.panels)
    drawn: list[Any] = []
    for number, panel in enumerate(plot.panels):
        bottom = height - top - each * (number + 1) - layout.BETWEEN * number
        axes = figure.add_axes(
            (left / width, bottom / height, (width - left - right) / width, each / height),
            sharex=drawn[0] if drawn else None,
        )
        _draw(figure, axes, panel, longest, last=number == len(plot.panels) - 1)
        drawn.append(axes)
    start = left if width > layout.SLIM else 8.0
    if plot.heading:
        figure.text(
            start / width, 1 - 8 / height, "\n".join(layout.heading_lines(plot)), fontsize=13, va="top"
        )
    if plot.legend:
        handles, labels = _legend_entries(drawn)
        heading = layout.heading_height(plot)
        figure.legend(
            handles,
            [layout.legend_label(label, width) for label in labels],
            loc="upper left",
            ncols=plot.legend,
            frameon=False,
            bbox_to_anchor=((start - 8) / width, 1 - heading / height),
            handletextpad=0.4,
            columnspacing=1.6,
        )
    return figure


def _legend_entries(drawn: list[Any]) -> tuple[list[Any], list[str]]:
    """Return handles and labels of all panels, each label once."""
    found: dict[str, Any] = {}
    for axes in drawn:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            found.setdefault(label, handle)
    return list(found.values()), list(found)


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
        names: list[str] | None = [layout.name_of(text, longest) for text in texts]
        if which == "x" and (names := layout.names_below(axis, axes.get_window_extent().width)) is None:
            names = [clean(text, layout.LONGEST_NAME) for text in texts]
            axes.tick_params(axis="x", labelrotation=90)
        getattr(axes, f"set_{which}ticks")(places, names)
    if not axis.line:
        axes.tick_params(axis=which, length=0)
        axes.spines["left" if which == "y" else "bottom"].set_visible(False)
    if named:
        room = axes.get_window_extent()
        label = layout.in_lines(axis.label, room.width if which == "x" else room.height)
        getattr(axes, f"set_{which}label")(label)
    else:
        axes.tick_params(labelbottom=False)
    if axis.grid:
        axes.grid(axis=which, color=RULE, linewidth=0.6)
