"""The plot of a tuning: the curve of one dial, or the map of two, with present setting, best and ties."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from scalesim.chain.dial import Dial
from scalesim.chain.vary import Varied
from scalesim.jobs.tune.tuning import Point, Tuning
from scalesim.jobs.tune.words import value_text
from scalesim.page.plots.svg import HUES, INK, QUIET, RULE, clean, new_figure, styled, svg_of

_CURVE, _MAP = (900, 460), (900, 620)
_MOST_FRAMES = 12
"""More frames than this are not drawn one by one."""


def tune_plot(tuning: Tuning) -> tuple[str, str]:
    """Return (SVG with stand-in colours, caption); ("", "") when more than two dials varied."""
    if len(tuning.dials) > 2:
        return "", ""
    title = f"{clean(tuning.objective.text, 60)} against {' and '.join(dial.key for dial in tuning.dials)}"
    draw, size = (_curve, _CURVE) if len(tuning.dials) == 1 else (_map, _MAP)
    with styled("tuning"):
        figure = new_figure(*size)
        caption = draw(figure, tuning)
        return svg_of(figure, "tuning", title), caption


def _curve(figure: Any, tuning: Tuning) -> str:
    (dial,) = tuning.dials
    places = _places(dial)
    axes = figure.add_axes((0.085, 0.14, 0.895, 0.68))
    frames = np.array([_row(point.per_frame, len(tuning.frames)) for point in tuning.curve], dtype=float)
    if 1 < len(tuning.frames) <= _MOST_FRAMES:
        axes.plot(places, frames, color=RULE, linewidth=1.0, zorder=1)
        axes.plot([], [], color=RULE, linewidth=1.0, label="each frame")
    scores = [np.nan if point.score is None else point.score for point in tuning.curve]
    mean = "mean of the frames" if len(tuning.frames) > 1 else "score"
    axes.plot(places, scores, color=HUES[0], linewidth=1.8, label=mean, zorder=2)
    if not dial.ordered:
        axes.plot(places, scores, linestyle="none", marker="o", color=HUES[0])
    ties = [(at, tie.score) for tie in tuning.ties if (at := _place(dial, tie)) is not None]
    if len(ties) > 1:
        xs, ys = zip(*ties, strict=True)
        axes.plot(
            xs, ys, linestyle="none", marker="|", markersize=10, color=HUES[2], label="as good", zorder=3
        )
    _mark(axes, dial, tuning.present, "now", "s", HUES[1])
    _mark(axes, dial, tuning.best, "best", "o", HUES[2])
    axes.set_xlabel(_label(dial))
    axes.set_ylabel(f"{clean(tuning.objective.text, 48)}  ({_better(tuning)})")
    axes.grid(axis="y", color=RULE, linewidth=0.6)
    axes.set_axisbelow(True)
    if not tuning.objective.higher_is_better:
        axes.set_ylim(bottom=min(0.0, float(np.nanmin(scores))))
    _ticks(axes.set_xticks, dial)
    _presses(axes, tuning, dial)
    figure.legend(loc="upper left", ncols=5, frameon=False, bbox_to_anchor=(0.075, 1.0))
    return (
        f"The score of every setting of {dial.key}. The square is the present setting, the disc the best "
        "one; marks on the curve are settings that are as good."
    )


def _map(figure: Any, tuning: Tuning) -> str:
    across, down = tuning.dials
    shape = (len(across.values), len(down.values))
    scores = np.array([np.nan if p.score is None else p.score for p in tuning.curve]).reshape(shape)
    axes = figure.add_axes((0.1, 0.11, 0.74, 0.79))
    colours = "viridis" if tuning.objective.higher_is_better else "viridis_r"
    mesh = axes.pcolormesh(
        _edges(_places(across)), _edges(_places(down)), scores.T, cmap=colours, rasterized=True
    )
    bar = figure.colorbar(mesh, cax=figure.add_axes((0.86, 0.11, 0.025, 0.79)))
    bar.set_label(f"{clean(tuning.objective.text, 48)}  ({_better(tuning)})")
    for point, name, mark, hue in (
        *((tie, "as good", ".", INK) for tie in tuning.ties),
        (tuning.present, "now", "s", HUES[1]),
        (tuning.best, "best", "o", HUES[2]),
    ):
        x, y = _place(across, point), _place(down, point)
        if x is not None and y is not None:
            known = axes.get_legend_handles_labels()[1]
            label = None if name in known else name
            axes.plot(
                x,
                y,
                mark,
                markersize=9 if mark != "." else 4,
                color=hue,
                markeredgecolor="white",
                label=label,
            )
    axes.set_xlabel(_label(across))
    axes.set_ylabel(_label(down))
    _ticks(axes.set_xticks, across)
    _ticks(axes.set_yticks, down)
    figure.legend(loc="upper left", ncols=3, frameon=False, bbox_to_anchor=(0.09, 1.0))
    return (
        f"The score of every pair of {across.key} and {down.key}; lighter is better. The square is the "
        "present setting, the disc the best one, dots are as good."
    )


def _places(dial: Varied) -> NDArray:
    """Return where the values lie on an axis: at themselves, or side by side when they are no numbers."""
    return np.array(dial.values, dtype=float) if dial.ordered else np.arange(len(dial.values), dtype=float)


def _place(dial: Varied, point: Point) -> float | None:
    value = point.values[dial.key]
    if dial.ordered:
        return None if value is None else float(value)
    return float(dial.values.index(value)) if value in dial.values else None


def _row(scores: tuple[float | None, ...], count: int) -> list[float]:
    known = [np.nan if score is None else score for score in scores]
    return known if len(known) == count else [np.nan] * count


def _mark(axes: Any, dial: Varied, point: Point, name: str, mark: str, hue: str) -> None:
    at = _place(dial, point)
    if at is not None and point.score is not None:
        label = f"{name}: {value_text(point.values[dial.key])}"
        axes.plot(at, point.score, mark, markersize=9, color=hue, label=label, zorder=4)


def _label(dial: Varied) -> str:
    return f"{dial.key}, {dial.unit}" if dial.unit else dial.key


def _better(tuning: Tuning) -> str:
    return "better is up" if tuning.objective.higher_is_better else "better is down"


def _ticks(set_ticks: Any, dial: Varied) -> None:
    if not dial.ordered:
        set_ticks(range(len(dial.values)), [clean(value_text(value), 16) for value in dial.values])


def _edges(places: NDArray) -> NDArray:
    """Return the edges of cells about places, half way between them."""
    if len(places) == 1:
        return np.array([places[0] - 0.5, places[0] + 0.5])
    middles = (places[1:] + places[:-1]) / 2
    return np.concatenate([[2 * places[0] - middles[0]], middles, [2 * places[-1] - middles[-1]]])


def _presses(axes: Any, tuning: Tuning, dial: Varied) -> None:
    """Add an axis above in presses of the box's dial, when the chain says what its steps are."""
    own: Dial | None = next((each for each in tuning.before.dials if each.key == dial.key), None)
    present = tuning.present.values[dial.key]
    if own is None or not dial.ordered or len(own.steps) < 2 or present is None:
        return
    start = own.step_of(present)
    if start is None:
        return
    every = max(1, len(own.steps) // 12)
    shown = [k for k in range(len(own.steps)) if (k - start) % every == 0]
    above = axes.secondary_xaxis("top")
    above.set_xticks(
        [float(own.steps[k]) for k in shown], [f"{k - start:+d}" if k != start else "0" for k in shown]
    )
    above.set_xlabel(f"presses of {clean(own.label)}" if own.label else "presses of the dial", color=QUIET)
