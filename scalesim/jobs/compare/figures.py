"""The plots of a comparison: sharpness against steadiness, and every frame's value of every metric."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from scalesim.jobs.compare.rows import Row
from scalesim.jobs.compare.tables import Column, columns_of, listed
from scalesim.metrics import key_of
from scalesim.plot import Axis, Panel, Plot, Rule, Series

SHARP, STEADY = "edge_spread_lines", "flicker_percent"
"""The two metrics of the first plot, across its height and its width."""


def plots_of(rows: Sequence[Row], contestants: Sequence[str]) -> tuple[Plot, ...]:
    """Return the plots that the rows have values for, in the order of the page."""
    found = [_sharpness_plot(rows)]
    for column in columns_of(rows, fidelity=False):
        if column.better and not _alike(rows, column.key):
            found.append(_dot_plot(rows, contestants, column))
    return tuple(plot for plot in found if plot is not None)


def alike_sentence(rows: Sequence[Row]) -> str:
    """Return which metrics have no plot because all their values are alike, "" when none."""
    said = []
    for column in columns_of(rows, fidelity=False):
        having = [row for row in rows if row.metrics.get(column.key) is not None]
        if column.better and having and _alike(rows, column.key):
            chains = list(dict.fromkeys(row.chain for row in having))
            few = len(having) < len(rows)
            of = f", had of {listed(chains)} in {len(having)} of {len(rows)} pictures" if few else ""
            said.append(f"{column.label} ({_span(having, column)}{of})")
    return f"Alike within what they resolve, so not plotted: {'; '.join(said)}." if said else ""


def _span(rows: Sequence[Row], column: Column) -> str:
    """Return the values of all as printed: one, or from the least to the largest."""
    values = [value for row in rows if (value := row.metrics.get(column.key)) is not None]
    ends = dict.fromkeys(key_of(column.key).number(value)[0] for value in (min(values), max(values)))
    return " ".join((" to ".join(ends), column.unit)).strip()


def _alike(rows: Sequence[Row], key: str) -> bool:
    """Return whether there is nothing to plot: no value, or none apart by more than the metric resolves."""
    values = [value for row in rows if (value := row.metrics.get(key)) is not None]
    if not values:
        return True
    least, share = key_of(key).difference_parts()
    return max(values) - min(values) <= max(least, share * max(map(abs, values))) + 1e-9


def _screens(rows: Sequence[Row]) -> dict[str, int]:
    """Return each screen's number, which gives it a hue and a shape."""
    return {screen: number for number, screen in enumerate(dict.fromkeys(r.raster for r in rows))}


def _median(rows: Sequence[Row], chain: str, screen: str, key: str) -> float | None:
    values = [r.metrics.get(key) for r in rows if r.chain == chain and r.raster == screen]
    known = [value for value in values if value is not None]
    return float(np.median(known)) if known else None


def _sharpness_plot(rows: Sequence[Row]) -> Plot | None:
    """Return medians over frames, one point per chain and screen; None without both metrics."""
    points: list[tuple[float, float, str, str]] = []
    for chain, screen in dict.fromkeys((row.chain, row.raster) for row in rows):
        flicker, edge = (_median(rows, chain, screen, key) for key in (STEADY, SHARP))
        if flicker is not None and edge is not None:
            points.append((flicker, edge, chain, screen))
    if not points:
        return None
    sharp, steady = key_of(SHARP), key_of(STEADY)
    right = max(1.3 * max(x for x, *_ in points), 1)
    top = max(1.3 * max(y for _, y, *_ in points), 1.0)
    series = tuple(
        Series(
            tuple(x for x, _, _, its in points if its == screen),
            tuple(y for _, y, _, its in points if its == screen),
            label=screen,
            role=number,
        )
        for screen, number in _screens(rows).items()
        if any(its == screen for *_, its in points)
    )
    xs, ys = tuple(x for x, *_ in points), tuple(y for _, y, *_ in points)
    names = Series(xs, ys, role="quiet", size=0.1, texts=tuple(chain for _, _, chain, _ in points))
    rules = (Rule("x", 0.0), *(Rule("y", value, said, dashed=True) for value, said in sharp.marks))
    return Plot(
        "sharpness-steadiness",
        "Sharpness against steadiness, median over frames",
        "Sharpness against steadiness: one point for each chain, its median over all frames. "
        "Sharper is further down, steadier further left.",
        (
            Panel(
                Axis(f"{steady.axis}  ({steady.improves} is left)", -0.045 * right, right),
                Axis(f"{sharp.axis}  ({sharp.improves} is down)", 0.0, top),
                (*series, names),
                rules,
            ),
        ),
        size=(860, 520),
        legend=2,
        wide=True,
    )


def _dot_plot(rows: Sequence[Row], contestants: Sequence[str], column: Column) -> Plot:
    rows = [row for row in rows if row.metrics.get(column.key) is not None]
    chains = [chain for chain in contestants if any(row.chain == chain for row in rows)]
    frames = len({row.frame for row in rows})
    values = [_scaled(column.key, row.metrics[column.key]) for row in rows]
    low, high = min(0.0, *values), max(values)
    room = (high - low or 1.0) * 0.04
    ticks = "; the tick is their median" if frames > 1 else ""
    label = f"{column.label}, {column.unit}" if column.unit else column.label
    names = tuple((float(place), chain) for place, chain in enumerate(chains))
    return Plot(
        "dots-" + column.key.replace("_", "-"),
        f"{column.label}, every frame",
        f"{_capital(column.label)}: one dot for each frame{ticks}. "
        f"{_capital(column.better)} is better{_up_to(column.key)}.",
        (
            Panel(
                Axis(label, low - room, high + room if high > low else low + 1.0),
                Axis("", -0.6, len(chains) - 0.4, ticks=names, downward=True, line=False),
                (*_medians(chains, rows, column), *_dots(chains, rows, column, _screens(rows))),
                tuple(Rule("y", place) for place, _ in names),
            ),
        ),
        size=(560, 26 * len(chains) + 58),
    )


def _up_to(key: str) -> str:
    """Return up to where more is better, "" without an end."""
    known = key_of(key)
    return "" if known.enough is None else f", up to {known.text(known.enough)}"


def _medians(chains: Sequence[str], rows: Sequence[Row], column: Column) -> tuple[Series, ...]:
    """Return the strokes at the chains' medians, of those that have several frames."""
    found = []
    for place, chain in enumerate(chains):
        values = [_scaled(column.key, row.metrics[column.key]) for row in rows if row.chain == chain]
        if len(values) > 1:
            found.append((float(np.median(values)), float(place)))
    if not found:
        return ()
    xs, ys = zip(*found, strict=True)
    return (Series(xs, ys, style="ticks", role="ink", size=17.0),)


def _dots(
    chains: Sequence[str], rows: Sequence[Row], column: Column, screens: Mapping[str, int]
) -> tuple[Series, ...]:
    found = []
    for screen, number in screens.items():
        own = [row for row in rows if row.raster == screen]
        xs = tuple(_scaled(column.key, row.metrics[column.key]) for row in own)
        ys = tuple(float(chains.index(row.chain)) for row in own)
        found.append(Series(xs, ys, role=number, alpha=0.7, size=6.5))
    return tuple(found)


def _scaled(key: str, value: float | None) -> float:
    """Return a value in the unit it is shown with."""
    assert value is not None
    return key_of(key).scaled(value)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
