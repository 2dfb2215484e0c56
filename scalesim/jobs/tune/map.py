"""The plot of a tuning's two dials: a map of the scores, with present setting, best and ties."""

from __future__ import annotations

from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.tune.headline import stays
from scalesim.jobs.tune.places import edges_of, place_of, ticks_of
from scalesim.jobs.tune.plain import dial_head, dial_name, score_head, score_scale
from scalesim.plot import Axis, Heat, Panel, Plot, Series


def map_plot(tuning: Findings, title: str) -> Plot:
    """Return the map of every pair of settings."""
    across, down = tuning.dials
    tall, shown = len(down.values), score_scale(tuning.objective)
    scores = [shown(point.score) for point in tuning.curve]
    values = tuple(tuple(scores[k * tall : (k + 1) * tall]) for k in range(len(across.values)))
    reverse = not tuning.objective.higher_is_better
    heat = Heat(edges_of(across), edges_of(down), values, score_head(tuning.objective), reverse=reverse)
    panel = Panel(
        Axis(dial_head(tuning, across), ticks=ticks_of(across)),
        Axis(dial_head(tuning, down), ticks=ticks_of(down)),
        tuple(_marks(tuning)),
        heat=heat,
    )
    same = "The disc is the present setting, which scores best"
    marks = same if stays(tuning) else "The square is the present setting, the disc the best one"
    ties = "; dots are as good" if len(tuning.ties) > 1 else ""
    caption = (
        f"Every pair of {dial_name(tuning, across)} and {dial_name(tuning, down)}, "
        f"{len(tuning.curve)} in all; lighter is better. {marks}{ties}."
    )
    return Plot("curve", title, caption, (panel,), size=(900, 620), legend=3)


def _marks(tuning: Findings) -> list[Series]:
    """Return the ties, the present setting and the best one; one mark where these two are the same."""
    across, down = tuning.dials
    places = [(place_of(across, tie), place_of(down, tie)) for tie in tuning.ties]
    known = [(x, y) for x, y in places if x is not None and y is not None]
    series = []
    if len(known) > 1:
        xs, ys = zip(*known, strict=True)
        series.append(Series(xs, ys, "as good", role="ink", mark=-1, size=4, ringed=True))
    named = [(tuning.best, "now and best", 2, 0)]
    if not stays(tuning):
        named = [(tuning.present, "now", 1, 1), (tuning.best, "best", 2, 0)]
    for point, name, role, mark in named:
        x, y = place_of(across, point), place_of(down, point)
        if x is not None and y is not None:
            series.append(Series((x,), (y,), name, role=role, mark=mark, size=9, ringed=True))
    return series
