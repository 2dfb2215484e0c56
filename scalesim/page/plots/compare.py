"""The plots of a comparison: sharpness against steadiness, and every frame's value of every metric."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from scalesim.jobs.compare.compare import Comparison
from scalesim.jobs.compare.rows import Row
from scalesim.metrics import key_of
from scalesim.page.compare_tables import Column, columns_of
from scalesim.page.plots.labels import draw_labels
from scalesim.page.plots.svg import HUES, INK, MARKS, QUIET, RULE, clean, new_figure, styled, svg_of

SHARP, STEADY = "edge_spread_lines", "flicker_percent"
"""The two metrics of the first plot, across its height and its width."""


@dataclass(frozen=True)
class Plot:
    """An SVG with stand-in colours, its file name's stem and its caption."""

    name: str
    svg: str
    caption: str


def plots_of(comparison: Comparison) -> tuple[Plot, ...]:
    """Return the plots that the rows have values for, in the order of the page."""
    rows = comparison.rows
    found = [_sharpness_plot(comparison)]
    for column in columns_of(rows, fidelity=False):
        if column.better and not _alike(rows, column.key):
            found.append(_dot_plot(comparison, column))
    return tuple(plot for plot in found if plot is not None)


def _alike(rows: Sequence[Row], key: str) -> bool:
    """Return whether there is nothing to plot: no value, or one only."""
    values = [value for row in rows if (value := row.metrics.get(key)) is not None]
    return not values or max(values) - min(values) <= 1e-6


def alike_sentence(comparison: Comparison) -> str:
    """Return which metrics have no plot because all their values are alike, "" when none."""
    said = []
    for column in columns_of(comparison.rows, fidelity=False):
        values = [v for row in comparison.rows if (v := row.metrics.get(column.key)) is not None]
        if column.better and values and _alike(comparison.rows, column.key):
            number = " ".join((key_of(column.key).number(values[0])[0], column.unit)).strip()
            said.append(f"{column.label} ({number})")
    return f"Alike everywhere, so not plotted: {'; '.join(said)}." if said else ""


def _screens(rows: Sequence[Row]) -> dict[str, int]:
    """Return each screen's number, which gives it a hue and a shape; the fifth shares the first's."""
    return {screen: number % len(HUES) for number, screen in enumerate(dict.fromkeys(r.raster for r in rows))}


def _median(rows: Sequence[Row], chain: str, screen: str, key: str) -> float | None:
    values = [r.metrics.get(key) for r in rows if r.chain == chain and r.raster == screen]
    known = [value for value in values if value is not None]
    return float(np.median(known)) if known else None


def _sharpness_plot(comparison: Comparison) -> Plot | None:
    """Return medians over frames, one point per chain and screen; None without both metrics."""
    rows = comparison.rows
    points: list[tuple[float, float, str, str]] = []
    for chain, screen in dict.fromkeys((row.chain, row.raster) for row in rows):
        flicker, edge = (_median(rows, chain, screen, key) for key in (STEADY, SHARP))
        if flicker is not None and edge is not None:
            points.append((flicker, edge, chain, screen))
    if not points:
        return None
    name, title = "sharpness-steadiness", "Sharpness against steadiness, median over frames"
    with styled(name):
        svg = _draw_sharpness(name, title, points, _screens(rows))
    caption = (
        "Sharpness against steadiness: one point for each chain, its median over all frames. "
        "Sharper is further down, steadier further left."
    )
    return Plot(name, svg, caption)


def _draw_sharpness(
    name: str, title: str, points: Sequence[tuple[float, float, str, str]], screens: Mapping[str, int]
) -> str:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    sharp, steady = key_of(SHARP), key_of(STEADY)
    figure = new_figure(860, 520)
    FigureCanvasAgg(figure)
    axes = figure.add_axes((62 / 860, 52 / 520, (860 - 74) / 860, (520 - 98) / 520))
    right, top = 1.3 * max(x for x, *_ in points), 1.3 * max(y for _, y, *_ in points)
    axes.set_xlim(-0.045 * max(right, 1), max(right, 1))
    axes.set_ylim(0, max(top, 1.0))
    axes.axvline(0, color=RULE, linewidth=0.8, zorder=0)
    for value, said in sharp.marks:
        axes.axhline(value, color=RULE, linewidth=0.8, dashes=(4, 3), zorder=0)
        axes.text(max(right, 1), value, said, ha="right", va="bottom", color=QUIET, fontsize=9)
    for screen, number in screens.items():
        own = [(x, y) for x, y, _, its in points if its == screen]
        if own:
            xs, ys = zip(*own, strict=True)
            mark, hue, label = MARKS[number], HUES[number], clean(screen, 48)
            axes.plot(xs, ys, linestyle="none", markersize=7, marker=mark, color=hue, label=label)
    axes.set_xlabel(f"{steady.axis}  ({steady.improves} is left)")
    axes.set_ylabel(f"{sharp.axis}  ({sharp.improves} is down)")
    figure.legend(loc="upper left", ncols=2, frameon=False, bbox_to_anchor=(50 / 860, 1), handletextpad=0.2)
    labels = [clean(chain) for _, _, chain, _ in points]
    draw_labels(axes, [(x, y) for x, y, _, _ in points], labels, QUIET)
    return svg_of(figure, name, title)


def _dot_plot(comparison: Comparison, column: Column) -> Plot:
    rows = [row for row in comparison.rows if row.metrics.get(column.key) is not None]
    chains = [chain for chain in comparison.contestants if any(row.chain == chain for row in rows)]
    name = "dots-" + column.key.replace("_", "-")
    frames = len({row.frame for row in rows})
    with styled(name):
        svg = _draw_dots(name, column, chains, rows, _screens(comparison.rows))
    ticks = "; the tick is their median" if frames > 1 else ""
    said = f"{_capital(column.label)}: one dot for each frame{ticks}. {_capital(column.better)} is better."
    return Plot(name, svg, said)


def _draw_dots(
    name: str, column: Column, chains: Sequence[str], rows: Sequence[Row], screens: Mapping[str, int]
) -> str:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    width, height, below = 560, 26 * len(chains) + 58, 46
    figure = new_figure(width, height)
    FigureCanvasAgg(figure)
    labels = [clean(chain) for chain in chains]
    left = _widest(figure, labels) + 14
    axes = figure.add_axes(
        (left / width, below / height, (width - left - 16) / width, 1 - (below + 6) / height)
    )
    for place, chain in enumerate(chains):
        axes.axhline(place, color=RULE, linewidth=0.7, zorder=0)
        _draw_chain(axes, place, column, [row for row in rows if row.chain == chain], screens)
    axes.set_ylim(len(chains) - 0.4, -0.6)
    axes.set_yticks(range(len(chains)), labels)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)
    values = [_scaled(column.key, row.metrics[column.key]) for row in rows]
    low, high = min(0.0, *values), max(values)
    room = (high - low or 1.0) * 0.04
    axes.set_xlim(low - room, high + room if high > low else low + 1.0)
    axes.set_xlabel(f"{column.label}, {column.unit}" if column.unit else column.label)
    return svg_of(figure, name, f"{column.label}, every frame")


def _draw_chain(
    axes: object, place: int, column: Column, rows: Sequence[Row], screens: Mapping[str, int]
) -> None:
    from matplotlib.axes import Axes

    assert isinstance(axes, Axes)
    values = [_scaled(column.key, row.metrics[column.key]) for row in rows]
    if len(values) > 1:
        axes.plot([float(np.median(values))], [place], "|", color=INK, markersize=17, markeredgewidth=1.8)
    for value, row in zip(values, rows, strict=True):
        number = screens[row.raster]
        axes.plot(
            [value], [place], MARKS[number], color=HUES[number], alpha=0.7, markersize=6.5, clip_on=False
        )


def _widest(figure: object, labels: Sequence[str]) -> float:
    from matplotlib.figure import Figure

    assert isinstance(figure, Figure)
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]  # every raster canvas has one
    texts = [figure.text(0, 0, label) for label in labels]
    widest = max(text.get_window_extent(renderer).width for text in texts)
    for text in texts:
        text.remove()
    return float(widest)


def _scaled(key: str, value: float | None) -> float:
    """Return a value in the unit it is shown with."""
    assert value is not None
    return key_of(key).scaled(value)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
