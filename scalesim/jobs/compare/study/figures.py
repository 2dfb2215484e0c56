"""The plots of a study: every measure over the time of a clip, and how it is spread over all frames."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from scalesim.jobs.compare.study.kept import Kept
from scalesim.jobs.compare.study.moments import Spreads
from scalesim.metrics import key_of
from scalesim.metrics.key import Key
from scalesim.plot import Axis, Panel, Plot, Rule, Series
from scalesim.rows.ask import Spread
from scalesim.texts import capital

MOST_LINES = 6
"""Chains of one plot over time: more cannot be told apart."""

MOST_CLIPS = 4
_PITCH, _PANEL = 34, 150


def curves(kept: Kept, by: Sequence[str], order: Sequence[str]) -> Iterator[Plot]:
    """Yield a plot for each clip longer than a moment, with a panel for each measure that changes.

    Parameters:  order : labels, the best first; one that is ranked on several screens stands several times
    """
    order = list(dict.fromkeys(order))
    shown = [*order[: MOST_LINES - 1], order[-1]] if len(order) > MOST_LINES else list(order)
    moving = [k for k, each in enumerate(kept.footage) if each.rate is not None and kept.counts[k] > 2]
    for number, source in enumerate(moving[:MOST_CLIPS], start=1):
        panels, widths = [], []
        for name in by:
            lines = [(label, kept.curve(source, kept.labels.index(label), name)) for label in shown]
            lines = [(label, found) for label, found in lines if len(found[0]) > 1]
            if not lines or _flat(key_of(name), [y for _, found in lines for y in found[1]]):
                continue
            widths += [found[2] for _, found in lines]
            panels.append((key_of(name), lines))
        if panels:
            clip = kept.footage[source].name
            yield _over_time(number, clip, panels, max(widths), len(order) - len(shown))


def _flat(key: Key, values: Sequence[float]) -> bool:
    least, share = key.difference_parts()
    return max(values) - min(values) <= max(least, share * max(map(abs, values)))


def _over_time(
    number: int,
    clip: str,
    found: Sequence[tuple[Key, Sequence[tuple[str, tuple[list[float], list[float], int]]]]],
    width: int,
    left_out: int,
) -> Plot:
    labels = list(dict.fromkeys(label for _, lines in found for label, _ in lines))
    panels = []
    for place, (key, lines) in enumerate(found):
        series = tuple(
            Series(
                tuple(xs),
                tuple(key.scaled(y) for y in ys),
                label=label if place == 0 else "",
                style="line",
                role=labels.index(label),
                size=1.6,
            )
            for label, (xs, ys, _) in lines
        )
        time = "time in the clip, s" if place == len(found) - 1 else ""
        name = f"{key.short}, {key.shown_unit}" if key.shown_unit else key.short
        panels.append(Panel(Axis(time), Axis(name, 0 if key.better == "lower" else None, grid=True), series))
    each = "every frame" if width == 1 else f"the mean of the frames in {width} of the clip's"
    said = f"A point is {each}." if width > 1 else "A point is a frame."
    more = ""
    if left_out:
        others = f"{left_out} more chain{' is' if left_out == 1 else 's are'} in the rows"
        more = f" {others}; drawn are the first {MOST_LINES - 1} of the ranking and its last."
    return Plot(
        f"time-{number}",
        f"{clip} over time",
        f"{clip} over time. {said} More is better in what is kept, less in the rest.{more}",
        tuple(panels),
        size=(900, 80 + _PANEL * len(panels)),
        legend=min(3, len(labels)),
        wide=True,
    )


def distributions(found: Spreads) -> Iterator[Plot]:
    """Yield a plot for each measure in which frames or chains differ: a row for each chain, best on top."""
    for name, own in found.items():
        key = key_of(name)
        values = [value for spread in own.values() for value in (*spread.quantiles, spread.worst)]
        if not _flat(key, values):
            yield _distribution(key, own)


def _distribution(key: Key, own: Mapping[str, Spread]) -> Plot:
    sign = -1 if key.better == "higher" else 1
    rows = sorted(own.items(), key=lambda item: sign * key.merit(item[1].median))
    series: list[Series] = []
    for place, (_, spread) in enumerate(rows):
        low, first, _, third, high = (key.scaled(value) for value in spread.quantiles)
        at = (float(place), float(place))
        series.append(Series((low, high), at, style="line", role=0, size=1.4))
        series.append(Series((first, third), at, style="line", role=0, size=7.0, alpha=0.55))
    ys = tuple(float(place) for place in range(len(rows)))
    medians = tuple(key.scaled(spread.median) for _, spread in rows)
    texts = tuple(key.number(spread.median)[0] for _, spread in rows)
    series.append(
        Series(medians, ys, label="median", style="ticks", role="ink", size=13.0, texts=texts, placed="above")
    )
    worst = [(key.scaled(s.worst), float(k)) for k, (_, s) in enumerate(rows)]
    xs = tuple(x for x, _ in worst)
    series.append(Series(xs, tuple(y for _, y in worst), label="worst frame", role=1, size=6.0))
    counts = sorted({spread.n for spread in own.values()})
    n = f"{counts[0]}" if len(counts) == 1 else f"{counts[0]} to {counts[-1]}"
    every = [0.0, *xs, *(key.scaled(value) for spread in own.values() for value in spread.quantiles)]
    room = (max(every) - min(every) or 1.0) * 0.05
    label = f"{key.label}, {key.shown_unit}" if key.shown_unit else key.label
    names = tuple((float(place), name) for place, (name, _) in enumerate(rows))
    return Plot(
        "spread-" + key.name.replace("_", "-"),
        f"{capital(key.label)}, all frames",
        f"{capital(key.label)} of all {n} frames that have it: half of them lie within the thick line, nine "
        f"in ten within the thin one; the stroke with its value is the median, the square the worst frame. "
        f"{capital(key.better)} is better.",
        (
            Panel(
                Axis(label, min(every) - room, max(every) + room),
                Axis("", -0.6, len(rows) - 0.4, ticks=names, downward=True, line=False),
                tuple(series),
                tuple(Rule("y", place) for place, _ in names),
            ),
        ),
        size=(560, (_PITCH + 12) * len(rows) + 96),
        legend=2,
    )
