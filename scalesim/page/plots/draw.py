"""A plot's data drawn as SVG: the one place that knows how plots look."""

from __future__ import annotations

import textwrap
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from scalesim.page.plots.ends import write_ends
from scalesim.page.plots.labels import draw_labels
from scalesim.page.plots.svg import HUES, INK, MARKS, QUIET, RULE, clean, new_figure, styled, svg_of
from scalesim.plot import Axis, Heat, Panel, Plot, Role, Rule, Series

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_ROLES: dict[Any, str] = {"ink": INK, "quiet": QUIET, "rule": RULE}
_LONGEST_NAME = 34
_LEFT, _RIGHT, _TOP, _BELOW = 74, 18, 12, 50
"""Dots kept around the panels for ticks and labels."""
_LEGEND_LINE, _HEADING, _ABOVE, _BAR, _BETWEEN = 22, 26, 42, 92, 16


@lru_cache(maxsize=32)  # a page and the file beside it show the same
def plot_svg(plot: Plot) -> str:
    """Return a plot as an SVG element whose colours are stand-ins (see `coloured`)."""
    with styled(plot.name):
        figure = _figure(plot)
        return svg_of(figure, plot.name, plot.title)


def _figure(plot: Plot) -> Figure:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    width, height = plot.size
    figure = new_figure(width, height)
    FigureCanvasAgg(figure)  # measures texts
    left = max(_LEFT, *(_names_width(figure, panel.y) + 14 for panel in plot.panels))
    right = _RIGHT + (_BAR if any(panel.heat for panel in plot.panels) else 0)
    right = max(right, *(round(_ends_width(figure, panel)) for panel in plot.panels))
    legend = _legend_rows(plot) * _LEGEND_LINE
    top = _TOP + legend + (_HEADING if plot.heading else 0)
    top += _ABOVE if any(panel.above for panel in plot.panels) else 0
    each = (height - top - _BELOW - _BETWEEN * (len(plot.panels) - 1)) / len(plot.panels)
    drawn: list[Any] = []
    for number, panel in enumerate(plot.panels):
        bottom = height - top - each * (number + 1) - _BETWEEN * number
        axes = figure.add_axes(
            (left / width, bottom / height, (width - left - right) / width, each / height),
            sharex=drawn[0] if drawn else None,
        )
        _draw(figure, axes, panel, last=number == len(plot.panels) - 1)
        drawn.append(axes)
    if plot.heading:
        figure.text(left / width, 1 - 18 / height, clean(plot.title, 96), fontsize=13)
    if legend:
        handles, labels = _legend_entries(drawn)
        place = ((left - 8) / width, 1 - (_HEADING / height if plot.heading else 0))
        figure.legend(
            handles,
            labels,
            loc="upper left",
            ncols=plot.legend,
            frameon=False,
            bbox_to_anchor=place,
            handletextpad=0.4,
            columnspacing=1.6,
        )
    return figure


def _legend_rows(plot: Plot) -> int:
    if not plot.legend:
        return 0
    labels = {series.label for panel in plot.panels for series in panel.series if series.label}
    return -(-len(labels) // plot.legend)


def _legend_entries(drawn: list[Any]) -> tuple[list[Any], list[str]]:
    """Return handles and labels of all panels, each label once."""
    found: dict[str, Any] = {}
    for axes in drawn:
        for handle, label in zip(*axes.get_legend_handles_labels(), strict=True):
            found.setdefault(label, handle)
    return list(found.values()), list(found)


def _names_width(figure: Figure, axis: Axis) -> float:
    """Return how wide the names at an axis are, in dots; 0 for numbers."""
    if not axis.ticks:
        return 0.0
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]  # every raster canvas has one
    widths = []
    for _, text in axis.ticks:
        written = figure.text(0, 0, clean(text, _LONGEST_NAME))
        widths.append(written.get_window_extent(renderer).width)
        written.remove()
    return float(max(widths)) + (24.0 if axis.label else 0.0)


def _ends_width(figure: Figure, panel: Panel) -> float:
    """Return how much room the names at the ends of a panel's lines take, in dots."""
    names = tuple((0.0, series.end) for series in panel.series if series.end)
    return _names_width(figure, Axis("", ticks=names)) + 14 if names else 0.0


def _draw(figure: Figure, axes: Any, panel: Panel, *, last: bool) -> None:
    if panel.heat is not None:
        _draw_heat(figure, axes, panel.heat)
    for rule in panel.rules:
        _draw_rule(axes, rule)
    for series in panel.series:
        _draw_series(axes, series)
    _set_axis(axes, "x", panel.x, named=last)
    _set_axis(axes, "y", panel.y, named=True)
    axes.set_axisbelow(True)
    for rule in panel.rules:
        _write_rule(axes, rule)
    if panel.above is not None:
        above = axes.secondary_xaxis("top")
        above.set_xticks(*zip(*panel.above.ticks, strict=True))
        above.set_xlabel(panel.above.label, color=QUIET)
    write_ends(axes, [series for series in panel.series if series.end])
    for series in panel.series:
        if series.texts:
            points = [
                (x, y) for x, y in zip(series.x, series.y, strict=True) if x is not None and y is not None
            ]
            draw_labels(axes, points, [clean(text) for text in series.texts], QUIET)


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
        axes.text(right, rule.at, rule.text, ha="right", va="bottom", color=QUIET, fontsize=9)
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
    mesh = axes.pcolormesh(heat.x_edges, heat.y_edges, values.T, cmap=colours, rasterized=True)
    left, bottom, width, height = axes.get_position().bounds
    bar = figure.colorbar(mesh, cax=figure.add_axes((left + width + 0.02, bottom, 0.025, height)))
    bar.set_label("\n".join(textwrap.wrap(heat.label, 60)))


def _set_axis(axes: Any, which: str, axis: Axis, *, named: bool) -> None:
    low, high = getattr(axes, f"get_{which}lim")()
    ends = [low if axis.low is None else axis.low, high if axis.high is None else axis.high]
    getattr(axes, f"set_{which}lim")(*(reversed(ends) if axis.downward else ends))
    if axis.ticks:
        places, texts = zip(*axis.ticks, strict=True)
        getattr(axes, f"set_{which}ticks")(places, [clean(text, _LONGEST_NAME) for text in texts])
    if not axis.line:
        axes.tick_params(axis=which, length=0)
        axes.spines["left" if which == "y" else "bottom"].set_visible(False)
    if named:
        getattr(axes, f"set_{which}label")(axis.label)
    else:
        axes.tick_params(labelbottom=False)
    if axis.grid:
        axes.grid(axis=which, color=RULE, linewidth=0.6)
