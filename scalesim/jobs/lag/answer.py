"""The answer of lag logs, as a `Result`."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from scalesim.core.spans import span
from scalesim.jobs.lag import figures as plots
from scalesim.jobs.lag import tables
from scalesim.jobs.lag.device import Device as Device
from scalesim.jobs.lag.document import document
from scalesim.jobs.lag.numbers import ms
from scalesim.jobs.lag.totals import Total, total_of
from scalesim.jobs.lag.words import CAUTIONS, sentences
from scalesim.plot import Plot
from scalesim.result import FOOT, File, Part, Result, Table
from scalesim.texts import capital


@dataclass(frozen=True, eq=False)
class Lagged(Result):
    """What logs of lag tell; a `Result`.

    Parameters:
        name : of the log; devices : at least one
        given : the rate was given; direct_ms : what was taken off, None for nothing
        total : the devices are boxes of one chain; notes : how the logs were read
    """

    name: str
    devices: tuple[Device, ...]
    given: bool
    direct_ms: float | None
    total: bool
    notes: tuple[str, ...]

    kind = "lag"

    @property
    def title(self) -> str:
        """The finding of the only device, or how many there are."""
        if len(self.devices) > 1:
            return f"Lag of {len(self.devices)} devices"
        study = self.devices[0].study
        found = study.found.kind
        if study.drifts:
            drift, wrap = abs(study.drift_us_per_s or 0), span(study.wrap_s or 0)
            return f"Lag drifts by {drift:.3g} µs/s, a frame in {wrap}"
        middle = ms(study.quantiles[2])
        return {
            "constant": f"Lag is constant, {middle} ms",
            "jitter": f"Lag varies by less than a frame about {middle} ms",
            "uniform": f"Lag lies anywhere in one frame about {middle} ms",
            "two-level": "Lag jumps between two levels",
        }.get(found, f"Lag of {middle} ms: what kind it is cannot be told")

    @cached_property
    def chain(self) -> Total | None:
        """What the devices add up to, None when it was not asked for."""
        return total_of(self.devices) if self.total else None

    @property
    def foot(self) -> tuple[str, ...]:
        """Cautions."""
        return (*CAUTIONS, *FOOT)

    def sentences(self) -> list[str]:
        """Return what was found, device by device."""
        said = sentences(self.devices)
        return [*said, capital(self.chain.said())] if self.chain is not None else said

    def table(self) -> Table:
        """Return the main figures."""
        return tables.main_table(self.devices)

    def remarks(self) -> list[str]:
        """Return how the logs were read."""
        if self.given:
            return list(self.notes)
        rate = self.devices[0].rate
        how = (
            "as the log itself shows"
            if any(d.measured for d in self.devices)
            else "as most do; --rate says otherwise"
        )
        return [*self.notes, f"Frames of {float(rate):.2f} Hz are taken, {how}"]

    def figures(self) -> tuple[Plot, ...]:
        """Return the plots."""
        folded = plots.folded_plot(self.devices)
        return (
            plots.time_plot(self.devices),
            plots.share_plot(self.devices, alone=folded is None),
            *((folded,) if folded else ()),
        )

    def parts(self) -> Iterator[Part]:
        """Yield what the page shows."""
        first, *others = self.figures()
        yield Part("Lag over time", items=(self.table(), first))
        if self.chain is not None:
            yield Part("The whole chain", self.chain.explained(), (self.chain.table(),))
        heights = tables.height_table(self.devices)
        yield Part("Spread", items=(*others, *((heights,) if heights else ())))
        notes = tuple(f"{note}." for note in self.remarks())
        yield Part("How it was logged", notes, (tables.how_table(self.devices),), quiet_text=True)

    def files(self) -> dict[str, File]:
        """Return every reading as CSV."""
        return {"readings": File("readings.csv", tables.readings_csv(self.devices))}

    def to_dict(self) -> dict[str, Any]:
        """Return the document's keys."""
        return document(self.devices, given=self.given, direct=self.direct_ms, total=self.chain)
