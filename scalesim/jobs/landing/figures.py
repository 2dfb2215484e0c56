"""The pictures that explain a landing: circuits against the sync, the lines that result, maps."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from scalesim.core.sync_wave import Wave
from scalesim.plot import Axis, Heat, Panel, Plot, Rule, Series
from scalesim.texts import capital
from scalesim.tube.lock.circuit import Clocked, Integrator
from scalesim.tube.lock.curves import FROM_LINES, TO_LINES, Curve, curve_of, sync_curve
from scalesim.tube.lock.landings import Landing, landings
from scalesim.tube.lock.on_display import Landed

FIELDS = ("first field", "second field")
MAP_POINTS = 100
_SHOWN_LINES = 4
_WIDTHS, _ALPHAS, _DOTS = (2.6, 1.1), (0.55, 1.0), (15, 8)
"""Of the first and the second field: so that both are seen where they lie on each other."""
_PANEL = 150


def intervals_plot(wave: Wave, found: Mapping[str, Landed]) -> Plot:
    """Return both vertical syncs, aligned, and what each circuit looks at, one below another."""
    panels = [_sync_panel(wave)]
    panels += [_circuit_panel(wave, name, each) for name, each in found.items()]
    return Plot(
        "intervals",
        "Where each field begins, circuit by circuit",
        "Both vertical syncs, aligned by lines, and below them what each circuit compares with its level "
        "(dashed) at its own values. A mark is the instant at which a field begins, open for the "
        "first field, "
        "full for the second. Marks half a line apart interlace; marks on each other draw both fields on one "
        "set of lines.",
        tuple(panels),
        (940, 60 + _PANEL * len(panels)),
        legend=2,
        wide=True,
    )


def _x_axis() -> Axis:
    return Axis(
        "lines since the line in which vertical sync of the standard signal begins",
        FROM_LINES,
        TO_LINES,
        grid=True,
    )


def _sync_panel(wave: Wave) -> Panel:
    """Return sync of both fields, down where it is there, the first above the second."""
    curve = sync_curve(wave)
    series = tuple(
        Series(
            tuple(curve.x.tolist()),
            tuple((1.3 * (len(curve.y) - 1 - k) + 1 - each).tolist()),
            FIELDS[k],
            "line",
            role=k,
            size=1.2,
        )
        for k, each in enumerate(curve.y)
    )
    return Panel(_x_axis(), Axis("sync", -0.2, 2.5, ticks=((0.5, "second"), (1.8, "first"))), series)


def _circuit_panel(wave: Wave, name: str, found: Landed) -> Panel:
    landing = found.first
    curve = curve_of(wave, found.circuit, landing.times_us)
    offset = _offsets(curve)
    series = [
        Series(
            tuple(curve.x.tolist()),
            tuple(None if np.isnan(each) else float(each) + offset[k] for each in own),
            "",
            "line",
            role=k,
            size=_WIDTHS[k],
            alpha=_ALPHAS[k],
        )
        for k, own in enumerate(curve.y)
    ]
    for k, ticks in enumerate(curve.ticks):
        level = tuple(offset[k] + 0.5 if curve.level is None else curve.level for _ in ticks)
        series.append(Series(ticks, level, "", "ticks", role="quiet", size=5))
    series += _begins(wave, curve, landing, offset)
    rules = () if curve.level is None else (Rule("y", curve.level, dashed=True, role="quiet"),)
    low, high = _ends(curve, offset)
    named = ((0.5, "second"), (1.8, "first")) if curve.level is None else ()
    return Panel(_x_axis(), Axis(f"{name}: {curve.label}", low, high, ticks=named), tuple(series), rules)


def _offsets(curve: Curve) -> tuple[float, ...]:
    """Return by how much the curves are drawn apart: only those that have no level to be compared with."""
    return (1.3, 0.0) if curve.level is None else (0.0,) * len(curve.y)


def _ends(curve: Curve, offset: tuple[float, ...]) -> tuple[float, float]:
    if curve.level is None:
        return -0.2, 2.5
    whole = np.concatenate(
        [own[np.isfinite(own)] + shift for own, shift in zip(curve.y, offset, strict=True)]
    )
    low, high = float(min(whole.min(), curve.level)), float(max(whole.max(), curve.level))
    return low - 0.08 * (high - low), high + 0.12 * (high - low)


def _begins(wave: Wave, curve: Curve, landing: Landing, offset: tuple[float, ...]) -> list[Series]:
    """Return a dot where each field begins."""
    made = []
    for k, time in enumerate(landing.times_us):
        x = time / wave.line_us
        y = offset[k] + 0.5 if curve.level is None else curve.level
        made.append(Series((x,), (y,), "", "dots", role=k, size=_DOTS[k], hollow=k == 0))
    return made


def glass_plot(found: Mapping[str, Landed]) -> Plot:
    """Return the lines of both fields on the glass, circuit by circuit."""
    ticks = tuple((float(k), name) for k, name in enumerate(found))
    series = []
    for field, label in enumerate(FIELDS):
        x: list[float] = []
        y: list[float] = []
        for k, each in enumerate(found.values()):
            lines = each.first.lines
            if lines is None:
                continue
            shift = lines if field else 0.0
            for line in range(-2, _SHOWN_LINES + 2):
                if (
                    -0.5 <= line + shift + 1e-9 < _SHOWN_LINES - 0.5
                ):  # as many of either field, wherever it lies
                    x.append(k - 0.13 + 0.26 * field)
                    y.append(line + shift)
        series.append(Series(tuple(x), tuple(y), label, "across", role=field, size=26))
    rolls = [k for k, each in enumerate(found.values()) if each.first.lines is None]
    if rolls:
        texts = ("rolls",) * len(rolls)
        middle = (_SHOWN_LINES - 1) / 2
        series.append(
            Series(
                tuple(map(float, rolls)),
                (middle,) * len(rolls),
                "",
                "dots",
                role="quiet",
                texts=texts,
                size=1,
            )
        )
    return Plot(
        "glass",
        "The lines that result on the glass",
        "Four scan lines of each field, from within the picture, at each circuit's own values, the first "
        "field at the left and the second at the right of each pair: level with each other they are one set "
        "of lines, halfway between they interlace.",
        (
            Panel(
                Axis("", -0.6, len(found) - 0.4, ticks=ticks),
                Axis(
                    "height on the glass, lines of a field",
                    -0.6,
                    _SHOWN_LINES - 0.4,
                    downward=True,
                    grid=True,
                ),
                tuple(series),
            ),
        ),
        (940, 330),
        legend=2,
        wide=True,
    )


def maps(wave: Wave, found: Mapping[str, Landed]) -> tuple[Plot, ...]:
    """Return L over time constant and threshold, for every circuit that has both."""
    made = []
    for name, each in found.items():
        circuit = each.circuit
        if isinstance(circuit, Integrator) or (
            isinstance(circuit, Clocked) and circuit.front == "integrator"
        ):
            made.append(map_of(wave, name, circuit))
    return tuple(made)


def map_of(wave: Wave, name: str, circuit: Integrator | Clocked, points: int = MAP_POINTS) -> Plot:
    """Return L over a circuit's ranges of time constant and threshold."""
    spans = circuit.spans
    x_edges = np.geomspace(*spans["time_constant_us"], points + 1)
    y_edges = np.linspace(*spans["threshold_v"], points + 1)
    taus = np.sqrt(x_edges[1:] * x_edges[:-1])
    levels = (y_edges[1:] + y_edges[:-1]) / 2
    values = {"time_constant_us": np.repeat(taus, points), "threshold_v": np.tile(levels, points)}
    lines = landings(wave, circuit, values).reshape(points, points)
    heat = Heat(
        tuple(x_edges.tolist()),
        tuple(y_edges.tolist()),
        tuple(tuple(None if np.isnan(v) else float(v) for v in row) for row in lines),
        "second field below the first, lines",
        low=0.0,
        high=1.0,
    )
    own = Series(
        (circuit.time_constant_us,), (circuit.threshold_v,), "", "dots", role=1, size=11, ringed=True
    )
    return Plot(
        f"map-{name.replace(' ', '-')}",
        f"{name}: where the second field lands, over time constant and threshold",
        f"{capital(name)}: how many lines the second field lands below the first. 0.5 interlaces, 0 and 1 "
        "draw one set of lines. Blank is no lock: line sync alone reaches the threshold, or sync never does. "
        "The dot is the circuit's own values.",
        (
            Panel(
                Axis("time constant, \u00b5s", *spans["time_constant_us"]),
                Axis("threshold, V", *spans["threshold_v"]),
                (own,),
                heat=heat,
            ),
        ),
        (620, 430),
    )
