"""The plots of an answer, as data."""

from __future__ import annotations

import numpy as np

from scalesim.jobs.trace.excerpts import AFTER, BEFORE, VerticalExcerpt
from scalesim.jobs.trace.found import Found
from scalesim.jobs.trace.tables import asked, classes
from scalesim.plot import Axis, Panel, Plot, Rule, Series
from scalesim.signal.waveform.classes import KINDS

_NAMES = {
    "line": "line",
    "equalising": "equalising",
    "broad": "broad",
    "odd": "none of these",
}


def vertical_plot(found: Found) -> Plot | None:
    """Return the vertical syncs of two fields above each other, aligned where their fields begin."""
    if not found.verticals:
        return None
    panels = tuple(_vertical(each, first=number == 0) for number, each in enumerate(found.verticals))
    two = len(panels) == 2
    seen = {
        "interlaced": "One field's line pulses stand on the thin lines, the other's half way between: "
        "the second field begins half a line off, which is interlace.",
        "progressive": "Line pulses stand at the same places in both: every field begins alike, which is "
        "progressive.",
    }.get(found.verdict.answer, "")
    if not two:
        seen = "One vertical sync was recorded; interlace is seen by comparing two."
    return Plot(
        "vertical",
        "Where fields begin: two vertical syncs aligned" if two else "A vertical sync",
        "Aligned at the begin of vertical sync, with every pulse marked by its class below it; the picture "
        f"is cut off. {seen}",
        panels,
        size=(1180, 190 * len(panels) + 90),
        legend=4,
        wide=True,
    )


def _vertical(each: VerticalExcerpt, *, first: bool) -> Panel:
    low = 1.45 * each.bottom_mv
    top = -0.75 * each.bottom_mv  # the picture above is cut off: sync is what is looked at
    series = [Series(each.lines, each.mv, style="line", role="quiet", size=1.0)]
    for number, kind in enumerate(KINDS):
        places = tuple(at for at, k in zip(each.pulses, each.kinds, strict=True) if k == number)
        if places or (first and kind != "odd"):
            series.append(
                Series(
                    places or (None,),
                    tuple([1.22 * each.bottom_mv] * len(places)) or (None,),
                    label=_NAMES[kind],
                    role=number,
                )
            )
    ticks = tuple((float(k), str(k)) for k in range(-int(BEFORE), int(AFTER) + 1))
    return Panel(
        Axis("lines after the field begins", -BEFORE, AFTER, ticks=ticks, grid=True),
        Axis(f"mV, {each.title}", low, top),
        tuple(series),
        rules=(Rule("x", 0.0, role="ink"),),
    )


def line_plot(found: Found) -> Plot | None:
    """Return one line of every channel with what its levels should be."""
    if not found.line:
        return None
    main = found.main
    rules = [Rule("y", 0.0, "blanking")]
    sync = found.sync
    if sync is not None and (
        sync.kind != "sync" or sync.sync_mv is None or sync.sync_mv < 2 * sync.nominal_sync_mv
    ):
        rules.append(Rule("y", -sync.nominal_sync_mv, f"sync {sync.nominal_sync_mv:.0f} mV", dashed=True))
    if main is not None and main.kind != "sync":
        rules.append(Rule("y", main.picture_mv, f"white {main.picture_mv:.0f} mV", dashed=True, role="ink"))
    series = tuple(
        Series(each.us, each.mv, label=each.name, style="line", role=number)
        for number, each in enumerate(found.line)
    )
    count = max(each.lines for each in found.line)
    return Plot(
        "line",
        "One line with its levels",
        f"The mean of {count} lines that carry the highest level, against what the system asks (dashed).",
        (Panel(Axis("µs after the edge of sync"), Axis("mV above blanking"), series, rules=tuple(rules)),),
        size=(1180, 420),
        legend=4 if len(series) > 1 else 0,
        wide=True,
    )


def width_plot(found: Found) -> Plot | None:
    """Return how far widths are off what the standard asks, against its tolerance."""
    timing, standard = found.timing, found.standard
    if timing is None or standard is None:
        return None
    held = classes(timing)
    series = []
    for place, (name, _) in enumerate(held):
        limit = 1000 * asked(standard, name).plus_minus
        series.append(
            Series(
                (float(place), float(place)),
                (-limit, limit),
                label="tolerance" if place == 0 else "",
                style="line",
                role="rule",
                size=16.0,
            )
        )
    off = [1000 * (float(np.median(widths)) - asked(standard, name).us) for name, widths in held]
    spread = tuple(500 * float(np.ptp(np.percentile(widths, (5, 95)))) for _, widths in held)
    series.append(
        Series(
            tuple(float(k) for k in range(len(held))),
            tuple(off),
            label="median, and where 90 % lie",
            role=0,
            error=spread,
        )
    )
    ticks = tuple((float(k), f"{name}, n {len(widths)}") for k, (name, widths) in enumerate(held))
    samples = 1000 * timing.interval_us
    return Plot(
        "widths",
        "Widths of the pulses against their tolerances",
        f"How far each class is from the standard's width. One sample is {samples:.3g} ns; broad pulses "
        "that are longer or shorter than half a line, as many sources have, lie outside.",
        (
            Panel(
                Axis("", -0.6, len(held) - 0.4, ticks=ticks),
                Axis("ns off what is asked", grid=True),
                tuple(series),
                rules=(Rule("y", 0.0),),
            ),
        ),
        size=(620, 420),
        legend=2,
    )


def field_plot(found: Found) -> Plot | None:
    """Return the lines of each field, and the offset that gives."""
    timing = found.timing
    if timing is None or not timing.fields:
        return None
    numbers = tuple(float(k + 1) for k in range(len(timing.fields)))
    lines = tuple(field.lines for field in timing.fields)
    offsets = tuple(field.offset for field in timing.fields)
    errors = tuple(max(field.error, 0.001) for field in timing.fields)
    middle = sum(lines) / len(lines)
    many = len(numbers) > 12
    step = max(1, len(numbers) // 12)
    ticks = tuple((n, f"{n:.0f}") for n in numbers[::step])
    x = Axis("field", 0.5, len(numbers) + 0.5, ticks=ticks)
    return Plot(
        "fields",
        "Lines of each field, and the offset of the next",
        "Each field is counted alone. What is over whole lines is how far the next field starts off: 1/2 is "
        f"interlaced, 0 progressive. n {len(numbers)} whole fields.",
        (
            Panel(x, Axis("lines", middle - 1.2, middle + 1.2, grid=True), (Series(numbers, lines, role=0),)),
            Panel(
                x,
                Axis("offset, line", -0.3, 0.8, ticks=((0.0, "0"), (0.25, "¼"), (0.5, "½"), (0.75, "¾"))),
                (Series(numbers, offsets, role=1, error=errors),),
                rules=(Rule("y", 0.0, "progressive"), Rule("y", 0.5, "interlaced")),
            ),
        ),
        size=(1180 if many else 620, 420),
        wide=many,
    )


def figures(found: Found) -> tuple[Plot, ...]:
    """Return every plot that can be drawn."""
    made = (vertical_plot(found), line_plot(found), width_plot(found), field_plot(found))
    return tuple(each for each in made if each is not None)
