"""The plot of a flicker study: flicker, and the height of an edge, against the filter before interlacing."""

from __future__ import annotations

from collections.abc import Sequence

from scalesim.jobs.predict.flicker_row import LANDINGS, STEADY, FlickerRow
from scalesim.metrics import key_of
from scalesim.metrics.key import Key
from scalesim.plot import Axis, Panel, Plot, Rule, Series

_PANELS = ("flicker_percent", "edge_spread_lines")
_APART = 0.11
"""How far the marks of one filter stand apart, in filters, so that none hides another."""


def flicker_plot(frame: str, rows: Sequence[FlickerRow]) -> Plot:
    """Return the plot of all rows of a frame."""
    filters = list(dict.fromkeys(row.taps for row in rows))
    ticks = tuple((float(at), _filter_name(taps)) for at, taps in enumerate(filters))
    between = tuple(Rule("x", edge + 0.5) for edge in range(len(filters) - 1))
    across = Axis("taps of the flicker filter", ticks=ticks)
    carrying, empty = _panels_with_data(rows)
    panels = tuple(
        Panel(
            across,
            Axis(f"{key.label}\n{key.shown_unit} ({key.improves} is down)", 0.0, grid=True),
            _series(rows, key.name, filters, named=not number),
            between,
        )
        for number, key in enumerate(carrying)
    )
    title = " and ".join(key.family for key in carrying).capitalize()
    title += f" against the filter before interlacing: {frame}"
    caption = " ".join((*_seen(carrying), _MARKS, *empty))
    return Plot(
        "flicker-study", title, caption, panels, (900, 20 + 310 * len(panels)), legend=3, heading=True
    )


_MARKS = "Hue and shape say where the fields land; hollow marks are the picture moved down by one line."
_SEEN: dict[str, str] = {
    "flicker": "how much the light alternates",
    "sharpness": "how tall a horizontal edge becomes",
}
"""What a panel shows, by the family of its measure."""


def carries(rows: Sequence[FlickerRow]) -> bool:
    """Return whether a plot of the rows would show anything."""
    return bool(_panels_with_data(rows)[0])


def _panels_with_data(rows: Sequence[FlickerRow]) -> tuple[list[Key], list[str]]:
    """Return the measures that have something to draw, and a sentence for each that has not."""
    carrying, empty = [], []
    for key in map(key_of, _PANELS):
        values = [value for row in rows if (value := row.metrics[key.name]) is not None]
        if key.name == "flicker_percent" and not any(value >= STEADY for value in values):
            empty.append("Flicker is not drawn: it is 0.00 % of white for every filter and landing.")
        elif not values:
            why = next((row.why[key.name] for row in rows if key.name in row.why), "it could not be measured")
            empty.append(f"The {key.label} is not drawn: {why}.")
        else:
            carrying.append(key)
    return carrying, empty


def _seen(carrying: Sequence[Key]) -> list[str]:
    """Return what each panel shows."""
    if len(carrying) == 1:
        said = _SEEN[carrying[0].family]
        return [f"{said[0].upper()}{said[1:]}."]
    return [f"Above, {_SEEN[carrying[0].family]}; below, {_SEEN[carrying[1].family]}."]


def _series(
    rows: Sequence[FlickerRow], key: str, filters: Sequence[str], *, named: bool
) -> tuple[Series, ...]:
    """Return one series for each landing and shift: hue and shape say the landing, hollow marks the shift."""
    groups = list(dict.fromkeys((row.landing, row.pair, row.shift) for row in rows))
    landings = list(dict.fromkeys(each[:2] for each in groups))
    found = []
    for number, (landing, pair, shift) in enumerate(groups):
        own = {r.taps: r.metrics[key] for r in rows if (r.landing, r.pair, r.shift) == (landing, pair, shift)}
        aside = (number - (len(groups) - 1) / 2) * _APART
        places = [(at + aside, own[taps]) for at, taps in enumerate(filters) if own.get(taps) is not None]
        label = LANDINGS[landing, pair] + (", moved one line" if shift else "")
        found.append(
            Series(
                tuple(x for x, _ in places),
                tuple(y for _, y in places),
                label if named else "",
                role=landings.index((landing, pair)),
                hollow=bool(shift),
            )
        )
    return tuple(found)


def _filter_name(taps: str) -> str:
    return {"1": "none", "paired": "line pairs"}.get(taps, taps)
