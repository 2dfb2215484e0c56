"""The plot of a flicker study: flicker, and the height of an edge, against the filter before interlacing."""

from __future__ import annotations

from scalesim.jobs.predict.flicker_study import FlickerRow, FlickerStudy
from scalesim.jobs.predict.flicker_words import LANDINGS
from scalesim.metrics import key_of
from scalesim.page.plots.svg import (
    HUES,
    MARKS,
    ON_PAPER,
    QUIET,
    RULE,
    clean,
    coloured,
    new_figure,
    styled,
    svg_of,
)

_SIZE = (900, 620)
_PANELS = ("flicker_percent", "edge_spread_lines")
_APART = 0.11
"""How far the marks of one filter stand apart, in filters, so that none hides another."""


def flicker_plot(study: FlickerStudy) -> str:
    """Return the plot as an SVG document in the colours of paper."""
    name, title = "flicker-study", "Flicker and sharpness against the filter before interlacing"
    with styled(name):
        figure = new_figure(*_SIZE)
        panels = figure.subplots(len(_PANELS), 1, sharex=True)
        filters = list(dict.fromkeys(row.taps for row in study.rows))
        for axes, key in zip(panels, map(key_of, _PANELS), strict=True):
            _lines(axes, study, key.name, filters)
            axes.set_ylabel(f"{key.label}\n{key.shown_unit} ({key.improves} is down)")
            axes.set_ylim(bottom=0)
            axes.grid(axis="y", color=RULE, linewidth=0.6)
            axes.set_axisbelow(True)
        panels[-1].set_xticks(range(len(filters)), [_filter_name(taps) for taps in filters])
        panels[-1].set_xlabel("taps of the flicker filter")
        handles, labels = panels[0].get_legend_handles_labels()
        figure.legend(handles, labels, loc="upper left", ncols=3, frameon=False, bbox_to_anchor=(0.06, 0.93))
        figure.text(0.07, 0.955, f"{title}: {clean(study.frame)}", fontsize=13)
        figure.subplots_adjust(left=0.095, right=0.985, top=0.84, bottom=0.09, hspace=0.12)
        return coloured(svg_of(figure, name, title), ON_PAPER)


def _lines(axes, study: FlickerStudy, key: str, filters: list[str]) -> None:  # type: ignore[no-untyped-def]
    """Draw one series for each landing and shift: hue and shape say the landing, hollow marks the shift."""
    series = list(dict.fromkeys((row.landing, row.pair, row.shift) for row in study.rows))
    landings = list(dict.fromkeys(each[:2] for each in series))
    for number, (landing, pair, shift) in enumerate(series):
        own = {row.taps: row.metrics[key] for row in study.rows if _of(row, landing, pair, shift)}
        places = [(at, own[taps]) for at, taps in enumerate(filters) if own.get(taps) is not None]
        hue = landings.index((landing, pair)) % len(HUES)
        moved = ", moved one line" if shift else ""
        axes.plot(
            [at + (number - (len(series) - 1) / 2) * _APART for at, _ in places],
            [value for _, value in places],
            linestyle="none",
            clip_on=False,
            marker=MARKS[hue],
            markersize=7,
            color=HUES[hue],
            markerfacecolor="none" if shift else HUES[hue],
            label=LANDINGS[landing, pair] + moved,
        )
    for edge in range(len(filters) - 1):
        axes.axvline(edge + 0.5, color=RULE, linewidth=0.6)
    axes.tick_params(color=QUIET)


def _of(row: FlickerRow, landing: str, pair: str, shift: int) -> bool:
    return (row.landing, row.pair, row.shift) == (landing, pair, shift)


def _filter_name(taps: str) -> str:
    return {"1": "none", "paired": "line pairs"}.get(taps, taps)
