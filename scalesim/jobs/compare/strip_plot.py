"""A measure frame by frame: a row for each contestant, the best median on top, a dot for each frame."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scalesim.jobs.compare.contest import Contest, Measure
from scalesim.metrics.key import Key
from scalesim.plot import Axis, Panel, Plot, Rule, Series
from scalesim.texts import capital

_PITCH = 46
"""Dots from row to row: a dot, its value above and a frame's name below."""


def measures_of(own: Contest, key: Key) -> list[Measure]:
    """Return the contest's measure of a key, [] without it."""
    return [measure for measure in own.measures if measure.key == key]


def strip_plot(contests: Sequence[Contest], key: Key) -> Plot:
    """Return one row for each contestant, the best median on top, a dot for each frame."""
    sign = -1 if key.better == "higher" else 1
    rows = sorted(_rows(contests, key), key=lambda row: sign * key.merit(row.median))
    frames = max(len(row.values) for row in rows)
    every = [value for row in rows for value in row.values]
    low, high = min(0.0, *every), max(every)
    room = (high - low or 1.0) * 0.05
    screens = [n for n in range(len(contests)) if any(row.screen == n for row in rows)]
    label = f"{key.label}, {key.shown_unit}" if key.shown_unit else key.label
    names = tuple((float(place), row.chain) for place, row in enumerate(rows))
    dots = [_dots(rows, n, contests[n].name if len(screens) > 1 else "") for n in screens]
    said = "the value of the one frame"
    if frames > 1:
        said = "a dot for each frame. The stroke with its value is the median; the worst frame has its name"
    return Plot(
        "dots-" + key.name.replace("_", "-"),
        f"{capital(key.label)}, every frame",
        f"{capital(key.label)}: {said}. {capital(key.better)} is better{_up_to(key)}.",
        (
            Panel(
                Axis(label, low - room, high + room if high > low else low + 1.0),
                Axis("", -0.6, len(rows) - 0.4, ticks=names, downward=True, line=False),
                (*_medians(rows, key), *dots, *_worst(rows, key, sign)),
                tuple(Rule("y", place) for place, _ in names),
            ),
        ),
        size=(560, _PITCH * len(rows) + 66 + (22 * len(screens) if len(screens) > 1 else 0)),
        legend=1 if len(screens) > 1 else 0,
    )


@dataclass(frozen=True)
class _Row:
    """Whose it is, on which screen, its median in the measure's unit, and every frame's value as shown."""

    chain: str
    screen: int
    median: float
    values: list[float]
    frames: list[str]


def _rows(contests: Sequence[Contest], key: Key) -> list[_Row]:
    found = []
    for screen, own in enumerate(contests):
        for measure in measures_of(own, key):
            for k, chain in enumerate(own.chains):
                had = np.flatnonzero(np.isfinite(measure.values[:, k]))
                median = measure.median(k)
                if median is not None:
                    values = [key.scaled(float(v)) for v in measure.values[had, k]]
                    found.append(_Row(chain, screen, median, values, [own.frames[f] for f in had]))
    return found


def _medians(rows: Sequence[_Row], key: Key) -> tuple[Series, ...]:
    """Return the strokes at the medians, each with its value."""
    xs = tuple(key.scaled(row.median) for row in rows)
    ys = tuple(float(place) for place in range(len(rows)))
    texts = tuple(key.number(row.median)[0] for row in rows)
    size = 13.0 if any(len(row.values) > 1 for row in rows) else 0.1
    return (Series(xs, ys, style="ticks", role="ink", size=size, texts=texts, placed="above"),)


def _dots(rows: Sequence[_Row], screen: int, label: str) -> Series:
    own = [(place, row) for place, row in enumerate(rows) if row.screen == screen]
    its = [(value, float(place)) for place, row in own for value in row.values]
    xs, ys = zip(*its, strict=True)
    return Series(xs, ys, label=label, role=screen, alpha=0.75, size=7.0)


def _worst(rows: Sequence[_Row], key: Key, sign: int) -> tuple[Series, ...]:
    """Return the names of the frames that come off worst, of rows whose frames differ as printed."""
    found = []
    for place, row in enumerate(rows):
        worst = int(np.argmax(sign * np.array(row.values)))
        if len({f"{value:.1f}" for value in row.values}) > 1:
            found.append((row.values[worst], float(place), row.frames[worst]))
    if not found:
        return ()
    xs, ys, texts = zip(*found, strict=True)
    return (Series(xs, ys, role="quiet", size=0.1, alpha=0.0, texts=texts, placed="below"),)


def _up_to(key: Key) -> str:
    """Return up to where more is better, "" without an end."""
    return "" if key.enough is None else f", up to {key.text(key.enough)}"
