"""The tables of an answer, and its readings as CSV."""

from __future__ import annotations

import numpy as np

from scalesim.core.spans import hz, span
from scalesim.jobs.lag.device import Device
from scalesim.jobs.lag.numbers import drift, ms, percent, two_digits
from scalesim.result import Cell, Table

MOST_ROWS = 200_000
_HEIGHTS = {0.0: "top", 0.5: "middle", 1.0: "bottom"}


def main_table(devices: tuple[Device, ...]) -> Table:
    """Return one row for each device."""
    columns = (
        "device",
        "readings",
        "least ms",
        "5 % ms",
        "median ms",
        "95 % ms",
        "most ms",
        "median frames",
        "kind",
        "drift",
        "wraps in",
        "confidence",
    )
    return Table("Lag", columns, tuple(_row(each) for each in devices), _ALIGN, head=0)


_ALIGN = ("left", *["right"] * 7, "left", "right", "right", "right")


def _row(device: Device) -> tuple[str | Cell, ...]:
    study = device.study
    told = study.drift_us_per_s
    most = study.drift_at_most_us_per_s
    said = "–" if most is None else f"below {two_digits(most)} µs/s"
    if told is not None:
        said = drift(told, study.drift_error_us_per_s)
    wrap = "–" if study.wrap_s is None else span(study.wrap_s)
    sure = percent(study.found.confidence) if study.found.kind != "unknown" else "–"
    return (
        device.label,
        str(study.count),
        *(ms(value) for value in study.quantiles),
        f"{study.quantiles[2] / study.frame_ms:.2f}",
        device.name,
        said,
        wrap,
        sure,
    )


def height_table(devices: tuple[Device, ...]) -> Table | None:
    """Return what was read at each height of the picture, None where no log tells heights."""
    rows = [
        (device.label, _HEIGHTS.get(height, f"{100 * height:.0f} % down"), str(count), ms(median))
        for device in devices
        for height, (count, median) in sorted(device.heights.items())
    ]
    if not rows:
        return None
    columns = ("device", "height", "readings", "median as read, ms")
    return Table("By height in the picture", columns, tuple(rows), ("left", "left", "right", "right"), head=0)


def how_table(devices: tuple[Device, ...]) -> Table:
    """Return how every device was read."""
    rows = []
    for device in devices:
        study = device.study
        every = "irregular" if study.interval_s is None else f"every {study.interval_s:.4g} s"
        astray = int(device.astray.sum())
        rows.append(
            (
                device.label,
                span(study.seconds),
                every,
                f"{study.step_ms:g} ms",
                str(study.left_out),
                str(astray),
                hz(device.rate),
            )
        )
    columns = ("device", "logged", "readings", "step", "without a value", "astray", "frames of")
    align = ("left", "right", "left", "right", "right", "right", "right")
    return Table("How it was logged", columns, tuple(rows), align, head=0)


def readings_csv(devices: tuple[Device, ...]) -> str:
    """Return every reading with what was fitted; of very long logs every so many-th."""
    total = sum(each.study.count for each in devices)
    every = -(-total // MOST_ROWS)
    lines = ["device,time_s,lag_ms,fit_ms,astray"]
    for device in devices:
        study = device.study
        fit = study.fit(study.times)
        astray = device.astray
        name = device.label.replace('"', "'")
        name = f'"{name}"' if "," in name or "'" in name else name
        for k in range(0, study.count, max(every, 1)):
            fitted = "" if fit is None or not np.isfinite(fit[k]) else f"{fit[k]:.4f}"
            lines.append(f"{name},{study.times[k]:.6g},{study.lags[k]:.6g},{fitted},{int(astray[k])}")
    return "\n".join(lines) + "\n"
