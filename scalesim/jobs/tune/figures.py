"""The plot of a tuning: the curve of one dial, or the map of two, with present setting, best and ties."""

from __future__ import annotations

from itertools import pairwise

from scalesim.chain.dial import Dial
from scalesim.chain.vary import Varied
from scalesim.jobs.settings.point import Point, value_text
from scalesim.plot import Axis, Heat, Panel, Plot, Series, Value
from scalesim.search.objective import Objective

_MOST_FRAMES = 12
"""More frames than this are not drawn one by one."""

Marked = tuple[Point, Point, tuple[Point, ...]]
"""The present setting, the best one, and all that tie with it."""


def tune_plot(
    curve: tuple[Point, ...],
    dials: tuple[Varied, ...],
    objective: Objective,
    marked: Marked,
    own_dials: tuple[Dial, ...],
    frames: int,
) -> tuple[Plot, ...]:
    """Return the plot of every setting; none when more than two dials varied.

    Parameters:
        own_dials : the box's dials as the chain file has them, for an axis in presses
        frames : how many the scores are means of
    """
    if len(dials) > 2:
        return ()
    title = f"{objective.text} against {' and '.join(dial.key for dial in dials)}"
    if len(dials) == 1:
        panel, caption = _curve(curve, dials[0], objective, marked, own_dials, frames)
        return (Plot("curve", title, caption, (panel,), legend=5),)
    panel, caption = _map(curve, dials, objective, marked)
    return (Plot("curve", title, caption, (panel,), size=(900, 620), legend=3),)


def _curve(
    curve: tuple[Point, ...],
    dial: Varied,
    objective: Objective,
    marked: Marked,
    own_dials: tuple[Dial, ...],
    frames: int,
) -> tuple[Panel, str]:
    places, scores = _places(dial), tuple(point.score for point in curve)
    present, best, ties = marked
    series = []
    if 1 < frames <= _MOST_FRAMES:
        rows = [point.per_frame if len(point.per_frame) == frames else (None,) * frames for point in curve]
        series += [
            Series(places, line, style="line", role="rule", size=1.0, label="" if number else "each frame")
            for number, line in enumerate(zip(*rows, strict=True))
        ]
    mean = "mean of the frames" if frames > 1 else "score"
    style = "line" if dial.ordered else "both"
    series.append(Series(places, scores, mean, style="line", role=0, size=1.8))
    if style == "both":
        series.append(Series(places, scores, role=0))
    as_good = [(at, tie.score) for tie in ties if (at := _place(dial, tie)) is not None]
    if len(as_good) > 1:
        xs, ys = zip(*as_good, strict=True)
        series.append(Series(xs, ys, "as good", style="ticks", role=2, size=10))
    series += [*_mark(dial, present, "now", 1), *_mark(dial, best, "best", 2)]
    known = [score for score in scores if score is not None]
    low = None if objective.higher_is_better else min(0.0, *known)
    panel = Panel(
        Axis(_label(dial), ticks=_ticks(dial)),
        Axis(f"{objective.text}  ({_better(objective)})", low, grid=True),
        tuple(series),
        above=_presses(own_dials, dial, present),
    )
    return panel, (
        f"The score of every setting of {dial.key}. The square is the present setting, the disc the best "
        "one; marks on the curve are settings that are as good."
    )


def _map(
    curve: tuple[Point, ...], dials: tuple[Varied, ...], objective: Objective, marked: Marked
) -> tuple[Panel, str]:
    across, down = dials
    tall = len(down.values)
    values = tuple(
        tuple(point.score for point in curve[k * tall : (k + 1) * tall]) for k in range(len(across.values))
    )
    label = f"{objective.text}  ({_better(objective)})"
    heat = Heat(_edges(across), _edges(down), values, label, reverse=not objective.higher_is_better)
    present, best, ties = marked
    places = [(_place(across, tie), _place(down, tie)) for tie in ties]
    known = [(x, y) for x, y in places if x is not None and y is not None]
    xs, ys = zip(*known, strict=True) if known else ((), ())
    series = [Series(xs, ys, "as good", role="ink", mark=-1, size=4, ringed=True)] if known else []
    for point, name, role, mark in ((present, "now", 1, 1), (best, "best", 2, 0)):
        x, y = _place(across, point), _place(down, point)
        if x is not None and y is not None:
            series.append(Series((x,), (y,), name, role=role, mark=mark, size=9, ringed=True))
    panel = Panel(
        Axis(_label(across), ticks=_ticks(across)),
        Axis(_label(down), ticks=_ticks(down)),
        tuple(series),
        heat=heat,
    )
    return panel, (
        f"The score of every pair of {across.key} and {down.key}; lighter is better. The square is the "
        "present setting, the disc the best one, dots are as good."
    )


def _places(dial: Varied) -> tuple[float, ...]:
    """Return where the values lie on an axis: at themselves, or side by side when they are no numbers."""
    return tuple(float(value) if dial.ordered else float(k) for k, value in enumerate(dial.values))


def _place(dial: Varied, point: Point) -> float | None:
    value = point.values[dial.key]
    if dial.ordered:
        return None if value is None else float(value)
    return float(dial.values.index(value)) if value in dial.values else None


def _mark(dial: Varied, point: Point, name: str, role: int) -> tuple[Series, ...]:
    at: Value = _place(dial, point)
    if at is None or point.score is None:
        return ()
    label = f"{name}: {value_text(point.values[dial.key])}"
    return (Series((at,), (point.score,), label, role=role, mark=0 if name == "best" else 1, size=9),)


def _label(dial: Varied) -> str:
    return f"{dial.key}, {dial.unit}" if dial.unit else dial.key


def _better(objective: Objective) -> str:
    return "better is up" if objective.higher_is_better else "better is down"


def _ticks(dial: Varied) -> tuple[tuple[float, str], ...]:
    if dial.ordered:
        return ()
    return tuple((float(k), value_text(value)) for k, value in enumerate(dial.values))


def _edges(dial: Varied) -> tuple[float, ...]:
    """Return the edges of cells about the values, half way between them."""
    places = _places(dial)
    if len(places) == 1:
        return places[0] - 0.5, places[0] + 0.5
    middles = [(a + b) / 2 for a, b in pairwise(places)]
    return 2 * places[0] - middles[0], *middles, 2 * places[-1] - middles[-1]


def _presses(own_dials: tuple[Dial, ...], dial: Varied, present: Point) -> Axis | None:
    """Return an axis in presses of the box's dial, when the chain says what its steps are."""
    own = next((each for each in own_dials if each.key == dial.key), None)
    value = present.values[dial.key]
    if own is None or not dial.ordered or len(own.steps) < 2 or value is None:
        return None
    start = own.step_of(value)
    if start is None:
        return None
    every = max(1, len(own.steps) // 12)
    ticks = tuple(
        (float(step), f"{k - start:+d}" if k != start else "0")
        for k, step in enumerate(own.steps)
        if (k - start) % every == 0
    )
    return Axis(f"presses of {own.label}" if own.label else "presses of the dial", ticks=ticks)
