"""Lag: what a log of readings tells: how much, whether it drifts, when it wraps."""

from dataclasses import dataclass
from typing import ClassVar

from scalesim.job import Input, Job
from scalesim.schema import param


@dataclass(frozen=True, kw_only=True)
class Keys:
    """What it takes besides the logs."""

    kind: ClassVar[str] = "lag"
    rate: str | None = param(
        None,
        type="text",
        unit="Hz",
        doc="Rate of the display: a number (59.94 stands for 60000/1001), or a mode such as 720p59.94. "
        "Left out, 59.94 unless the log itself shows frames of 50 Hz.",
    )
    interval: float | None = param(
        None, unit="s", above=0, at_most=86_400, doc="Time between readings, where a log has lag alone."
    )
    direct: float | None = param(
        None,
        unit="ms",
        at_least=-1000,
        at_most=1000,
        doc="What the same set-up reads without the boxes; it is taken off.",
    )
    columns: str = param(
        "source=2,tube=3",
        type="text",
        unit="role=n,...",
        doc="Of the scope's file: what columns hold, from 1, time included, or names of channels",
    )
    height: str = param(
        "middle",
        type="text",
        unit="place",
        doc="Of the scope's probe in the picture: top, middle, bottom, or 0 (top) to 1 (bottom)",
    )
    total: bool = param(
        False, type="switch", doc="The devices are boxes of one chain: tell what their lag adds up to."
    )


JOB = Job(
    name="lag",
    step=70,
    about="""Tell range, drift and wrap of lag from bench LOGS, or from an oscilloscope's record.

Example: scalesim lag log.csv --rate 59.94

LOGS are CSV: time and lag, or lag alone with --interval; a column of top, middle, bottom and one of
devices or runs are understood, separators and units guessed and told. With --scope scope.csv the source's
flash is paired with a photodiode on the tube. Writes plots, every reading as CSV, and result.json. kind is
constant, jitter (narrower than a frame), uniform (within one frame), two-level, drift, drift+jitter or
unknown. drift_us_per_s is how fast lag rises, wrap_s in what time by one frame. Readings at a regular
interval cannot tell drifts apart that differ by frame/interval: aliases_us_per_s are the others.
confidence is the chance
that the kind is right, calibrated on synthetic logs. Lag is that of the middle of the picture, where a
straight-through tube reads 0.

A flashing test picture can trigger seizures: flash at most three times a second.""",
    function="scalesim.jobs.lag.lag:lag",
    inputs=(
        Input("logs", "logs", "readings of lag, as CSV", required=False),
        Input("scope", "traces", "An oscilloscope's record of source and photodiode.", True, False),
    ),
    keys=Keys,
)
