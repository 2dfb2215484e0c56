"""The plot of a tuning's one dial: its curve, every frame's, the period, present setting, best and ties."""

from __future__ import annotations

from scalesim.chain.dial import Dial
from scalesim.chain.vary import Varied
from scalesim.jobs.settings.findings import Findings
from scalesim.jobs.settings.point import Point, value_text
from scalesim.jobs.tune.headline import stays
from scalesim.jobs.tune.map import map_plot
from scalesim.jobs.tune.places import place_of, places_of, ticks_of
from scalesim.jobs.tune.plain import dial_head, dial_name, period_text, score_head, score_scale
from scalesim.plot import Axis, Panel, Plot, Rule, Series, Value

_MOST_FRAMES = 12
"""More frames than this are not drawn one by one."""


def tune_plot(tuning: Findings) -> tuple[Plot, ...]:
    """Return the plot of every setting; none when more than two dials varied."""
    if len(tuning.dials) > 2:
        return ()
    title = f"{score_head(tuning.objective)} against "
    title += " and ".join(dial_name(tuning, dial) for dial in tuning.dials)
    if len(tuning.dials) == 2:
        return (map_plot(tuning, title),)
    dial = tuning.dials[0]
    panel = Panel(
        Axis(dial_head(tuning, dial), ticks=ticks_of(dial)),
        Axis(score_head(tuning.objective), _low(tuning), grid=True),
        (*_frames(tuning, dial), *_mean(tuning, dial), *_marks(tuning, dial)),
        _period(tuning, dial),
        above=_presses(tuning.before.dials, dial, tuning.present),
    )
    return (Plot("curve", title, _caption(tuning, dial), (panel,), legend=5),)


def _low(tuning: Findings) -> Value:
    """Return where the axis begins: at nothing, where less is better."""
    shown = score_scale(tuning.objective)
    known = [score for point in tuning.curve if (score := shown(point.score)) is not None]
    return None if tuning.objective.higher_is_better else min(0.0, *known)


def _frames(tuning: Findings, dial: Varied) -> list[Series]:
    """Return a thin line for each of several frames, with its name at its end."""
    count, shown = len(tuning.frames), score_scale(tuning.objective)
    if not 1 < count <= _MOST_FRAMES:
        return []
    rows = [point.per_frame if len(point.per_frame) == count else (None,) * count for point in tuning.curve]
    return [
        Series(places_of(dial), tuple(map(shown, line)), style="line", role="quiet", size=1.0, end=name)
        for name, line in zip(tuning.frames, zip(*rows, strict=True), strict=True)
    ]


def _mean(tuning: Findings, dial: Varied) -> list[Series]:
    scores = tuple(map(score_scale(tuning.objective), (point.score for point in tuning.curve)))
    several = len(tuning.frames) > 1
    label = f"mean of {len(tuning.frames)} frames" if several else tuning.frames[0]
    end = "mean" if 1 < len(tuning.frames) <= _MOST_FRAMES else ""
    found = [Series(places_of(dial), scores, label, style="line", role=0, size=2.6, end=end)]
    return found if dial.ordered else [*found, Series(places_of(dial), scores, role=0)]


def _marks(tuning: Findings, dial: Varied) -> list[Series]:
    """Return the ties, the present setting and the best one; one mark where these two are the same."""
    shown = score_scale(tuning.objective)
    as_good = [(at, shown(tie.score)) for tie in tuning.ties if (at := place_of(dial, tie)) is not None]
    series = []
    if len(as_good) > 1:
        xs, ys = zip(*as_good, strict=True)
        series.append(Series(xs, ys, "as good", role=2, mark=0, hollow=True, size=9))
    named = [(tuning.best, "now and best", 2, 0)]
    if not stays(tuning):
        named = [(tuning.present, "now", 1, 1), (tuning.best, "best", 2, 0)]
    for point, name, role, mark in named:
        at = place_of(dial, point)
        if at is not None and point.score is not None:
            label = f"{name}: {value_text(point.values[dial.key])}"
            series.append(Series((at,), (shown(point.score),), label, role=role, mark=mark, size=9))
    return series


def _period(tuning: Findings, dial: Varied) -> tuple[Rule, ...]:
    """Return a dashed line at the best setting and at each of its repeats, the period told at one of them."""
    best = place_of(dial, tuning.best)
    if tuning.repeats is None or best is None:
        return ()
    places, every = places_of(dial), tuning.repeats
    first, last = min(places), max(places)
    reach = int((last - first) / every) + 1
    found = [at for k in range(-reach, reach + 1) if first - 1e-9 <= (at := best + k * every) <= last + 1e-9]
    if len(found) < 2:
        return ()
    return tuple(
        Rule("x", at, period_text(tuning) if not k else "", dashed=True, role="quiet")
        for k, at in enumerate(found)
    )


def _caption(tuning: Findings, dial: Varied) -> str:
    count = len(tuning.frames)
    said = f"Every setting tried, {len(tuning.curve)} of them, on {count} frame{'' if count == 1 else 's'}"
    if 1 < count <= _MOST_FRAMES:
        said += "; thin lines are single frames"
    said += (
        ". The disc is the present setting, which scores best."
        if stays(tuning)
        else (". The square is the present setting, the disc the best one.")
    )
    if len(tuning.ties) > 1:
        said += " Rings are settings that are as good."
    if tuning.repeats is not None:
        said += f" The curve {period_text(tuning)}; dashed lines stand where the best setting comes again."
    return said


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
