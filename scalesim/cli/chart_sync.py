"""What `scalesim chart sync` takes besides a mode: the signal, and what goes wrong with it on a bench."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import rich_click as click

if TYPE_CHECKING:
    from scalesim.jobs.chart.waveform import WaveformMade

SECONDS = 0.06
_BENCH = ("gain", "load", "coupling_ms", "hum_mv", "noise_mv", "bits")


def sync_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options of the sync chart."""
    positive = click.FloatRange(0, 10_000)
    for option in reversed(
        (
            click.option(
                "--signal", type=click.Choice(["video", "csync"]), help="Of sync: video with sync, or sync."
            ),
            click.option("--mhz", type=click.FloatRange(0.1, 500), help="Of sync: MS/s (default 5)."),
            click.option(
                "--vertical",
                type=click.Choice(["standard", "serrated", "line-rate", "block"]),
                help="Of sync: by the standard, without equalising pulses, cut once a line, one block.",
            ),
            click.option("--gain", type=click.FloatRange(0.01, 20), help="Of sync: level, 1 is right."),
            click.option("--load", type=click.Choice(["75", "open"]), help="Of sync: open is unterminated."),
            click.option(
                "--coupling", "coupling_ms", type=positive, help="Of sync: capacitor, ms (default none)."
            ),
            click.option("--hum", "hum_mv", type=positive, help="Of sync: mains hum, mV peak to peak."),
            click.option("--noise", "noise_mv", type=positive, help="Of sync: noise, mV rms."),
            click.option("--bits", type=click.IntRange(1, 16), help="Of sync: bits of the oscilloscope."),
        )
    ):
        command = option(command)
    return command


def make(mode: str, seconds: float | None, given: Mapping[str, Any]) -> WaveformMade:
    """Return the sync chart; `given` holds the options above, None where not given."""
    from scalesim.charts.sync import Bench, sync_chart
    from scalesim.jobs.chart.waveform import WaveformMade

    said = {name: value for name, value in given.items() if value is not None}
    bench = Bench(**{name: said.pop(name) for name in _BENCH if name in said})
    return WaveformMade(
        sync_chart(mode, seconds=SECONDS if seconds is None else seconds, bench=bench, **said)
    )


def refuse(name: str, given: Mapping[str, Any]) -> None:
    """Raise ParameterError when options of the sync chart are given to another."""
    from scalesim.errors import ParameterError

    wrong = [key.split("_")[0] for key, value in given.items() if value is not None]
    if wrong:
        raise ParameterError(f"chart: --{wrong[0]} is of the sync chart, not of {name}")
