"""The plots of an answer, as data."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from scalesim.jobs.lag.device import Device
from scalesim.plot import Axis, Panel, Plot, Series

MOST_POINTS = 2500
MOST_PANELS = 8
HUES = 4
Style = Literal["line", "dots", "both"]
LEAST_SPAN = 0.25
"""Height of a panel, of a frame, at least: noise is not blown up. All panels of a plot have one scale."""
_UNITS = ((7200.0, 3600.0, "h"), (240.0, 60.0, "min"), (0.0, 1.0, "s"))


def time_plot(devices: tuple[Device, ...]) -> Plot:
    """Return every reading over time, one panel a device, with the fitted sawtooth."""
    shown = devices[:MOST_PANELS]
    longest = max(each.study.seconds for each in shown)
    scale, unit = next((by, name) for least, by, name in _UNITS if longest >= least)
    tall = max(max(_range(each)[1] - _range(each)[0], LEAST_SPAN * each.study.frame_ms) for each in shown)
    panels = tuple(
        _over_time(each, scale, unit, longest, 1.08 * tall, first=number == 0, named=len(devices) > 1)
        for number, each in enumerate(shown)
    )
    scaled = "; all panels have one scale" if len(shown) > 1 else ""
    drifting = any(each.study.drifts for each in shown)
    line = (
        " The line is the fitted sawtooth: it falls or rises by a frame where it wraps." if drifting else ""
    )
    left = (
        f" The first {MOST_PANELS} of {len(devices)} devices are drawn." if len(devices) > MOST_PANELS else ""
    )
    astray = any(each.astray.any() for each in shown)
    told = " Hollow marks, and some beyond the panel, lie far from the fit, which leaves them out."
    hollow = told if astray else ""
    return Plot(
        "lag",
        "Lag over time",
        f"Every mark is a reading{scaled}.{line}{hollow}{left}",
        panels,
        size=(1180, 90 + (330 if len(shown) == 1 else 190 * len(shown))),
        legend=3,
        wide=True,
    )


def _over_time(
    device: Device, scale: float, unit: str, longest: float, tall: float, *, first: bool, named: bool
) -> Panel:
    study, astray = device.study, device.astray
    chosen = _spread_out(np.flatnonzero(~astray))
    series = [_dots(study.times[chosen] / scale, study.lags[chosen], "reading" if first else "")]
    low, high = _range(device)
    spare = max(tall - (high - low), 0.1 * (high - low)) / 2
    low, high = low - spare, high + spare
    far = _spread_out(np.flatnonzero(astray & (study.lags > low) & (study.lags < high)))
    if len(far):
        x, y = study.times[far] / scale, study.lags[far]
        series.append(
            Series(
                tuple(map(float, x)),
                tuple(map(float, y)),
                label="astray" if first else "",
                role="quiet",
                hollow=True,
            )
        )
    line = _sawtooth_line(device)
    if line is not None:
        x, y = line
        series.append(
            Series(
                tuple(float(v) / scale for v in x),
                tuple(None if np.isnan(v) else float(v) for v in y),
                label="fitted sawtooth" if first else "",
                style="line",
                role=1,
                size=1.4,
            )
        )
    title = f"{device.label}, ms" if named else "lag, ms"
    axis = Axis(f"time, {unit}", 0.0, max(longest / scale, 1e-6))
    return Panel(axis, Axis(title, low, high, grid=True), tuple(series))


def _range(device: Device) -> tuple[float, float]:
    """Return the least and the greatest reading that is not astray, ms."""
    kept = _kept(device)
    return float(kept.min()), float(kept.max())


def _kept(device: Device) -> NDArray:
    """Return the readings that are not astray, all of them where every one is."""
    kept = device.study.lags[~device.astray]
    return kept if len(kept) else device.study.lags


def _sawtooth_line(device: Device) -> tuple[NDArray, NDArray] | None:
    """Return the fit as a line broken at every wrap; None without drift, or with too many wraps to see."""
    study = device.study
    if not study.drifts or not study.wrap_s or study.seconds / study.wrap_s > 60:
        return None
    times = np.linspace(0, study.seconds, MOST_POINTS)
    fit = study.fit(times)
    assert fit is not None
    jumps = np.abs(np.diff(fit, prepend=fit[:1])) > study.frame_ms / 2
    return times, np.where(jumps, np.nan, fit)


def share_plot(devices: tuple[Device, ...], *, alone: bool) -> Plot:
    """Return what share of the readings lies at or below each lag, all devices in one panel."""
    series = []
    few = len(devices) <= HUES  # more are told apart by their marks
    for number, device in enumerate(devices[:MOST_PANELS]):
        lags = np.sort(_kept(device))
        count = len(lags)
        places = np.unique(np.linspace(0, count - 1, min(count, 400 if few else 15)).astype(np.int64))
        x = tuple(map(float, lags[places]))
        y = tuple(100 * (int(k) + 1) / count for k in places)
        label = device.label if len(devices) > 1 else ""
        style: Style = ("line" if few else "both") if count > 1 else "dots"
        size, hollow = (0, False) if few else (4, number >= HUES)
        series.append(Series(x, y, label=label, style=style, role=number, size=size, hollow=hollow))
    frame = devices[0].study.frame_ms
    ends = [_range(each) for each in devices[:MOST_PANELS]]
    low, high = min(low for low, _ in ends), max(high for _, high in ends)
    room = max(0.05 * (high - low), 0.5)
    return Plot(
        "share",
        "How often lag was at or below a value",
        "A steep curve is a constant lag; one that rises evenly over a frame "
        f"({frame:.2f} ms) belongs to two clocks that run free of each other; a step half way up is a jump. "
        "Readings far from the fit are left out.",
        (
            Panel(
                Axis("lag, ms", low - room, high + room),
                Axis("readings at or below, %", 0, 100, grid=True),
                tuple(series),
            ),
        ),
        size=(900, 400) if alone else (620, 420),
        legend=min(4, len(series)) if len(devices) > 1 else 0,
    )


def folded_plot(devices: tuple[Device, ...]) -> Plot | None:
    """Return the readings of those that wrapped, laid over one wrap; None where none did."""
    shown = [
        each
        for each in devices
        if each.study.wraps_seen and each.study.seconds > 1.5 * (each.study.wrap_s or 0)
    ]
    if not shown:
        return None
    panels = []
    for device in shown[:MOST_PANELS]:
        study = device.study
        chosen = _spread_out(np.flatnonzero(~device.astray))
        at = _place(device, study.times[chosen])
        title = f"{device.label}, ms" if len(devices) > 1 else "lag, ms"
        dots = _dots(at, study.lags[chosen], "")
        panels.append(Panel(Axis("place in one wrap", 0, 1), Axis(title, grid=True), (dots,)))
    return Plot(
        "folded",
        "All wraps laid over each other",
        "The readings of every wrap at their place in one: the thinner the band, the better the drift is "
        "known.",
        tuple(panels),
        size=(620, 90 + (330 if len(panels) == 1 else 180 * len(panels))),
    )


def _place(device: Device, times: NDArray) -> NDArray:
    """Return where in a wrap times lie, 0 just after the last one and 1 just before the next."""
    study = device.study
    chosen, turn = study.found.chosen, study.found.turn
    assert chosen is not None and turn is not None
    ahead = turn.at_start + turn.drift * times - chosen.values["place"]
    return np.asarray(np.sign(turn.drift) * ahead % study.frame_ms / study.frame_ms)


def _dots(x: NDArray, y: NDArray, label: str) -> Series:
    alpha = 0.9 if len(x) < 300 else 0.5
    size = 4.0 if len(x) < 300 else 2.5
    return Series(tuple(map(float, x)), tuple(map(float, y)), label=label, role=0, alpha=alpha, size=size)


def _spread_out(places: NDArray) -> NDArray:
    """Return at most `MOST_POINTS` of some places, evenly taken."""
    if len(places) <= MOST_POINTS:
        return places
    return np.asarray(places[np.linspace(0, len(places) - 1, MOST_POINTS).astype(np.int64)])
