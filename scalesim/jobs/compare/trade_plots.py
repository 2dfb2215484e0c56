"""What detail costs: a point for each contestant, its detail kept against what it pays for that.

Medians are those of the summary table: over the frames that are ranked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.compare.contest import Contest, Measure
from scalesim.jobs.compare.medians import frames_word
from scalesim.metrics.key import Key
from scalesim.plot import Axis, Panel, Plot, Rule, Series
from scalesim.texts import capital

KEPT, STEADY = "detail_kept", "flicker_percent"
COSTS = ("false_detail", "lost_lines")
"""What a still picture pays for detail; the one in which its chains differ more, in ties, is plotted."""
MOST = 4


def trade_plots(contests: Sequence[Contest]) -> tuple[Plot, ...]:
    """Return four such plots at most: of flicker where something flickers, else of false or lost detail."""
    found = [plot for own in contests for plot in _trades(own)][:MOST]
    return tuple(replace(plot, name=f"trade-{number}") for number, plot in enumerate(found, start=1))


def ties_apart(key: Key, values: NDArray) -> float:
    """Return how many ties lie between the ends of values; a difference that says nothing is 1 at most."""
    least, share = key.difference_parts()
    return float(np.ptp(values)) / (max(least, share * float(np.abs(values).max())) + 1e-9)


def _trades(own: Contest) -> list[Plot]:
    """Return a contest's plots: of those that flicker and those that do not, where it has both."""
    measures = {m.key.name: m for m in own.measures}
    flicker = measures.get(STEADY)
    flickers = np.zeros(len(own.chains), bool)
    if flicker is not None:
        medians = [flicker.median(k) for k in range(len(own.chains))]
        flickers = np.array([bool(m and m > flicker.key.tie) for m in medians])
    costs = [m for name in COSTS if (m := measures.get(name)) is not None]
    costs.sort(key=lambda m: -_range(m))
    found = []
    if flicker is not None and flickers.any():
        found.append(_trade(own, measures.get(KEPT), flicker))
    if costs and not flickers.all():
        found.append(_trade(own, measures.get(KEPT), costs[0]))
    return [plot for plot in found if plot is not None]


def _range(measure: Measure) -> float:
    """Return how many ties apart its medians are."""
    medians = [m for k in range(measure.rated.size) if (m := measure.median(k)) is not None]
    return ties_apart(measure.key, np.array(medians)) if medians else 0.0


def _trade(own: Contest, kept: Measure | None, cost: Measure) -> Plot | None:
    """Return a measure against detail kept, medians; None with fewer than two contestants that have both."""
    if kept is None:
        return None
    points = []
    for k in range(len(own.chains)):
        pair = kept.median(k), cost.median(k)
        if pair[0] is not None and pair[1] is not None:
            points.append((k, kept.key.scaled(pair[0]), cost.key.scaled(pair[1])))
    if len(points) < 2 or max(_range(m) for m in (kept, cost)) <= 1:
        return None
    texts = tuple(f"{own.chains[k]}\n{_pair(kept.key, cost.key, own, k)}" for k, *_ in points)
    xs, ys = tuple(x for _, x, _ in points), tuple(y for *_, y in points)
    names = Series(xs, ys, role="quiet", size=0.1, alpha=0.0, texts=texts)
    top = max(1.25 * max(ys), 1.0)
    return Plot(
        "trade",
        f"{capital(cost.key.short)} against detail kept: {own.name}",
        f"{capital(own.name)}: {cost.key.short} against vertical detail kept, medians over "
        f"{frames_word(min(kept.frames, cost.frames))}. The best corner is at the bottom right. "
        "A filled point is not beaten in everything by any other; a hollow one is.",
        (
            Panel(
                Axis(f"{kept.key.axis} (more is right)", *_ends(xs)),
                Axis(f"{cost.key.axis} ({cost.key.improves} is down)", -0.14 * top, top),
                (*_marks(own, points), names),
                (Rule("y", 0.0),),
            ),
        ),
        size=(560, 400),
        legend=2 if own.captured else 0,
    )


def _marks(own: Contest, points: Sequence[tuple[int, float, float]]) -> list[Series]:
    """Return the points: hollow if another beats it in everything, of another shape if captured."""
    found: list[Series] = []
    for role, said in enumerate(("predicted", "captured")):
        for hollow in (False, True):
            its = [
                (x, y) for k, x, y in points if (k in own.captured) == bool(role) and own.beaten[k] == hollow
            ]
            label = said if own.captured and not any(s.label == said for s in found) else ""
            if its:
                xs, ys = zip(*its, strict=True)
                found.append(Series(xs, ys, label=label, role=role, hollow=hollow, size=9.0))
    return found


def _pair(one: Key, other: Key, own: Contest, k: int) -> str:
    medians = {m.key: m.median(k) for m in own.measures}
    first, second = (f"{key.number(medians[key] or 0.0)[0]}\N{NO-BREAK SPACE}%" for key in (one, other))
    return f"{first} kept, {second} {'flicker' if other.name == STEADY else other.short.split()[0]}"


def _ends(values: Sequence[float]) -> tuple[float, float]:
    """Return the ends of an axis about values, with room for labels; not below 0."""
    room = max(0.25 * (max(values) - min(values)), 4.0)
    return max(0.0, min(values) - room), max(values) + room
