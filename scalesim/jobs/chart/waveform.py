"""The sync chart as an answer: the waveform as an oscilloscope would export it, and its truth."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import numpy as np

from scalesim.charts.sync import SyncChart
from scalesim.core.mode import mode_named
from scalesim.plot import Axis, Panel, Plot, Series
from scalesim.result import File, Result, Table

_BEFORE, _AFTER = 4.0, 12.0
"""Lines of the plot, before and after vertical sync begins."""


@dataclass(frozen=True, eq=False)
class WaveformMade(Result):
    """A waveform and its truth; a `Result`."""

    chart: SyncChart

    kind = "chart"

    @property
    def title(self) -> str:
        """What it is called."""
        return f"Sync of {self.chart.mode}, as an oscilloscope records it"

    def sentences(self) -> list[str]:
        """Return what it is, and what to do with it."""
        chart = self.chart
        lines = ", ".join(f"{each:g}" for each in chart.fields)
        return [
            f"{self.title}: {chart.trace.seconds * 1000:g} ms at {1e-6 / chart.trace.interval_s:g} MS/s, "
            f"fields of {lines} lines in turn, sync {chart.sync_mv:.0f} mV, white {chart.picture_mv:.0f} mV.",
            "scalesim trace sync.csv reads it, as it reads the CSV of a real oscilloscope.",
        ]

    def table(self) -> Table:
        """Return what the waveform is made of."""
        standard = self.chart.standard
        rows = (
            ("line", f"{self._line_us:.4f}"),
            ("line sync", f"{standard.sync.us:.2f}"),
            ("equalising pulse", f"{standard.equalising.us:.2f}"),
            ("serration", f"{standard.serration.us:.2f}"),
            ("edge, 10 to 90 %", f"{standard.edge_us:.2f}"),
        )
        return Table("Widths", ("what", "µs"), rows, ("left", "right"))

    def figures(self) -> tuple[Plot, ...]:
        """Return the first vertical sync."""
        chart = self.chart
        (volts,) = chart.trace.channels.values()
        lines = np.arange(len(volts)) * chart.trace.interval_s * 1e6 / self._line_us
        lines -= chart.vertical_lines
        shown = (lines > -_BEFORE) & (lines < _AFTER)
        if not shown.any():
            return ()
        wave = Series(
            tuple(np.round(lines[shown], 4).tolist()),
            tuple(np.round(1000 * volts[shown], 1).tolist()),
            style="line",
            size=1.0,
        )
        panel = Panel(
            Axis("lines after vertical sync begins", -_BEFORE, _AFTER, grid=True), Axis("mV"), (wave,)
        )
        return (
            Plot("vertical", "Vertical sync", "The first vertical sync of the record.", (panel,), wide=True),
        )

    @property
    def _line_us(self) -> float:
        return 1e6 / float(mode_named(self.chart.mode).line_rate)

    def files(self) -> dict[str, File]:
        """Return the record as CSV, and what is in it as JSON."""
        return {"csv": File("sync.csv", csv_text(self.chart)), "truth": File("truth.json", self._truth())}

    def _truth(self) -> str:
        return json.dumps(self.to_dict(), indent=2, allow_nan=False) + "\n"

    def to_dict(self) -> dict[str, Any]:
        """Return the result's keys."""
        chart = self.chart
        return {
            "chart": "sync",
            "mode": chart.mode,
            "samples_per_second": 1 / chart.trace.interval_s,
            "seconds": chart.trace.seconds,
            "lines_per_field": list(chart.fields),
            "line_us": self._line_us,
            "sync_us": chart.standard.sync.us,
            "vertical": chart.vertical,
            "sync_mv": chart.sync_mv,
            "picture_mv": chart.picture_mv,
        }


def csv_text(chart: SyncChart) -> str:
    """Return a record as oscilloscopes export it: seconds and volts."""
    (name, volts), *_ = chart.trace.channels.items()
    step = chart.trace.interval_s
    digits = max(7, 2 - int(np.floor(np.log10(step))))
    rows = [f"{k * step:.{digits}f},{value:.4f}" for k, value in enumerate(volts.tolist())]
    return "\n".join([f"Time (s),{name} (V)", *rows]) + "\n"
